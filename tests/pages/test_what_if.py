"""The what-if page: dates side by side, nothing saved until confirmed."""

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from jobs.models import DayOff, Job, Person, PlanState, Route, Station
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
NOW = datetime(2026, 3, 2, 8, tzinfo=ZoneInfo("Europe/Vienna"))
URL = "/dates/what-if/"


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 50})


@pytest.fixture
def job() -> Job:
    job = cast.make_job(wanted_by=date(2026, 3, 5))
    cast.make_panel(job)
    return job


def everybody_away() -> dict[str, Any]:
    return {"away": [person.pk for person in Person.objects.all()], "away_until": "2026-03-09"}


def test_it_opens_empty(office_client: Client) -> None:
    response = office_client.get(URL)
    assert response.status_code == 200
    assert "Choose one or several changes" in response.content.decode()


def test_winners_and_losers_stand_side_by_side(office_client: Client, job: Job) -> None:
    html = office_client.get(URL, everybody_away()).content.decode()
    assert "1 job later, 0 earlier" in html
    assert "breaks its day" in html
    assert html.count('class="window-bar"') == 2
    assert not DayOff.objects.exists()


def test_a_new_job_has_dates_of_its_own(office_client: Client) -> None:
    typed = {"route": Route.objects.get().pk, "pieces": 10, "new_due": "2026-03-20", "rush": "on"}
    html = office_client.get(URL, typed).content.decode()
    assert "The new job" in html
    assert "due Fri 20 Mar" in html
    assert not Job.objects.exists()


def test_what_moves_nothing_says_so(office_client: Client, job: Job) -> None:
    blasting = Station.objects.get(name="Blasting")
    html = office_client.get(URL, {"more_benches": blasting.pk}).content.decode()
    assert "No job moves by a day." in html


def test_what_cannot_be_is_said(office_client: Client, job: Job) -> None:
    blasting = Station.objects.get(name="Blasting")
    html = office_client.get(URL, {"more_people": blasting.pk}).content.decode()
    assert "Nobody works at station" in html


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"away_until": "2026-03-09"}, "Say who."),
        ({"saturdays": "2"}, "Say who comes."),
        ({"pieces": "0"}, "greater than or equal to 1"),
        ({"new_due": "2026-03-09"}, "Choose its route."),
        ({"away": "999"}, "999 is not one of the available choices"),
        ({"gate": "x"}, "not one of the available choices"),
    ],
)
def test_bad_input(office_client: Client, job: Job, typed: dict[str, str], sentence: str) -> None:
    response = office_client.get(URL, typed)
    assert response.status_code == 422
    assert sentence in response.content.decode()


def test_the_lead_writes_it_down(lead_client: Client, job: Job) -> None:
    shown = lead_client.get(URL, everybody_away()).content.decode()
    assert "Write it down" in shown
    response = lead_client.post(f"{URL}?away={cast.person('Mara').pk}&away_until=2026-03-09", follow=True)
    assert response.redirect_chain == [("/dates/", 302)]
    assert "Mara Lind is off until Mon 9 Mar." in response.content.decode()
    assert DayOff.objects.get().person == cast.person("Mara")


def test_the_office_only_asks(office_client: Client, job: Job) -> None:
    assert "Write it down" not in office_client.get(URL, everybody_away()).content.decode()
    response = office_client.post(f"{URL}?away={cast.person('Mara').pk}&away_until=2026-03-09")
    assert response.status_code == 422
    assert "Only the lead" in response.content.decode()
    assert not DayOff.objects.exists()


def test_nothing_to_write_down(lead_client: Client, job: Job) -> None:
    assert lead_client.post(URL).status_code == 422


def test_with_htmx_only_the_page_itself_is_answered(office_client: Client, job: Job) -> None:
    html = office_client.get(URL, everybody_away(), headers={"HX-Request": "true"}).content.decode()
    assert html.lstrip().startswith('<div id="what-if">')


def test_who_and_how(tablet_client: Client, client: Client, office_client: Client) -> None:
    assert tablet_client.get(URL).status_code == 403
    assert client.get(URL).status_code == 302
    assert office_client.put(URL).status_code == 405
