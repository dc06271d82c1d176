"""Accounts: made, changed and ended, never without a lead. The studio's own settings as well."""

from decimal import Decimal

import pytest

from jobs.actions import Actor, Refused, accounts, studios
from jobs.models import Account, Event, PlanState, Role, Station, Studio
from tests import cast

NOW = cast.at(2)
GOOD = "cobalt and amber"


@pytest.fixture
def by(lead: Account) -> Actor:
    return Actor(account=lead)


@pytest.mark.parametrize("role", Role)
def test_only_a_lead_gets_to_the_admin_and_only_a_bench_has_a_station(by: Actor, role: Role) -> None:
    values = {"username": "new", "role": role, "station": Station.objects.get(name="Cutting")}
    account = accounts.make_account(values, GOOD, by=by, at=NOW)
    account.refresh_from_db()
    assert account.is_staff == (role == Role.LEAD)
    assert not account.is_superuser
    assert (account.station is not None) == (role == Role.BENCH)
    assert account.check_password(GOOD)
    assert GOOD not in str(Event.objects.get().after)


@pytest.mark.parametrize(
    ("name", "password", "field", "sentence"),
    [
        ("LEAD", GOOD, "username", "an account “LEAD” already"),
        (" ", GOOD, "username", "needs a name"),
        ("new", "short", "password", "at least 12 characters"),
        ("new", "1qaz2wsx3edc", "password", "common"),
        ("bevelingtablet", "bevelingtablet", "password", "similar"),
    ],
)
def test_a_bad_account_is_refused(by: Actor, name: str, password: str, field: str, sentence: str) -> None:
    with pytest.raises(Refused, match=sentence) as refused:
        accounts.make_account({"username": name, "role": Role.BENCH}, password, by=by, at=NOW)
    assert refused.value.field == field
    assert Account.objects.count() == 1


def test_a_change_of_role_changes_the_way_to_the_admin(by: Actor, office: Account) -> None:
    assert accounts.change_account(office, {"role": Role.LEAD}, by=by, at=NOW).is_staff
    assert not accounts.change_account(office, {"role": Role.OFFICE}, by=by, at=NOW).is_staff
    assert Event.objects.first().before == {"role": "lead"}


def test_nothing_changed_is_not_written(by: Actor, office: Account) -> None:
    accounts.change_account(office, {"username": "office"}, by=by, at=NOW)
    assert not Event.objects.exists()


def test_a_name_cannot_become_another_accounts(by: Actor, office: Account) -> None:
    with pytest.raises(Refused, match="already"):
        accounts.change_account(office, {"username": "Lead"}, by=by, at=NOW)


def test_the_last_lead_is_neither_ended_nor_made_less(by: Actor, lead: Account, office: Account) -> None:
    with pytest.raises(Refused, match="last account of a lead"):
        accounts.end_account(lead, by=by, at=NOW)
    with pytest.raises(Refused, match="last account of a lead"):
        accounts.change_account(lead, {"role": Role.OFFICE}, by=by, at=NOW)
    accounts.change_account(office, {"role": Role.LEAD}, by=by, at=NOW)
    assert not accounts.end_account(lead, by=by, at=NOW).is_active
    with pytest.raises(Refused, match="last account of a lead"):
        accounts.end_account(office, by=by, at=NOW)


def test_an_account_ends_and_opens_once(by: Actor, office: Account) -> None:
    accounts.end_account(office, by=by, at=NOW)
    with pytest.raises(Refused, match="has ended already"):
        accounts.end_account(office, by=by, at=NOW)
    assert accounts.reopen_account(office, by=by, at=NOW).is_active
    with pytest.raises(Refused, match="open already"):
        accounts.reopen_account(office, by=by, at=NOW)


def test_a_new_password_counts_and_is_nowhere_written(by: Actor, office: Account) -> None:
    assert accounts.set_password(office, GOOD, by=by, at=NOW).check_password(GOOD)
    assert (Event.objects.get().verb, Event.objects.get().after) == ("set password of", {})
    with pytest.raises(Refused, match="at least 12"):
        accounts.set_password(office, "short", by=by, at=NOW)


def test_the_studio_changes_and_the_dates_with_it(by: Actor) -> None:
    before = PlanState.current().revision
    values = {"time_zone": "America/Chicago", "country": "DE", "region": "BY", "confidence": Decimal("0.9")}
    studio = studios.change_studio(values, by=by, at=NOW)
    assert (studio.time_zone, studio.country, studio.region) == ("America/Chicago", "DE", "BY")
    assert Event.objects.get().before["time_zone"] == "Europe/Vienna"
    assert PlanState.current().revision == before + 1
    studios.change_studio(values, by=by, at=NOW)
    assert Event.objects.count() == 1


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"name": "  "}, "name"),
        ({"time_zone": "Mars/Olympus"}, "time_zone"),
        ({"time_zone": "../etc/passwd"}, "time_zone"),
        ({"currency": "euro"}, "currency"),
        ({"country": "ZZ"}, "country"),
        ({"country": "AT", "region": "BY"}, "region"),
        ({"region": "BY"}, "country"),
        ({"country": "VA", "region": "1"}, "region"),
        ({"confidence": Decimal("0.49")}, "confidence"),
        ({"confidence": Decimal("1")}, "confidence"),
        ({"labor_rate": Decimal("-1")}, "labor_rate"),
    ],
)
def test_what_a_studio_cannot_be_is_refused(by: Actor, values: dict[str, object], field: str) -> None:
    with pytest.raises(Refused) as refused:
        studios.change_studio(values, by=by, at=NOW)
    assert refused.value.field == field
    assert Studio.current().time_zone == "Europe/Vienna"
    assert not Event.objects.exists()
