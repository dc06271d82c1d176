"""The page of a job: what it shows, and each group changed in place."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from jobs.models import Event, Gate, Hold, Job, Operation, OperationKind, Panel, PlanState, Projection, Stage
from tests import cast

ABOUT = {
    "title": "Hall",
    "customer": "Alder House",
    "weight": "2",
    "wanted_by": "2026-06-01",
    "notes": "mind",
}


@pytest.fixture(autouse=True)
def job(shop: None) -> Job:
    state = PlanState.current()
    state.planned_at, state.planned_revision = timezone.now(), state.revision
    state.save()
    made = cast.make_job()
    cast.make_panel(made)
    return made


def text(response: object) -> str:
    return response.content.decode()  # type: ignore[attr-defined]


def test_shows_everything_of_a_job(office_client: Client, job: Job) -> None:
    now = timezone.now()
    for thing in ({"job": job, "chance": 0.4}, {"panel": job.panels.get()}):
        Projection.objects.create(p50=now, p80=now, p95=now + timedelta(days=3), **thing)
    cast.make_gate(job, "drawing", expected=date(2026, 1, 1))
    cast.make_gate(job, "deposit", cleared=date(2026, 3, 2))
    Operation.objects.create(job=job, kind=OperationKind.objects.get(name="Delivery"), estimate=60)
    PlanState.objects.update(
        problems=[{"sentence": "Nobody works at Blasting.", "job": job.pk, "operation": None}]
    )
    page = text(office_client.get("/jobs/0412/"))
    for said in (
        "0412 Hall window",
        "Light 1",
        "overdue",
        "came Mon 2 Mar",
        "Delivery",
        "40\xa0%, at risk",
        "0:00",
        "14:00",
    ):
        assert said in page
    assert "Nobody works at Blasting." in page


def test_a_job_without_panels(office_client: Client) -> None:
    cast.make_job("0500")
    assert "no panel yet" in text(office_client.get("/jobs/0500/"))


def test_no_such_job(office_client: Client) -> None:
    assert office_client.get("/jobs/9999/").status_code == 404


@pytest.mark.parametrize(
    "group", ["about", "customer", "hold", "cancel", "complete", "new-gate", "new-panel", "gate-glass"]
)
def test_each_group_opens_its_form(office_client: Client, job: Job, group: str) -> None:
    cast.make_gate(job, "glass")
    page = text(office_client.get(f"/jobs/0412/?edit={group}"))
    assert f'action="/jobs/0412/change/{group}/"' in page


def test_an_unknown_group_is_left_closed_or_not_there(office_client: Client) -> None:
    assert office_client.get("/jobs/0412/?edit=moon").status_code == 200
    assert office_client.post("/jobs/0412/change/moon/").status_code == 404
    assert office_client.post("/jobs/0412/change/gate-glass/").status_code == 404


def test_change_about(office_client: Client, job: Job) -> None:
    response = office_client.post("/jobs/0412/change/about/", ABOUT)
    assert (response.status_code, response.headers["Location"]) == (303, "/jobs/0412/")
    job.refresh_from_db()
    assert (job.title, job.customer.name, job.weight) == ("Hall", "Alder House", 2)
    page = text(office_client.get("/jobs/0412/"))
    assert "<del>Hall window</del> → <ins>Hall</ins>" in page
    assert "Emil Horn" in page


@pytest.mark.parametrize(
    ("values", "sentence"),
    [({"weight": "0"}, "between 0.1 and 100"), ({"title": ""}, "This field is required")],
)
def test_change_about_refused(office_client: Client, job: Job, values: dict, sentence: str) -> None:
    response = office_client.post("/jobs/0412/change/about/", ABOUT | values)
    assert response.status_code == 422
    assert sentence in text(response)
    assert "Alder House" in text(response)
    assert not Event.objects.exists()


def test_a_closed_job_refuses_with_a_sentence(office_client: Client, job: Job) -> None:
    Job.objects.update(stage=Stage.COMPLETE, closed_at=timezone.now())
    response = office_client.post("/jobs/0412/change/about/", ABOUT)
    assert response.status_code == 422
    assert "reopen it first" in text(response)


def test_change_customer(office_client: Client, job: Job) -> None:
    typed = {
        "contact": "Ada",
        "email": "ada@alder.example",
        "phone": "1",
        "address": "Mill Lane",
        "notes": "",
    }
    assert office_client.post("/jobs/0412/change/customer/", typed).status_code == 303
    job.customer.refresh_from_db()
    assert job.customer.contact == "Ada"
    response = office_client.post("/jobs/0412/change/customer/", typed | {"email": "nobody"})
    assert response.status_code == 422
    assert "nobody" in text(response)


def test_gates(office_client: Client, job: Job) -> None:
    assert office_client.post("/jobs/0412/change/new-gate/", {"kind": "glass"}).status_code == 303
    office_client.post("/jobs/0412/change/gate-glass/", {"expected": "2026-04-01"})
    assert Gate.objects.get().expected == date(2026, 4, 1)
    for verb in ("clear", "reopen", "remove"):
        assert office_client.post(f"/jobs/0412/gates/glass/{verb}/").status_code == 303
    assert not Gate.objects.exists()
    response = office_client.post("/jobs/0412/gates/glass/clear/")
    assert response.status_code == 422
    assert "does not wait for that" in text(response)
    assert office_client.post("/jobs/0412/gates/glass/paint/").status_code == 404
    assert office_client.post("/jobs/0412/change/new-gate/", {"kind": "moon"}).status_code == 422


def test_cancel_and_open_again(office_client: Client, job: Job) -> None:
    assert office_client.post("/jobs/0412/change/cancel/", {"why": ""}).status_code == 422
    assert office_client.post("/jobs/0412/change/cancel/", {"why": "moved away"}).status_code == 303
    assert "The job is cancelled since" in text(office_client.get("/jobs/0412/"))
    response = office_client.post("/jobs/0412/change/cancel/", {"why": "again"})
    assert "cancelled already" in text(response)
    assert office_client.post("/jobs/0412/change/reopen/").status_code == 303
    response = office_client.post("/jobs/0412/change/reopen/")
    assert response.status_code == 422
    assert "is open already" in text(response)


def test_complete_with_open_work_is_the_leads(office_client: Client, lead_client: Client, job: Job) -> None:
    for typed, sentence in (({}, "Work is open: Cutting"), ({"anyway": "on"}, "Only the lead")):
        response = office_client.post("/jobs/0412/change/complete/", typed)
        assert response.status_code == 422
        assert sentence in text(response)
    assert lead_client.post("/jobs/0412/change/complete/", {"anyway": "on"}).status_code == 303
    job.refresh_from_db()
    assert job.stage == Stage.COMPLETE


def test_order_an_enquiry(office_client: Client) -> None:
    cast.make_job("0500", stage=Stage.ENQUIRY)
    assert "It is ordered" in text(office_client.get("/jobs/0500/"))
    assert office_client.post("/jobs/0500/change/order/").status_code == 303
    assert office_client.post("/jobs/0500/change/order/").status_code == 422


def test_hold_the_job_and_release_it(office_client: Client, job: Job) -> None:
    assert office_client.post("/jobs/0412/change/hold/", {"reason": ""}).status_code == 422
    assert office_client.post("/jobs/0412/change/hold/", {"reason": "flood"}).status_code == 303
    hold = Hold.objects.get()
    assert "flood" in text(office_client.get("/jobs/0412/"))
    assert office_client.post(f"/jobs/9/holds/{hold.pk}/release/").status_code == 404
    assert office_client.post(f"/jobs/0412/holds/{hold.pk}/release/").status_code == 303
    hold.refresh_from_db()
    assert hold.released_by == "Emil Horn"
    office_client.post(f"/jobs/0412/holds/{hold.pk}/release/")
    assert "not held any more" in text(office_client.get("/jobs/0412/"))


def test_add_a_panel(office_client: Client, job: Job) -> None:
    size = {"width_mm": "600 mm", "height_mm": "900 mm", "thickness_mm": "6 mm"}
    typed = {"name": "Right", "pieces": "4", "copies": "2"} | size
    assert office_client.post("/jobs/0412/change/new-panel/", typed | {"width_mm": "wide"}).status_code == 422
    assert office_client.post("/jobs/0412/change/new-panel/", typed).status_code == 303
    panel = Panel.objects.get(number=2)
    assert (panel.thickness_mm, panel.copies) == (6, 2)


def test_work_of_the_whole_job_is_changed_on_its_page(office_client: Client, job: Job) -> None:
    delivery = Operation.objects.create(job=job, kind=OperationKind.objects.get(name="Delivery"), estimate=60)
    act = f"/jobs/0412/work/{delivery.pk}/estimate/"
    response = office_client.post(act, {"estimate-estimate": "2:00", "estimate-why": ""})
    assert response.status_code == 422
    assert 'value="2:00"' in text(response)
    response = office_client.post(act, {"estimate-estimate": "2:00", "estimate-why": "far away"})
    assert response.headers["Location"] == "/jobs/0412/"
    delivery.refresh_from_db()
    assert delivery.estimate == 120


def test_history_shows_the_last_and_all_on_request(office_client: Client, job: Job) -> None:
    for number in range(25):
        Event.objects.create(at=cast.at(3), verb=f"verb{number}", subject="job", subject_id=job.pk, job=job)
    page = text(office_client.get("/jobs/0412/"))
    assert "verb24" in page
    assert "verb4 " not in page
    assert "verb0 " in text(office_client.get("/jobs/0412/?history=all"))


def test_wrong_method_and_wrong_person(office_client: Client, tablet_client: Client, client: Client) -> None:
    for act in ("change/about/", "gates/glass/clear/", "work/1/skip/", "holds/1/release/"):
        assert office_client.get(f"/jobs/0412/{act}").status_code == 405
        assert tablet_client.post(f"/jobs/0412/{act}").status_code == 403
        assert client.post(f"/jobs/0412/{act}").status_code == 302
    assert office_client.post("/jobs/0412/").status_code == 405
    assert tablet_client.get("/jobs/0412/").status_code == 403
    assert client.get("/jobs/0412/").status_code == 302


def test_as_many_queries_for_many_panels_as_for_one(office_client: Client, job: Job) -> None:
    def count() -> int:
        office_client.get("/jobs/0412/")
        with CaptureQueriesContext(connection) as queries:
            office_client.get("/jobs/0412/")
        return len(queries)

    few = count()
    for number in range(2, 20):
        cast.make_panel(job, number)
    assert count() == few
