"""The page of a better order."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from jobs.models import Job, Operation, Person, PlanState
from jobs.views import date_better
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
NOW = datetime(2026, 3, 2, 8, tzinfo=ZoneInfo("Europe/Vienna"))
URL = "/dates/better-order/"


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 100})
    real = date_better.look_for_order
    monkeypatch.setattr(date_better, "look_for_order", lambda at: real(at=at, tries=10))


@pytest.fixture
def short_one() -> Job:
    """A short job that a long one before it makes late."""
    Person.objects.filter(name="Ilse Roth").update(active=False)
    long_one = cast.make_job("0412", "Long frieze", wanted_by=date(2026, 3, 5))
    for number in range(1, 8):
        cast.make_panel(long_one, number=number, kinds=("Beveling",))
    short_one = cast.make_job("0413", "Small pane", wanted_by=date(2026, 3, 6))
    cast.make_panel(short_one, kinds=("Beveling",))
    return short_one


def test_it_looks_only_when_asked(lead_client: Client, short_one: Job) -> None:
    html = lead_client.get(URL).content.decode()
    assert "Look for a better order" in html
    assert "late days to be expected" not in html


def test_an_offer_names_who_gains_and_who_loses(lead_client: Client, short_one: Job) -> None:
    html = lead_client.get(URL, {"look": 1}).content.decode()
    assert "late days to be expected" in html
    assert html.index("These become later") < html.index("Long frieze")
    assert html.index("These become earlier") < html.index("Small pane")


def test_nothing_better(lead_client: Client) -> None:
    assert "No better order was found" in lead_client.get(URL, {"look": 1}).content.decode()


def test_accepted_with_one_click_and_taken_back_with_one(lead_client: Client, short_one: Job) -> None:
    order = f"{short_one.pk},{Job.objects.get(number='0412').pk}"
    response = lead_client.post(URL, {"order": order}, follow=True)
    assert "The better order is in force for 8 pieces of work." in response.content.decode()
    assert "A better order is in force since" in response.content.decode()
    assert "Take it back" in lead_client.get(URL).content.decode()
    again = lead_client.post(URL, {"order": order})
    assert again.status_code == 422
    assert "in force already" in again.content.decode()
    lead_client.post(URL, {"take_back": 1})
    assert not Operation.objects.filter(pinned_place__isnull=False).exists()


@pytest.mark.parametrize("order", ["", "x", "1,,2", "1,-2", "9" * 30, "1," * 20_000])
def test_bad_input(lead_client: Client, short_one: Job, order: str) -> None:
    response = lead_client.post(URL, {"order": order})
    assert response.status_code == 422
    assert not Operation.objects.filter(pinned_place__isnull=False).exists()


def test_who_and_how(
    office_client: Client, tablet_client: Client, client: Client, lead_client: Client
) -> None:
    assert office_client.get(URL).status_code == 403
    assert tablet_client.get(URL).status_code == 403
    assert client.get(URL).status_code == 302
    assert lead_client.put(URL).status_code == 405
