"""The list of jobs, new jobs, copies."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client

from jobs.models import Job, PlanState, Route, RouteStep, Stage
from tests import cast

PANEL = {
    "panel-TOTAL_FORMS": "1",
    "panel-INITIAL_FORMS": "0",
    "panel-0-name": "Left",
    "panel-0-width_mm": "24 1/2 in",
    "panel-0-height_mm": "36 in",
    "panel-0-thickness_mm": "1/4 in",
    "panel-0-pieces": "10",
    "panel-0-copies": "1",
}


@pytest.fixture(autouse=True)
def fresh_dates(shop: None) -> None:
    """Dates made a moment ago, so that no page waits for the planner."""
    from django.utils import timezone

    state = PlanState.current()
    state.planned_at, state.planned_revision = timezone.now(), state.revision
    state.save()


def new(client: Client, **values: object) -> object:
    start = {"title": "Hall", "customer": "Alder House", "stage": "ordered"}
    return client.post("/jobs/new/", start | PANEL | values)


def text(response: object) -> str:
    return response.content.decode()  # type: ignore[attr-defined]


def test_list_shows_open_jobs_and_what_is_filtered(office_client: Client) -> None:
    cast.make_panel(cast.make_job("0412", "Hall window"))
    cast.make_job("0413", "Porch door", stage=Stage.COMPLETE)
    page = text(office_client.get("/jobs/"))
    assert "Hall window" in page
    assert "Porch door" not in page
    assert "Porch door" in text(office_client.get("/jobs/?stage=any"))
    assert "Hall window" not in text(office_client.get("/jobs/?stage=complete"))
    for found in ("0412", "hall", "two rivers", "LIGHT", "hall light"):
        assert "Hall window" in text(office_client.get("/jobs/", {"q": found}))
    assert "No job is like that" in text(office_client.get("/jobs/?q=zebra"))
    assert "No job is like that" in text(office_client.get("/jobs/?customer=1&stage=quoted"))


def test_a_filter_that_is_none_shows_the_open_jobs(office_client: Client) -> None:
    cast.make_job()
    assert "Hall window" in text(office_client.get("/jobs/?stage=moon&customer=x&page=99"))


def test_no_job_at_all(office_client: Client) -> None:
    assert "Enter the first one" in text(office_client.get("/jobs/"))


def test_the_list_has_pages_that_keep_the_filter(office_client: Client) -> None:
    for number in range(45):
        cast.make_job(f"{number:04}")
    page = text(office_client.get("/jobs/?q=hall"))
    assert "45 jobs" in page
    assert "?q=hall&amp;page=2" in page
    assert text(office_client.get("/jobs/?q=hall&page=2")).count('job-row"') == 5


def test_a_part_of_the_list_for_htmx(office_client: Client) -> None:
    cast.make_job()
    part = text(office_client.get("/jobs/", headers={"HX-Request": "true"}))
    assert "Hall window" in part
    assert "<html" not in part


def test_the_list_asks_as_much_for_many_jobs_as_for_few(
    office_client: Client, django_assert_num_queries: Callable
) -> None:
    counts = []
    for jobs in (2, 30):
        for number in range(jobs):
            cast.make_panel(cast.make_job(f"{jobs}-{number}"))
        office_client.get("/jobs/")
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as queries:
            office_client.get("/jobs/")
        counts.append(len(queries))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("address", ["/jobs/", "/jobs/new/", "/jobs/import/", "/jobs/import/template.csv"])
def test_not_for_the_bench_nor_for_nobody(tablet_client: Client, client: Client, address: str) -> None:
    assert tablet_client.get(address).status_code == 403
    assert client.get(address).status_code == 302
    assert tablet_client.delete(address).status_code in (403, 405)


def test_new_job(office_client: Client) -> None:
    route = Route.objects.get()
    response = new(office_client, wanted_by="2026-06-01", gates=["drawing"], **{"panel-0-route": route.pk})
    job = Job.objects.get()
    assert (response.status_code, response.headers["Location"]) == (303, f"/jobs/{job.number}/")  # type: ignore[attr-defined]
    assert (job.customer.name, job.wanted_by, job.gates.get().kind) == (
        "Alder House",
        date(2026, 6, 1),
        "drawing",
    )
    assert job.panels.get().operations.count() == 3


def test_a_new_job_begins_as_an_enquiry_with_how_its_customer_is_reached(office_client: Client) -> None:
    page = text(office_client.get("/jobs/new/"))
    assert '<option value="enquiry" selected>' in page
    new(office_client, stage="enquiry", phone="555-0123", email="hall@alder.example")
    customer = Job.objects.get().customer
    assert (customer.phone, customer.email) == ("555-0123", "hall@alder.example")
    # What is known of a customer stays as it is.
    new(office_client, stage="enquiry", phone="555-0999", email="")
    customer.refresh_from_db()
    assert (customer.phone, customer.email) == ("555-0123", "hall@alder.example")
    answer = new(office_client, customer="Elm House", email="nobody")
    assert answer.status_code == 422  # type: ignore[attr-defined]


def test_new_job_with_a_condition(office_client: Client) -> None:
    route = Route.objects.get()
    RouteStep.objects.create(
        route=route, kind=cast.OperationKind.objects.get(name="Lamination"), condition="laminated", minutes=60
    )
    assert "laminated" in text(office_client.get("/jobs/new/"))
    new(office_client, **{"panel-0-route": route.pk, "panel-0-conditions": ["laminated"]})
    assert Job.objects.get().operations.filter(kind__name="Lamination").exists()


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"title": ""}, "This field is required"),
        ({"number": "a/b"}, "A job number has at most 20"),
        ({"panel-0-width_mm": "wide"}, "is not a length"),
        ({"panel-0-name": ""}, "This field is required"),
        ({"panel-0-copies": "0"}, "greater than or equal to 1"),
        ({"panel-TOTAL_FORMS": "x"}, "A job has at least one panel"),
    ],
)
def test_new_job_refused_keeps_what_was_typed(office_client: Client, values: dict, sentence: str) -> None:
    response = new(office_client, **{"notes": "mind the step"} | values)
    assert response.status_code == 422  # type: ignore[attr-defined]
    assert sentence in text(response)
    assert "mind the step" in text(response)
    assert not Job.objects.exists()


def test_an_empty_panel_is_left_out_but_one_there_has_to_be(office_client: Client) -> None:
    more = {
        "panel-TOTAL_FORMS": "2",
        "panel-1-thickness_mm": "1/4 in",
        "panel-1-pieces": "1",
        "panel-1-copies": "1",
    }
    assert new(office_client, **more).status_code == 303  # type: ignore[attr-defined]
    assert Job.objects.get().panels.count() == 1
    none = {f"panel-0-{key}": more[f"panel-1-{key}"] for key in ("thickness_mm", "pieces", "copies")}
    none |= {"panel-0-name": "", "panel-0-width_mm": "", "panel-0-height_mm": ""}
    response = new(office_client, **none)
    assert response.status_code == 422  # type: ignore[attr-defined]


def test_another_panel_is_offered_without_judging(office_client: Client) -> None:
    response = new(office_client, more="1", title="", **{"panel-0-width_mm": "wide"})
    assert response.status_code == 200  # type: ignore[attr-defined]
    page = text(response)
    assert "Panel 2" in page
    assert 'value="wide"' in page
    assert "is not a length" not in page
    assert not Job.objects.exists()


def test_never_more_than_thirty_panels(office_client: Client) -> None:
    page = text(new(office_client, more="1", **{"panel-TOTAL_FORMS": "30"}))
    assert "Panel 30" in page
    assert "Panel 31" not in page
    assert "Another panel" not in page


def test_copy(office_client: Client) -> None:
    job = cast.make_job()
    panel = cast.make_panel(job)
    assert "Copy of 0412" in text(office_client.get("/jobs/new/?copy=0412"))
    response = office_client.post(
        "/jobs/new/?copy=0412", {"title": "Again", "customer": "Alder House", "panels": [panel.pk]}
    )
    assert response.status_code == 303
    assert Job.objects.get(title="Again").operations.count() == 3


def test_copy_refused_keeps_what_was_typed(office_client: Client) -> None:
    panel = cast.make_panel(cast.make_job())
    typed = {"title": "Again", "customer": "Alder House", "panels": [panel.pk], "number": "0412"}
    response = office_client.post("/jobs/new/?copy=0412", typed)
    assert response.status_code == 422
    assert "There is a job 0412 already" in text(response)
    assert "Again" in text(response)


def test_copy_of_a_job_that_is_not_there(office_client: Client) -> None:
    assert office_client.get("/jobs/new/?copy=9999").status_code == 404
