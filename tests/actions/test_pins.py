"""PINs: hashed, and few can be tried at one tablet, of one person, and within one day."""

from datetime import timedelta

import pytest

from jobs.actions import Actor, Refused, people
from jobs.actions.pins import TRIES, TRIES_A_DAY, TRIES_AT_TABLET, check_pin
from jobs.models import Account, Event, Person, Role, Studio
from tests import cast

NOW = cast.at(2)


@pytest.fixture
def by(tablet: Account) -> Actor:
    return Actor(account=tablet)


@pytest.fixture
def mara(lead: Account) -> Person:
    Studio.objects.update(asks_pin=True)
    return people.set_pin(cast.person("Mara"), "4711", by=Actor(account=lead), at=NOW)


def wrong(person: Person, by: Actor, times: int, at=NOW) -> None:
    for _ in range(times):
        with pytest.raises(Refused, match="not the PIN"):
            check_pin(person, "0000", by=by, at=at)


def test_only_its_hash_is_kept(mara: Person) -> None:
    assert "4711" not in mara.pin
    assert "4711" not in str(list(Event.objects.values("before", "after")))


def test_too_many_at_one_tablet_do_not_close_another(mara: Person, by: Actor) -> None:
    wrong(mara, by, TRIES)
    with pytest.raises(Refused, match="Too many wrong PINs for Mara"):
        check_pin(mara, "4711", by=by, at=NOW)
    check_pin(mara, "4711", by=Actor(account=cast.make_account("cut-tablet", Role.BENCH)), at=NOW)
    check_pin(mara, "4711", by=by, at=NOW + timedelta(minutes=10))
    assert Event.objects.filter(verb="mistyped the PIN", account=by.account).count() == TRIES


def test_a_tablet_does_not_try_one_person_after_the_other(mara: Person, by: Actor, lead: Account) -> None:
    others = [Person.objects.create(name=f"Hand {number}", pin=mara.pin) for number in range(3)]
    for person in others:
        wrong(person, by, TRIES_AT_TABLET // 3)
    with pytest.raises(Refused, match="Too many wrong PINs"):
        check_pin(mara, "4711", by=by, at=NOW)


def test_a_right_pin_is_held_against_nobody(mara: Person, by: Actor) -> None:
    for _ in range(TRIES_A_DAY + 5):
        check_pin(mara, "4711", by=by, at=NOW)


def test_a_day_of_wrong_ones_closes_the_pin_everywhere(mara: Person, by: Actor) -> None:
    for number in range(TRIES_A_DAY // TRIES):
        wrong(mara, by, TRIES, at=NOW + timedelta(minutes=10 * number))
    later = NOW + timedelta(hours=5)
    with pytest.raises(Refused, match="The lead can give a new one"):
        check_pin(mara, "4711", by=Actor(account=cast.make_account("cut-tablet", Role.BENCH)), at=later)


def test_the_lead_gives_a_new_one(mara: Person, by: Actor, lead: Account) -> None:
    people.set_pin(mara, "1174", by=Actor(account=lead), at=NOW)
    with pytest.raises(Refused, match="not the PIN"):
        check_pin(Person.objects.get(pk=mara.pk), "4711", by=by, at=NOW)
