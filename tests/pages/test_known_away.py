"""The floor tells who is away today, and that the studio is closed, as it was entered in set-up."""

from datetime import date, datetime

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import ChangeKind, ClosedDay, DayChange, DayOff, Person
from tests import cast
from tests.pages.plans import settle
from tests.pages.test_floor import words

pytestmark = pytest.mark.usefixtures("shop")
NOW = datetime(2026, 3, 3, 10, tzinfo=cast.ZONE)
TODAY = NOW.date()


@pytest.fixture(autouse=True)
def tuesday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    settle(NOW)


def off(first: int, last: int, reason: str = "") -> DayOff:
    person = cast.person("Mara")
    return DayOff.objects.create(
        person=person, first=date(2026, 3, first), last=date(2026, 3, last), reason=reason
    )


def floor(client: Client) -> str:
    # These rows are written by hand, without the events by which the page knows that something has changed.
    cache.clear()
    return client.get("/").content.decode()


def test_days_off_of_today(lead_client: Client) -> None:
    mara = off(2, 6, "fair").person
    html = floor(lead_client)
    assert "Out of the ordinary" in html
    assert f"{mara} is away until Fri 6 Mar (fair)" in words(html)
    assert reverse("set-up-person", args=[mara.pk]) in html


def test_of_days_off_that_overlap_the_longest_is_told(lead_client: Client) -> None:
    off(2, 6, "fair")
    mara = off(3, 4, "course").person
    text = words(floor(lead_client))
    assert text.count("is away") == 1
    assert f"{mara} is away until Fri 6 Mar (fair)" in text


def test_the_last_day_off(lead_client: Client) -> None:
    mara = off(3, 3).person
    assert f"{mara} is away today" in words(floor(lead_client))


def test_other_days_and_people_who_have_left_are_not_told(lead_client: Client) -> None:
    off(1, 2)
    off(4, 5)
    assert "is away" not in floor(lead_client)
    off(3, 3)
    Person.objects.update(active=False)
    assert "is away" not in floor(lead_client)


def test_a_closed_day(lead_client: Client) -> None:
    ClosedDay.objects.create(day=date(2026, 3, 4), name="Stocktaking")
    assert "is closed" not in floor(lead_client)
    ClosedDay.objects.create(day=TODAY, name="Works outing")
    assert "The studio is closed today (Works outing)" in words(floor(lead_client))
    assert "The studio is closed today" in lead_client.get("/changed/").content.decode()


def test_who_is_ill_is_told_once(lead_client: Client) -> None:
    row = off(3, 5)
    DayChange.objects.create(
        kind=ChangeKind.ILL, person=row.person, day_off=row, since=NOW, until=row.last, written_by="Nora"
    )
    text = words(floor(lead_client))
    assert f"{row.person} is ill" in text
    assert "is away" not in text


def test_the_office_is_told_without_a_link_to_set_up(office_client: Client) -> None:
    mara = off(3, 3).person
    html = floor(office_client)
    assert f"{mara} is away today" in words(html)
    assert reverse("set-up-person", args=[mara.pk]) not in html
