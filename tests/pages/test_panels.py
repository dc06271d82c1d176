"""The open panels: each against its operations, and what waits for a station."""

import re
from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from jobs.models import Account, Customer, Hold, Job, Operation, Panel, Promise, Stage, Station
from jobs.views import panels as view
from tests import cast
from tests.cast import at
from tests.pages.plans import plan, settle
from tests.pages.test_floor import finish, start, words

NOW = at(3, "10:00")


@pytest.fixture(autouse=True)
def tuesday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    settle(at(3, "09:45"))


@pytest.fixture
def job() -> Job:
    return cast.make_job()


def html_of(client: Client, query: str = "") -> str:
    response = client.get(f"/panels/{query}")
    assert response.status_code == 200
    return response.content.decode()


def page(client: Client, query: str = "") -> str:
    return words(html_of(client, query))


def names(client: Client, query: str = "") -> list[str]:
    """The panels listed, in their order."""
    return [words(name) for name in re.findall(r'class="matrix-name">(.*?)</span>', html_of(client, query))]


def cells(client: Client, query: str = "") -> list[str]:
    """The cells of all rows with what a screen reader says of their marks."""
    html = re.sub(r'<svg[^>]*aria-label="([^"]+)".*?</svg>', r" \1 ", html_of(client, query), flags=re.S)
    return [words(cell) for cell in re.findall(r"<td[^>]*>(.*?)</td>", html, re.S)]


# Who may see it


def test_the_lead_and_the_office_may_a_bench_may_not(
    lead_client: Client, office_client: Client, tablet_client: Client, client: Client
) -> None:
    assert "No panel is open" in page(lead_client)
    assert "No panel is open" in page(office_client)
    assert tablet_client.get("/panels/").status_code == 403
    assert client.get("/panels/").headers["Location"] == "/sign-in/?next=/panels/"


def test_it_is_only_looked_at(office_client: Client) -> None:
    assert office_client.post("/panels/").status_code == 405


# The matrix


def test_a_panel_against_its_operations(office_client: Client, job: Job) -> None:
    panel = cast.make_panel(job, where="Rack A1", copies=2)
    finish(cast.operation_of(panel, "Cutting"))
    start(cast.operation_of(panel, "Beveling"), "Mara", clock="09:00")
    html = page(office_client)
    assert "1 open panel of 1 job, 10:30 hours of work left." in html
    assert "0412/1 Light 1" in html
    assert "Hall window · 23 5/8 × 35 7/16 in · 2 copies · Rack A1" in html
    assert cells(office_client) == [
        "Cutting done",
        "Beveling on the bench 6:30 left",
        "Assembly waiting 4:00 left",
        "Left 10:30",
    ]


def test_an_overrun_is_said(office_client: Client, job: Job) -> None:
    panel = cast.make_panel(job, kinds=("Assembly",))
    start(cast.operation_of(panel, "Assembly"), "Jonas", day=3, clock="08:00")
    Operation.objects.update(estimate=60)
    assert cells(office_client) == ["Assembly on the bench 1:00 over", "Left 0:00"]
    # Pieces say that there is something left in spite of it.
    Operation.objects.update(quantity=4, quantity_done=2)
    assert cells(office_client) == ["Assembly on the bench 0:30 left 1:00 over", "Left 0:30"]


def test_a_cure_says_when_it_is_over(office_client: Client, job: Job) -> None:
    cure = cast.operation_of(cast.make_panel(job, kinds=("Cure",)), "Cure")
    cure.started_at, cure.finished_at = at(2), at(4)
    cure.save()
    assert cells(office_client)[0] == "Cure on the bench to Wed 4 Mar"


def test_rework_stands_in_the_same_cell(office_client: Client, job: Job) -> None:
    panel = cast.make_panel(job, kinds=("Cutting",))
    cutting = cast.operation_of(panel, "Cutting")
    Operation.objects.create(
        job=job, panel=panel, kind=cutting.kind, label="Cutting again, 2 pieces", place=9, estimate=18
    )
    assert cells(office_client)[0] == "Cutting ready 1:30 left Cutting again, 2 pieces ready 0:18 left"


def test_columns_are_the_kinds_there_are_in_the_order_of_the_work(office_client: Client, job: Job) -> None:
    cast.make_panel(job, 1, kinds=("Assembly", "Blasting"))
    cast.make_panel(job, 2, kinds=("Cutting",))
    heads = re.findall(r'class="matrix-kind"><span>(.*?)</span>', html_of(office_client))
    assert heads == ["Cutting", "Assembly", "Blasting"]
    assert cells(office_client) == [
        "", "Assembly ready 4:00 left", "Blasting waiting 4:00 left", "Left 8:00",
        "Cutting ready 1:30 left", "", "", "Left 1:30",
    ]  # fmt: skip


def test_the_earliest_promised_stands_first(office_client: Client, office: Account) -> None:
    for number, wanted in (("0410", None), ("0411", date(2026, 3, 20)), ("0412", date(2026, 3, 9))):
        cast.make_panel(cast.make_job(number, wanted_by=wanted))
    late = Job.objects.get(number="0410")
    Promise.objects.create(job=late, day=date(2026, 3, 2), given_at=at(2), given_by=office, told="Aurel")
    assert names(office_client) == ["0410/1 Light 1", "0412/1 Light 1", "0411/1 Light 1"]
    html = page(office_client)
    assert "promised Mon 2 Mar, late" in html
    assert "wanted Mon 9 Mar" in html


def test_finished_panels_and_closed_jobs_are_left_out(office_client: Client, job: Job) -> None:
    panel = cast.make_panel(job, kinds=("Cutting",))
    finish(cast.operation_of(panel, "Cutting"))
    cast.make_panel(cast.make_job("0413", stage=Stage.COMPLETE))
    assert "No panel is open" in page(office_client)
    assert names(office_client, "?state=done") == ["0412/1 Light 1"]
    assert "1 finished panel of 1 job." in page(office_client, "?state=done")


# Filters


def test_by_job_customer_and_place(office_client: Client, job: Job) -> None:
    hall = Customer.objects.create(name="Hall of Music")
    other = cast.make_job("0413", "Stage light", customer=hall)
    cast.make_panel(job, 1, where="Rack A1")
    cast.make_panel(job, 2)
    cast.make_panel(other, 1, where="Rack A1")
    assert names(office_client, "?job=0412") == ["0412/1 Light 1", "0412/2 Light 2"]
    assert names(office_client, f"?customer={hall.pk}") == ["0413/1 Light 1"]
    assert names(office_client, "?place=Rack+A1") == ["0412/1 Light 1", "0413/1 Light 1"]
    assert names(office_client, "?place=Rack+A1&job=0412") == ["0412/1 Light 1"]
    html = html_of(office_client, "?place=Rack+A1&job=0412")
    assert '<option value="0412" selected>' in html
    assert '<option value="Rack A1" selected>' in html


def test_by_state(office_client: Client, job: Job) -> None:
    one, two, three, four, five = (cast.make_panel(job, number) for number in range(1, 6))
    start(cast.operation_of(one, "Cutting"), "Mara")
    Hold.objects.create(operation=cast.operation_of(two, "Assembly"), reason="?", since=at(2), held_by="Nora")
    Hold.objects.create(panel=three, reason="?", since=at(2), held_by="Nora")
    four.operations.update(finished_at=at(2))
    cutting = cast.operation_of(five, "Cutting")
    cutting.after.add(cast.operation_of(one, "Assembly"))
    by_state = {
        state: [name[:6] for name in names(office_client, f"?state={state}")]
        for state in ("on-bench", "ready", "held", "waiting", "done")
    }
    assert by_state == {
        "on-bench": ["0412/1"],
        "ready": ["0412/2"],
        "held": ["0412/2", "0412/3"],
        "waiting": ["0412/5"],
        "done": ["0412/4"],
    }


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("?job=0999", "“0999” is not an open job."),
        ("?customer=7777", "That customer has no open job."),
        ("?customer=x", "That customer has no open job."),
        ("?place=Attic", "No open panel is at “Attic”."),
        ("?state=lost", "“lost” is not a state of work."),
        ("?waits=beveling&state=done", "“done” is not a state of work."),
        ("?waits=beveling&job=0999", "“0999” is not an open job."),
    ],
)
def test_an_unknown_filter_is_said_and_finds_nothing(
    office_client: Client, job: Job, query: str, sentence: str
) -> None:
    cast.make_panel(job)
    html = page(office_client, query)
    assert sentence in html
    assert "fits this." in html
    assert names(office_client, query) == []


def test_what_is_typed_is_escaped(office_client: Client, job: Job) -> None:
    cast.make_panel(job, name="<b>Light</b>")
    html = html_of(office_client, "?job=%3Cscript%3E")
    assert "<script>" not in html.split("<main", 1)[1]
    assert "<b>Light" not in html_of(office_client)


def test_an_unknown_station_is_not_there(office_client: Client) -> None:
    assert office_client.get("/panels/?waits=polishing").status_code == 404


# What waits for a station


def test_what_waits_in_the_order_of_the_benches(office_client: Client, job: Job) -> None:
    panels = [cast.make_panel(job, number) for number in (1, 2, 3, 4)]
    for panel, rank in zip(panels, (3, 1, None, 2), strict=True):
        if rank:
            plan(cast.operation_of(panel, "Beveling"), at(4), at(5), rank)
    assert names(office_client, "?waits=beveling") == [
        "0412/2 Light 2",
        "0412/4 Light 4",
        "0412/1 Light 1",
        "0412/3 Light 3",
    ]
    assert '<ol class="queue" start="1">' in html_of(office_client, "?waits=beveling")


def test_without_a_plan_what_was_put_first_then_what_is_due(office_client: Client) -> None:
    for number, wanted in (("0410", None), ("0411", date(2026, 3, 20)), ("0412", date(2026, 3, 9))):
        cast.make_panel(cast.make_job(number, wanted_by=wanted))
    cast.make_panel(cast.make_job("0413"))
    Operation.objects.filter(job__number="0413", kind__name="Beveling").update(pinned_place=1)
    assert [name[:4] for name in names(office_client, "?waits=beveling")] == ["0413", "0412", "0411", "0410"]


def test_the_sum_in_a_sentence(office_client: Client, job: Job) -> None:
    one, two, three, four, five = (cast.make_panel(job, number) for number in range(1, 6))
    finish(cast.operation_of(one, "Cutting"))
    finish(cast.operation_of(two, "Cutting"))
    finish(cast.operation_of(five, "Cutting"))
    start(cast.operation_of(five, "Beveling"), "Ilse")
    Hold.objects.create(operation=cast.operation_of(two, "Beveling"), reason="?", since=at(2), held_by="Nora")
    html = page(office_client, "?waits=beveling")
    assert (
        "4 panels wait for beveling , 30:00 hours of work: 1 ready (7:30), 2 waiting (15:00), 1 held (7:30)."
        in html
    )
    assert "Held back by cutting (2), a hold (1). 1 on the bench now." in html
    assert names(office_client, "?waits=beveling") == [
        f"{panel.code} {panel.name}" for panel in (one, two, three, four)
    ]


def test_one_waits(office_client: Client, job: Job) -> None:
    cast.make_panel(job)
    assert "1 panel waits for beveling" in page(office_client, "?waits=beveling")


def test_nothing_waits(office_client: Client, job: Job) -> None:
    assert "Nothing waits for beveling." in page(office_client, "?waits=beveling")
    cast.make_panel(job)
    assert "Nothing that waits for beveling fits this." in page(office_client, "?waits=beveling&state=held")


def test_for_what_it_waits_with_whom_and_until_when(office_client: Client, job: Job) -> None:
    panel = cast.make_panel(job)
    cutting, beveling = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
    start(cutting, "Mara")
    plan(cutting, at(3), at(3, "11:15"), 0, cast.person("Mara"))
    plan(beveling, at(4, "08:00"), at(5), 0, cast.person("Ilse"))
    html = page(office_client, "?waits=beveling")
    assert "waiting on the bench Cutting, with Mara Lind, planned until 11:15" in html
    assert "starts Wed 4 Mar, Ilse Roth 7:30 left, 0 of 10 pieces" in html


def test_it_waits_for_gates_that_its_work_needs(office_client: Client, job: Job) -> None:
    cast.make_panel(job)
    cast.make_gate(job, "drawing", expected=date(2026, 3, 6))
    cast.make_gate(job, "glass")
    cutting = page(office_client, "?waits=cutting")
    assert "drawing approved: expected Fri 6 Mar" in cutting
    assert "glass in" not in cutting
    assert "Held back by drawing approved (1)." in cutting
    assert "drawing approved" not in page(office_client, "?waits=assembly")


def test_it_waits_for_a_hold(office_client: Client, job: Job) -> None:
    cast.make_panel(job)
    Hold.objects.create(job=job, reason="not paid", since=at(2), held_by="Emil", until=date(2026, 3, 6))
    html = page(office_client, "?waits=cutting")
    assert "held not paid , until Fri 6 Mar (Emil)" in html
    assert "0 ready" not in html


def test_what_is_ready_waits_for_a_bench(office_client: Client, job: Job) -> None:
    cast.make_panel(job)
    assert "a free bench and somebody not planned yet" in page(office_client, "?waits=cutting")


def test_since_when_it_waits(office_client: Client) -> None:
    """Since the later of the job's order and the last finished operation before it."""
    entered = cast.make_job("0410", entered_at=at(20, month=2))
    ordered = cast.make_job("0411", entered_at=at(20, month=2), ordered_at=at(2, "14:00"))
    for job in (entered, ordered):
        cast.make_panel(job)
    html = page(office_client, "?waits=cutting")
    assert "11 days since Fri 20 Feb" in html
    assert "1 day since Mon 2 Mar" in html
    finish(cast.operation_of(Panel.objects.get(job=entered), "Cutting"), "08:15")
    assert "today since 08:15" in page(office_client, "?waits=beveling")
    assert "1 day since Mon 2 Mar" in page(office_client, "?waits=beveling")


def test_work_on_a_whole_job_waits_too(office_client: Client, job: Job) -> None:
    delivery = cast.OperationKind.objects.get(name="Delivery")
    Operation.objects.create(job=job, kind=delivery, estimate=120)
    assert names(office_client, "?waits=assembly") == ["0412 Hall window"]
    cast.make_panel(job, where="Rack A1")
    assert names(office_client, "?waits=assembly&place=Rack+A1") == ["0412/1 Light 1"]


def test_filters_narrow_what_waits(office_client: Client, job: Job) -> None:
    one = cast.make_panel(job)
    cast.make_panel(cast.make_job("0413"))
    finish(cast.operation_of(one, "Cutting"))
    assert names(office_client, "?waits=beveling&job=0413") == ["0413/1 Light 1"]
    assert names(office_client, "?waits=beveling&state=ready") == ["0412/1 Light 1"]
    html = html_of(office_client, "?waits=beveling&job=0413")
    assert '<input type="hidden" name="waits" value="beveling"' in html
    assert 'href="?waits=cutting&amp;job=0413"' in html


def test_the_queue_of_a_station_that_is_closed_can_still_be_seen(office_client: Client, job: Job) -> None:
    cast.make_panel(job)
    Station.objects.filter(name="Beveling").update(active=False)
    assert "1 panel waits for beveling" in page(office_client, "?waits=beveling")


# How it is made


def test_pages_of_a_hundred_in_the_address(
    office_client: Client, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert view.PAGE == 100
    monkeypatch.setattr(view, "PAGE", 2)
    for number in range(1, 6):
        cast.make_panel(job, number)
    assert [name[5] for name in names(office_client, "?page=2")] == ["3", "4"]
    html = html_of(office_client, "?page=2&job=0412")
    assert "3 to 4 of 5" in html
    assert 'rel="next" href="/panels/?page=3&amp;job=0412"' in html
    assert "5 open panels" in page(office_client, "?page=2")
    assert [name[5] for name in names(office_client, "?waits=beveling&page=3")] == ["5"]
    assert '<ol class="queue" start="5">' in html_of(office_client, "?waits=beveling&page=3")
    # What is no page is the nearest one.
    assert [name[5] for name in names(office_client, "?page=99")] == ["5"]
    assert [name[5] for name in names(office_client, "?page=x")] == ["1", "2"]


def test_htmx_gets_the_list_and_the_stations(office_client: Client, job: Job) -> None:
    cast.make_panel(job)
    response = office_client.get("/panels/?job=0412", headers={"HX-Request": "true"})
    html = response.content.decode()
    assert html.lstrip().startswith('<div id="list"')
    assert 'id="queues" hx-swap-oob="true"' in html
    assert "<form" not in html
    assert "HX-Request" in response.headers["Vary"]
    headers = {"HX-Request": "true", "HX-History-Restore-Request": "true"}
    restored = office_client.get("/panels/", headers=headers).content.decode()
    assert "<!doctype html>" in restored
    assert "hx-swap-oob" not in restored


@pytest.mark.parametrize("query", ["", "?waits=beveling", "?state=ready"])
def test_queries_do_not_grow_with_the_panels(office_client: Client, query: str) -> None:
    def fill(first: int, number: int) -> None:
        for one in range(first, first + number):
            job = cast.make_job(f"{one:04}")
            panel = cast.make_panel(job, where=f"Rack {one}")
            finish(cast.operation_of(panel, "Cutting"))
            cast.make_gate(job, "glass")
            Hold.objects.create(panel=panel, reason="?", since=at(2), held_by="Nora")
            other = cast.make_panel(job, 2)
            plan(cast.operation_of(other, "Cutting"), at(3), at(4), one, cast.person("Mara"))

    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            html_of(office_client, query)
        return len(found)

    fill(1, 1)
    few = queries()
    fill(2, 29)
    assert queries() == few
    assert few <= 18
