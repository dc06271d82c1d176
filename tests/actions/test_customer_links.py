"""Links to customers' pages: made, changed, revoked, made anew, read; and what is stored of their tokens."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.test import override_settings

from jobs.actions import Actor, Refused
from jobs.actions.base import SYSTEM
from jobs.actions.customer_links import (
    Shared,
    change_link,
    make_link,
    note_read,
    renew_link,
    revoke_link,
    usual_last_day,
)
from jobs.models import Account, CustomerLink, Event, Job, PlanState, Promise
from jobs.models.customer_links import digest_of, token_of
from tests import cast, customers

NOW = cast.at(2, "10:00")
SHARED = Shared(date(2026, 6, 1))


@pytest.fixture
def job(shop: None) -> Job:
    return customers.make_commission()


@pytest.fixture
def by(office: Account) -> Actor:
    return Actor(account=office)


def found(link: CustomerLink, day: date = date(2026, 3, 2)) -> CustomerLink | None:
    return CustomerLink.objects.opened_by(link.token, day)


def test_makes_a_link_that_opens_its_job(job: Job, by: Actor) -> None:
    before = PlanState.current().revision
    link = make_link(job, SHARED, by=by, at=NOW)
    assert found(link) == link
    assert not link.shows_prices
    event = Event.objects.get(subject="customerlink")
    assert (event.verb, event.job, event.after["last_day"]) == ("made", job, "2026-06-01")
    # The planner reads none of it.
    assert PlanState.current().revision == before


def test_a_token_is_long_and_nowhere_stored(job: Job, by: Actor) -> None:
    link = make_link(job, SHARED, by=by, at=NOW)
    # 32 letters of 64: 192 bits, where 128 are asked for.
    assert len(link.token) == 32
    row = CustomerLink.objects.filter(pk=link.pk).values().get()
    assert link.token not in map(str, row.values())
    assert link.token not in str(list(Event.objects.values()))
    assert row["digest"] == digest_of(link.token)


def test_without_the_secret_key_the_rows_do_not_give_the_token(job: Job, by: Actor) -> None:
    link = make_link(job, SHARED, by=by, at=NOW)
    token = link.token
    with override_settings(SECRET_KEY="of another installation"):
        assert token_of(link.seed) != token
        assert link.token == ""
        # Whoever has the address still gets in.
        assert CustomerLink.objects.opened_by(token, NOW.date()) == link


def test_no_two_tokens_are_alike(job: Job, by: Actor) -> None:
    tokens = {make_link(job, SHARED, by=by, at=NOW).token}
    tokens |= {renew_link(job, by=by, at=NOW).token for _ in range(20)}
    assert len(tokens) == 21


def test_a_second_link_is_refused(job: Job, by: Actor) -> None:
    make_link(job, SHARED, by=by, at=NOW)
    with pytest.raises(Refused, match="There is a link already"):
        make_link(job, SHARED, by=by, at=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        CustomerLink.objects.create(
            job=job, digest="1" * 64, made_at=NOW, made_by=by.account, last_day=SHARED.last_day
        )


@pytest.mark.parametrize(
    ("day", "sentence"),
    [(date(2026, 3, 1), "That day is over."), (date(2028, 3, 5), "A link opens for two years at most.")],
)
def test_days_that_are_refused(job: Job, by: Actor, day: date, sentence: str) -> None:
    with pytest.raises(Refused) as refused:
        make_link(job, Shared(day), by=by, at=NOW)
    assert (refused.value.sentence, refused.value.field) == (sentence, "last_day")
    make_link(job, SHARED, by=by, at=NOW)
    with pytest.raises(Refused, match=sentence):
        change_link(job, Shared(day), by=by, at=NOW)


def test_opens_to_the_end_of_its_last_day(job: Job, by: Actor) -> None:
    link = make_link(job, Shared(date(2026, 3, 2)), by=by, at=NOW)
    assert found(link) == link
    assert found(link, date(2026, 3, 3)) is None


def test_changes_what_it_shows_and_keeps_its_address(job: Job, by: Actor) -> None:
    token = make_link(job, SHARED, by=by, at=NOW).token
    link = change_link(job, Shared(date(2026, 7, 1), shows_prices=True), by=by, at=NOW)
    assert link.token == token
    assert CustomerLink.objects.get().shows_prices
    event = Event.objects.first()
    assert event is not None
    assert event.after == {"last_day": "2026-07-01", "shows_prices": True}
    change_link(job, Shared(date(2026, 7, 1), shows_prices=True), by=by, at=NOW)
    assert Event.objects.count() == 2


def test_one_that_has_expired_opens_again_with_another_day(job: Job, by: Actor) -> None:
    link = make_link(job, Shared(date(2026, 3, 2)), by=by, at=NOW)
    later = cast.at(9)
    change_link(job, Shared(date(2026, 4, 1)), by=by, at=later)
    assert found(link, later.date()) == link


def test_revoked_it_never_opens_again(job: Job, by: Actor) -> None:
    link = make_link(job, SHARED, by=by, at=NOW)
    revoke_link(job, by=by, at=NOW)
    assert found(link) is None
    assert CustomerLink.objects.get().revoked_by == by.account
    for again in (revoke_link, renew_link):
        with pytest.raises(Refused, match="There is no link to this job's page"):
            again(job, by=by, at=NOW)
    with pytest.raises(Refused, match="There is no link"):
        change_link(job, SHARED, by=by, at=NOW)
    assert make_link(job, SHARED, by=by, at=NOW).token != link.token


def test_made_anew_it_shows_the_same_at_another_address(job: Job, by: Actor) -> None:
    old = make_link(job, Shared(date(2026, 6, 1), shows_prices=True), by=by, at=NOW)
    new = renew_link(job, by=by, at=NOW)
    assert (new.shows_prices, new.last_day) == (True, date(2026, 6, 1))
    assert found(new) == new
    assert found(old) is None


def test_an_expired_one_made_anew_gets_a_usual_day(job: Job, by: Actor) -> None:
    make_link(job, Shared(date(2026, 3, 2), shows_prices=True), by=by, at=NOW)
    new = renew_link(job, by=by, at=cast.at(9))
    assert (new.shows_prices, new.last_day) == (True, date(2026, 3, 9) + timedelta(days=180))


def test_the_usual_day_lies_behind_the_promised_one(job: Job, by: Actor) -> None:
    assert usual_last_day(job, at=NOW) == date(2026, 3, 2) + timedelta(days=180)
    Promise.objects.create(job=job, day=date(2026, 9, 1), given_at=NOW, given_by=by.account, told="Vicar")
    assert usual_last_day(job, at=NOW) == date(2026, 9, 1) + timedelta(days=90)


@pytest.mark.parametrize("action", [revoke_link, renew_link])
def test_only_the_office_has_to_do_with_links(
    job: Job, by: Actor, lead: Account, tablet: Account, action: object
) -> None:
    make_link(job, SHARED, by=by, at=NOW)
    for nobody in (SYSTEM, Actor(account=tablet)):
        with pytest.raises(Refused, match="Only the office gives links"):
            action(job, by=nobody, at=NOW)  # type: ignore[operator]
        with pytest.raises(Refused, match="Only the office gives links"):
            make_link(job, SHARED, by=nobody, at=NOW)
        with pytest.raises(Refused, match="Only the office gives links"):
            change_link(job, SHARED, by=nobody, at=NOW)
    assert action(job, by=Actor(account=lead), at=NOW)  # type: ignore[operator]


def test_reading_is_counted_but_not_by_the_studio(job: Job, by: Actor) -> None:
    link = make_link(job, SHARED, by=by, at=NOW)
    events = Event.objects.count()
    note_read(link, by=SYSTEM, at=cast.at(3, "07:00"))
    note_read(link, by=by, at=cast.at(3, "08:00"))
    note_read(link, by=SYSTEM, at=cast.at(4, "09:00"))
    link.refresh_from_db()
    assert (link.times_read, link.first_read_at, link.last_read_at) == (
        2,
        cast.at(3, "07:00"),
        cast.at(4, "09:00"),
    )
    assert Event.objects.count() == events
