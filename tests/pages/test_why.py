"""Why this date: a sentence, the chain in words, and what stands there without a date."""

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from jobs.actions.plan import replan
from jobs.models import Job, Operation, OperationKind, Person, PlanState
from jobs.planning.why import Cause, Segment
from jobs.views.date_why import in_days, stretches
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
NOW = datetime(2026, 3, 2, 8, tzinfo=ZoneInfo("Europe/Vienna"))


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 20})


@pytest.fixture
def job() -> Job:
    job = cast.make_job()
    cast.make_panel(job)
    return job


def page(client: Client, number: str = "0412", query: str = "", **headers: str) -> str:
    response = client.get(f"/dates/{number}/why/?{query}", headers=headers)
    assert response.status_code == 200
    return response.content.decode()


def test_its_own_work(office_client: Client, job: Job) -> None:
    html = page(office_client)
    assert "Mostly its own work: Cutting, Beveling and Assembly." in html
    # The fastest with the fewest skills does it: cutting by Jonas, then beveling by Mara, then assembly.
    places = [
        html.index(words) for words in ("Cutting of Light 1", "Beveling of Light 1", "Assembly of Light 1")
    ]
    assert places == sorted(places)
    assert "Beveling of Light 1, by Mara Lind" in html


def test_waiting_behind_another_job(office_client: Client) -> None:
    Person.objects.filter(name="Ilse Roth").update(active=False)
    first = cast.make_job("0411", wanted_by=date(2026, 3, 4))
    for number in (1, 2, 3):
        cast.make_panel(first, number=number, kinds=("Beveling",))
    cast.make_panel(cast.make_job(), kinds=("Beveling",))
    html = page(office_client)
    assert "Mostly waiting for Mara Lind at Beveling behind 0411." in html
    # Each panel that goes before is named, the one that is waited for longest first.
    places = [html.index(f">0411/{number}</a>") for number in (1, 2, 3)]
    assert places == sorted(places)


def test_work_of_a_whole_job_goes_before_by_its_number(office_client: Client) -> None:
    Person.objects.filter(name="Ilse Roth").update(active=False)
    first = cast.make_job("0411", wanted_by=date(2026, 3, 4))
    beveling = OperationKind.objects.get(name="Beveling")
    Operation.objects.create(job=first, kind=beveling, place=0, estimate=900)
    cast.make_panel(cast.make_job(), kinds=("Beveling",))
    assert '<a href="/jobs/0411/">0411</a>' in page(office_client)


def test_waiting_for_a_gate(office_client: Client, job: Job) -> None:
    cast.make_gate(job, "drawing", expected=date(2026, 3, 20))
    html = page(office_client)
    assert "Mostly waiting for “drawing approved”." in html
    assert "Cutting of Light 1 waits for “drawing approved”" in html
    assert "Mon 2 Mar – Fri 20 Mar" in html


def test_a_cure_and_a_supplier(office_client: Client) -> None:
    cast.make_panel(cast.make_job(), kinds=("Cure", "Lamination"))
    html = page(office_client)
    assert "Cure of Light 1, by itself" in html
    assert "Lamination of Light 1, at the supplier" in html


def test_with_htmx_only_the_chain_is_answered(office_client: Client, job: Job) -> None:
    html = page(office_client, **{"HX-Request": "true"})
    assert "<html" not in html
    assert "Mostly its own work" in html


def test_what_has_no_date_says_so(office_client: Client) -> None:
    cast.make_panel(cast.make_job(), kinds=("Blasting",))
    assert "nobody works at Blasting" in page(office_client)
    done = cast.make_job("0413")
    cast.make_panel(done)
    Operation.objects.filter(job=done).update(finished_at=NOW)
    assert "0413 has no work left." in page(office_client, "0413")
    cast.make_job("0414", stage="cancelled")
    assert "0414 is cancelled." in page(office_client, "0414")


def test_who_and_how(office_client: Client, tablet_client: Client, client: Client, job: Job) -> None:
    assert tablet_client.get("/dates/0412/why/").status_code == 403
    assert client.get("/dates/0412/why/").status_code == 302
    assert office_client.post("/dates/0412/why/").status_code == 405
    assert office_client.get("/dates/9999/why/").status_code == 404


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "under an hour"),
        (60, "1 hour"),
        (450, "8 hours"),
        (480, "1 working day"),
        (1680, "3.5 working days"),
    ],
)
def test_working_time_in_words(minutes: int, words: str) -> None:
    assert in_days(minutes, 480) == words


def segment(cause: Cause, operation: int, **values: Any) -> Segment:
    return Segment(cause, operation, 1, NOW, NOW, 60, 60, 0, **values)


def test_the_turns_of_one_wait_are_one_step() -> None:
    chain = [
        segment(Cause.STATION, 1),
        segment(Cause.PERSON, 1),
        segment(Cause.WORK, 1),
        segment(Cause.STATION, 2),
        segment(Cause.STATION, 3),
    ]
    assert [len(each) for each in stretches(chain)] == [2, 1, 1, 1]


# What would bring it forward


def behind_another() -> Job:
    """A job that waits for a longer one which is due sooner."""
    first = cast.make_job("0411", wanted_by=date(2026, 3, 4))
    for number in (1, 2, 3):
        cast.make_panel(first, number=number, kinds=("Beveling",))
    job = cast.make_job(wanted_by=date(2026, 4, 1))
    cast.make_panel(job, kinds=("Beveling",))
    cast.make_panel(job, number=2, kinds=("Cutting",))
    return job


def test_the_change_that_helps_most_is_tried_on_request_only(office_client: Client) -> None:
    behind_another()
    before = page(office_client)
    assert 'href="?forward=1#forward"' in before
    assert "would be ready" not in before
    html = page(office_client, "0412", query="forward=1")
    assert "0412 would be ready" in html
    assert "sooner with its work taken first at every station" in html
    assert "Later would be: 0411 by" in html
    assert html.index("<strong>0412 would be ready") < html.index("Later would be")
    part = page(office_client, query="forward=1", HX_Request="true")
    assert part.strip().startswith('<div id="forward"')
    assert "<html" not in part


def test_one_panel_has_a_chain_and_changes_of_its_own(office_client: Client) -> None:
    job = behind_another()
    panel = job.panels.get(number=1)
    html = page(office_client, query="panel=1&forward=1")
    assert f'<a href="{panel.get_absolute_url()}">{panel.name}</a> is ready then' in html
    assert "Beveling of" in html
    assert "This panel of 0412 would be ready" in html
    other = page(office_client, query="panel=2&forward=1")
    assert "Cutting of" in other
    assert "No single change would" in other
    assert "Beveling of" not in other


@pytest.mark.parametrize("typed", ["9", "x", "-1", "1.5", "123456789"])
def test_a_panel_that_is_not_there(office_client: Client, job: Job, typed: str) -> None:
    assert office_client.get(f"/dates/0412/why/?panel={typed}").status_code == 404


def test_without_a_date_nothing_is_offered(office_client: Client, job: Job) -> None:
    Operation.objects.filter(job=job).update(finished_at=NOW, started_at=NOW)
    assert "bring it forward" not in page(office_client, query="forward=1")


def test_job_and_panel_lead_there(office_client: Client, job: Job) -> None:
    replan(at=NOW, force=True)
    assert 'href="/dates/0412/why/"' in office_client.get("/jobs/0412/").content.decode()
    panel = job.panels.get()
    html = office_client.get(panel.get_absolute_url()).content.decode()
    assert f'href="/dates/0412/why/?panel={panel.number}"' in html
