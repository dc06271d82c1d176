"""The floor: how each station stands, and what needs a decision."""

import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from jobs.actions import Actor, bench
from jobs.models import (
    Account,
    Customer,
    Hold,
    Job,
    Operation,
    Panel,
    Promise,
    Stage,
    State,
    Station,
    TimeEntry,
)
from jobs.models.floor import Week, read_floor
from jobs.models.standing import read_standing
from jobs.templatetags.floor import outline
from tests import cast
from tests.cast import at
from tests.pages.plans import load, plan, plan_job, settle

# Tuesday, 3 March 2026.
NOW = at(3, "10:00")


@pytest.fixture(autouse=True)
def tuesday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    settle(at(3, "09:45"))


def page(client: Client, **headers: str) -> str:
    # These tests write rows by hand, without the events by which the page knows that something has changed.
    cache.clear()
    response = client.get("/", headers=headers)
    assert response.status_code == 200
    return words(response.content.decode())


def words(html: str) -> str:
    """Its text, with one space between words."""
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def row(html: str, station: str) -> str:
    """The pane of one station."""
    found = re.search(rf'<article [^>]*id="station-{station}".*?</article>', html, re.S)
    assert found, station
    return words(found[0])


def rows(client: Client, station: str) -> str:
    return row(client.get("/").content.decode(), station)


def start(operation: Operation, name: str, clock: str = "08:30", day: int = 3) -> TimeEntry:
    person = cast.person(name)
    operation.keeper, operation.started_at = person, at(day, clock)
    operation.save()
    return TimeEntry.objects.create(person=person, operation=operation, started_at=at(day, clock))


def finish(operation: Operation, clock: str = "09:00", day: int = 3) -> None:
    operation.keeper, operation.finished_at = None, at(day, clock)
    operation.save()


def promise(job: Job, day: date, by: Account) -> Promise:
    return Promise.objects.create(job=job, day=day, given_at=at(2), given_by=by, told="Father Aurel")


# Who may see it


def test_a_tablet_is_sent_to_its_bench(tablet_client: Client) -> None:
    response = tablet_client.get("/")
    assert (response.status_code, response.headers["Location"]) == (302, "/bench/")


def test_nobody_sees_it_without_signing_in(client: Client, shop: None) -> None:
    assert client.get("/").headers["Location"] == "/sign-in/?next=/"


def test_it_is_only_looked_at(lead_client: Client) -> None:
    assert lead_client.post("/").status_code == 405


def test_the_lead_goes_to_the_bench_and_the_office_to_its_queue(
    lead_client: Client, office_client: Client
) -> None:
    assert 'href="/bench/beveling/"' in lead_client.get("/").content.decode()
    html = office_client.get("/").content.decode()
    assert 'href="/bench/' not in html
    assert 'href="/panels/?waits=beveling"' in html


# The stations


def test_an_empty_floor_says_so(lead_client: Client) -> None:
    html = page(lead_client)
    assert "Nothing needs a decision today" in html
    assert html.count("Nobody is at it.") == len(cast.STATIONS)
    assert html.count("Nothing is on its way.") == len(cast.STATIONS)
    assert "No plan yet." in html
    assert "is the tightest" not in html


def test_without_stations_the_lead_is_sent_to_set_them_up(lead_client: Client) -> None:
    Station.objects.update(active=False)
    assert "There is no station yet. Set up the studio first" in page(lead_client)


def test_stations_stand_in_the_order_of_the_work(lead_client: Client) -> None:
    Station.objects.filter(name="Blasting").update(place=0)
    Station.objects.filter(name="Cutting").update(place=9)
    html = page(lead_client)
    order = [
        html.index(f"{name} 0 of 2 benches in use")
        for name in ("Blasting", "Beveling", "Assembly", "Cutting")
    ]
    assert order == sorted(order)


def test_who_is_on_what_since_when(lead_client: Client) -> None:
    cutting = cast.operation_of(cast.make_panel(cast.make_job()), "Cutting")
    start(cutting, "Mara")
    found = rows(lead_client, "cutting")
    assert "1 of 2 benches in use" in found
    assert "0412/1 Light 1" in found
    assert "Mara Lind since 08:30" in found
    # An hour and a half on the timer, of an hour and a half.
    assert "1:30 of 1:30" in found


def test_what_rests_on_a_bench_is_there_still(lead_client: Client) -> None:
    cutting = cast.operation_of(cast.make_panel(cast.make_job()), "Cutting")
    entry = start(cutting, "Mara")
    entry.stopped_at, entry.minutes = at(3, "09:00"), 30
    entry.save()
    found = rows(lead_client, "cutting")
    assert "Mara Lind paused 0:30 of 1:30" in found
    assert "1 of 2 benches in use" in found


def test_a_crew_of_two_takes_one_bench(lead_client: Client) -> None:
    cutting = cast.operation_of(cast.make_panel(cast.make_job()), "Cutting")
    start(cutting, "Mara")
    TimeEntry.objects.create(person=cast.person("Jonas"), operation=cutting, started_at=at(3, "09:00"))
    found = rows(lead_client, "cutting")
    assert "1 of 2 benches in use" in found
    assert found.index("Mara Lind since 08:30") < found.index("Jonas Beck since 09:00")


def test_ready_waiting_and_held_in_panels_and_hours(lead_client: Client) -> None:
    job = cast.make_job()
    cast.make_panel(job, 1)
    two, three = cast.make_panel(job, 2), cast.make_panel(job, 3)
    finish(cast.operation_of(two, "Cutting"))
    Hold.objects.create(panel=three, reason="wrong glass", since=at(3), held_by="Nora")
    html = lead_client.get("/").content.decode()
    assert "ready 1 (1:30) waiting 0 held 1 (1:30)" in row(html, "cutting")
    assert "ready 1 (7:30) waiting 1 (7:30) held 1 (7:30)" in row(html, "beveling")
    assert 'href="/panels/?waits=beveling&amp;state=held"' in html


def test_two_operations_of_a_panel_are_one_panel(lead_client: Client) -> None:
    panel = cast.make_panel(cast.make_job())
    cutting = cast.operation_of(panel, "Cutting")
    Operation.objects.create(
        job=panel.job, panel=panel, kind=cutting.kind, label="Cutting, border", estimate=30
    )
    assert "ready 1 (2:00)" in rows(lead_client, "cutting")


def test_hours_left_go_by_the_pieces_done(lead_client: Client) -> None:
    panel = cast.make_panel(cast.make_job())
    Operation.objects.filter(panel=panel, kind__name="Cutting").update(quantity_done=9)
    assert "ready 1 (0:09)" in rows(lead_client, "cutting")


def test_what_arrives_next_from_where_and_when(lead_client: Client) -> None:
    job = cast.make_job()
    one, two = cast.make_panel(job, 1), cast.make_panel(job, 2)
    plan(cast.operation_of(one, "Cutting"), at(3, "13:00"), at(3, "15:10"))
    plan(cast.operation_of(two, "Cutting"), at(3, "10:00"), at(3, "11:40"))
    plan(cast.operation_of(one, "Beveling"), at(4), at(5))
    plan(cast.operation_of(two, "Beveling"), at(5), at(6, "09:00"))
    html = lead_client.get("/").content.decode()
    assert "0412/2 Light 2 11:40, from cutting" in row(html, "beveling")
    assert "0412/1 Light 1 Thu 5 Mar, from beveling" in row(html, "assembly")
    assert "Nothing is on its way." in row(html, "cutting")


def test_what_comes_from_its_own_station_does_not_arrive(lead_client: Client) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting",))
    before = cast.operation_of(panel, "Cutting")
    again = Operation.objects.create(job=panel.job, panel=panel, kind=before.kind, estimate=30)
    again.after.add(before)
    plan(before, at(3), at(3, "12:00"))
    assert "Nothing is on its way." in rows(lead_client, "cutting")


def test_the_load_of_four_weeks_and_the_tightest_in_words(lead_client: Client) -> None:
    beveling = Station.objects.get(name="Beveling")
    for week, work in enumerate((20, 45, 40, 0, 50)):
        load(beveling, date(2026, 3, 2) + timedelta(weeks=week), work, 40)
    load(beveling, date(2026, 2, 23), 99, 40)
    settle(NOW, tightest=beveling)
    cast.make_panel(cast.make_job(), pieces=400)
    Operation.objects.filter(kind__name="Beveling").update(estimate=212 * 60)
    html = page(lead_client)
    assert "Beveling is the tightest: 212 h of work for 160 h in the next four weeks." in html
    found = rows(lead_client, "beveling")
    assert "the tightest" in found
    assert "this week 20 of 40 h 9 Mar 45 of 40 h, 5 over 16 Mar 40 of 40 h 23 Mar 0 of 40 h" in found
    assert "30 Mar" not in found


def test_a_week_is_over_by_the_hours_that_are_shown_and_its_bar_ends() -> None:
    monday = date(2026, 3, 2)
    assert Week(monday, 2429, 2400).over == 0
    assert Week(monday, 2430, 2400).over == 60
    assert Week(monday, 2400, 2430).over == 0
    # 16 of 16 h on the page, though 35 minutes lie between.
    assert Week(monday, 985, 950).over == 0
    assert [Week(monday, work, 2400).share for work in (0, 2400, 3600, 9000)] == [0, 66.7, 100, 100]
    assert [Week(monday, work, 0).share for work in (0, 60)] == [0, 100]


def test_what_cures_and_what_is_away(lead_client: Client) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cure", "Lamination"))
    cure = cast.operation_of(panel, "Cure")
    assert "ready 0412/1 Light 1" in page(lead_client)
    cure.started_at, cure.finished_at = at(2), at(4, "08:00")
    cure.save()
    assert "0412/1 Light 1 since Mon 2 Mar, until Wed 4 Mar" in page(lead_client)


def test_closed_jobs_are_not_on_the_floor(lead_client: Client) -> None:
    job = cast.make_job(stage=Stage.CANCELLED)
    cast.make_panel(job)
    cast.make_gate(job, "glass", expected=date(2026, 2, 2))
    Hold.objects.create(job=job, reason="not paid", since=at(2, month=2), held_by="Nora")
    html = page(lead_client)
    assert "0412" not in html
    assert "Nothing needs a decision today" in html


# What needs a decision


def test_promises_at_risk_the_broken_ones_first(lead_client: Client, lead: Account) -> None:
    sure, unsure, broken, unpromised = (
        cast.make_job(number, f"Window {number}") for number in ("0410", "0411", "0412", "0413")
    )
    for job in (sure, unsure, broken, unpromised):
        cast.make_panel(job)
    plan_job(sure, at(12), 0.8)
    plan_job(unsure, at(13), 0.42)
    plan_job(broken, at(16), 0.0)
    plan_job(unpromised, at(16), 0.1)
    promise(sure, date(2026, 3, 20), lead)
    promise(unsure, date(2026, 3, 12), lead)
    promise(broken, date(2026, 3, 2), lead)
    html = page(lead_client)
    assert "2 promises at risk" in html
    assert "0412 Window 0412 promised for Mon 2 Mar, not ready ; 80&nbsp;% by Mon 16 Mar" in html
    assert "0411 Window 0411 42 % for Thu 12 Mar; 80&nbsp;% by Fri 13 Mar" in html
    assert html.index("0412 Window") < html.index("0411 Window")
    assert "0410 Window" not in html
    assert "0413 Window" not in html


def test_only_the_last_promise_counts(lead_client: Client, lead: Account) -> None:
    job = cast.make_job()
    cast.make_panel(job)
    promise(job, date(2026, 3, 1), lead)
    Promise.objects.create(
        job=job, day=date(2026, 3, 20), given_at=at(3), given_by=lead, told="Father Aurel", reason="glass"
    )
    assert "at risk" not in page(lead_client)


def test_holds_that_are_due_or_forgotten(lead_client: Client) -> None:
    job = cast.make_job()
    one, two, three = (cast.make_panel(job, number) for number in (1, 2, 3))
    due = {"since": at(2), "until": date(2026, 3, 3), "held_by": "Mara"}
    Hold.objects.create(operation=cast.operation_of(one, "Beveling"), reason="glass missing", **due)
    Hold.objects.create(panel=two, reason="later", **due | {"until": date(2026, 3, 4)})
    Hold.objects.create(panel=two, reason="fresh", since=at(2), held_by="Nora")
    Hold.objects.create(panel=three, reason="no answer", since=at(20, month=2), held_by="Nora")
    Hold.objects.create(job=job, reason="not paid", since=at(23, month=2), held_by="Emil")
    html = page(lead_client)
    assert "3 holds to look at" in html
    assert "0412/1 Light 1 Beveling: glass missing , until Tue 3 Mar (Mara)" in html
    assert "0412/3 Light 3 no answer , since Fri 20 Feb (Nora)" in html
    assert "0412 Hall window not paid , since Mon 23 Feb (Emil)" in html
    assert "later" not in html
    assert "fresh" not in html


def test_a_hold_on_what_is_finished_is_moot(lead_client: Client) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting",))
    Hold.objects.create(panel=panel, reason="no answer", since=at(20, month=2), held_by="Nora")
    finish(cast.operation_of(panel, "Cutting"))
    assert "Nothing needs a decision today" in page(lead_client)


def test_timers_left_on(lead_client: Client, office_client: Client) -> None:
    job = cast.make_job()
    one, two = cast.make_panel(job, 1), cast.make_panel(job, 2)
    left = start(cast.operation_of(one, "Cutting"), "Mara", day=2)
    TimeEntry.objects.create(
        person=cast.person("Jonas"),
        operation=cast.operation_of(two, "Cutting"),
        started_at=at(2),
        stopped_at=at(2, "16:30"),
        minutes=480,
        questioned=True,
    )
    html = page(lead_client)
    assert "2 timers left on" in html
    assert "Mara Lind: Cutting, 0412/1 started Mon 2 Mar, 08:30, should have stopped Mon 2 Mar, 16:30" in html
    assert "Jonas Beck: Cutting, 0412/2" in html
    assert "Say when the work stopped" in html
    # The office does not answer for others, and a timer left on is nobody's work.
    assert "Say when the work stopped" not in page(office_client)
    assert "Mara Lind paused 0:00 of 1:30" in rows(lead_client, "cutting")
    left.delete()
    assert "1 timer left on" in page(lead_client)


def test_gates_that_are_overdue(lead_client: Client) -> None:
    job = cast.make_job()
    cast.make_panel(job)
    cast.make_gate(job, "drawing", expected=date(2026, 3, 2))
    cast.make_gate(job, "glass", expected=date(2026, 3, 3))
    cast.make_gate(job, "deposit", expected=date(2026, 3, 1), cleared=date(2026, 3, 2))
    html = page(lead_client)
    assert "1 overdue from outside" in html
    assert "drawing approved was expected Mon 2 Mar (Parish of the Two Rivers)" in html
    assert "glass in" not in html


def test_whom_to_call_has_their_number_beside_it(lead_client: Client) -> None:
    job = cast.make_job()
    cast.make_gate(job, "drawing", expected=date(2026, 3, 2))
    cast.make_panel(job)
    Customer.objects.update(phone="+43 (0) 660 123-45")
    assert (
        '<a class="call" href="tel:+43066012345">+43 (0) 660 123-45</a>'
        in lead_client.get("/").content.decode()
    )


def test_what_leaves_this_week(lead_client: Client, lead: Account) -> None:
    for number, day in (("0410", 6), ("0411", 12), ("0412", None)):
        job = cast.make_job(number, f"Window {number}")
        delivery = Operation.objects.create(
            job=job,
            kind=cast.OperationKind.objects.get(name="Delivery"),
            estimate=120,
        )
        if day:
            plan(delivery, at(day, "14:00"), at(day, "16:00"))
    promise(Job.objects.get(number="0412"), date(2026, 3, 8), lead)
    promise(
        Job.objects.get(number="0411"), date(2026, 3, 6), lead
    )  # It will not leave before it is planned to.
    html = page(lead_client)
    assert "Leaves this week" in html
    assert "0410 Window 0410 Delivery Fri 6 Mar" in html
    assert "0412 Window 0412 Delivery, not planned yet; promised for Sun 8 Mar" in html
    assert html.index("0410 Window 0410 Delivery") < html.index("0412 Window 0412 Delivery")
    assert "0411 Window" not in html.split("Stations")[0]
    # It is to be known, not to be decided.
    assert "Nothing needs a decision today" in html


def test_what_the_plan_cannot_answer(lead_client: Client) -> None:
    settle(NOW, problems=("Nobody can do Blasting.",))
    html = page(lead_client)
    assert "1 to decide today" in html
    assert "Nobody can do Blasting." in html


def test_what_the_plan_assumed_of_a_gate_is_not_said_twice(lead_client: Client) -> None:
    jobs = [cast.make_job(number) for number in ("0411", "0412")]
    for job in jobs:
        cast.make_gate(job, "glass", expected=date(2026, 3, 2))
    state = settle(NOW)
    said = [
        (jobs[0].pk, "0411: “glass in” was expected on 2 March; 6 March is assumed."),
        (jobs[1].pk, "0412: its window cannot be cut."),
        (None, "“glass in” is never cleared."),
    ]
    state.problems = [{"sentence": sentence, "job": job, "operation": None} for job, sentence in said]
    state.save()
    html = page(lead_client)
    assert "4 to decide today" in html
    assert "6 March is assumed" not in html
    assert said[1][1] in html
    assert said[2][1] in html


def test_a_drawing_is_filled_as_its_pieces_are_done(lead_client: Client) -> None:
    square = [[0, 0], [10.4, 0], [10.4, 9.6], [0, 9.6]]
    drawing = {"width": 600, "height": 900, "pieces": [{"points": square}] * 4}
    panel = cast.make_panel(cast.make_job(), drawing=drawing)
    cutting = cast.operation_of(panel, "Cutting")
    cutting.quantity_done = 5
    start(cutting, "Mara")
    html = lead_client.get("/").content.decode()
    path = "M0 0L10 0L10 10L0 10Z"
    assert f'<path class="outline-pieces" d="{path * 2}"/><path class="outline-done" d="{path * 2}"/>' in html
    assert outline(Panel.objects.get(pk=panel.pk)).path == path * 4
    Panel.objects.update(drawing=None)
    cache.clear()
    assert '<path class="outline' not in lead_client.get("/").content.decode()


def test_long_lists_are_cut_with_their_number(lead_client: Client) -> None:
    settle(NOW, problems=tuple(f"Sentence {number}." for number in range(30)))
    html = page(lead_client)
    assert "26 more" in html
    assert "Sentence 19." in html
    assert "Sentence 20." not in html
    assert "and 10 further ones" in html


# How it is made


def test_htmx_gets_the_floor_alone(lead_client: Client) -> None:
    response = lead_client.get("/", headers={"HX-Request": "true"})
    html = response.content.decode()
    assert html.lstrip().startswith('<div id="floor"')
    assert "HX-Request" in response.headers["Vary"]
    restored = lead_client.get("/", headers={"HX-Request": "true", "HX-History-Restore-Request": "true"})
    assert "<!doctype html>" in restored.content.decode()


def test_a_change_shows_at_once_though_the_floor_was_drawn_a_moment_ago(
    lead_client: Client, office_client: Client, lead: Account
) -> None:
    panel = cast.make_panel(cast.make_job())
    settle(NOW)

    def shown(client: Client) -> str:
        return words(client.get("/").content.decode())

    assert "Mara Lind" not in shown(lead_client)
    with CaptureQueriesContext(connection) as again:
        shown(lead_client)
    assert len(again) < 8
    mara = cast.person("Mara")
    bench.start(cast.operation_of(panel, "Cutting"), mara, by=Actor(lead, mara), at=NOW)
    assert "Mara Lind" in shown(lead_client)
    assert "Mara Lind" in shown(office_client)


def test_dates_out_of_date_are_made_anew(lead_client: Client) -> None:
    cast.make_panel(cast.make_job())
    state = settle(NOW - timedelta(minutes=5))
    state.revision, state.futures = 2, 50
    state.save()
    page(lead_client)
    state.refresh_from_db()
    assert not state.out_of_date


def fill(first: int, number: int, lead: Account) -> None:
    """Jobs with everything that the floor shows."""
    for one in range(first, first + number):
        job = cast.make_job(f"{one:04}", "Hall window")
        panel = cast.make_panel(job)
        promise(job, date(2026, 3, 2), lead)
        plan_job(job, at(12), 0.3)
        cast.make_gate(job, "deposit", expected=date(2026, 3, 1))
        Hold.objects.create(
            operation=cast.operation_of(panel, "Assembly"), reason="?", since=at(2, month=2), held_by="Nora"
        )
        for place, operation in enumerate(panel.operations.all()):
            plan(operation, at(4), at(5), place, cast.person("Mara"))


def test_queries_do_not_grow_with_the_floor(lead_client: Client, lead: Account) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            page(lead_client)
        return len(found)

    fill(1, 2, lead)
    start(Operation.objects.filter(kind__name="Cutting")[0], "Mara")
    few = queries()
    fill(3, 58, lead)
    start(Operation.objects.filter(kind__name="Cutting")[1], "Jonas", day=2)
    start(Operation.objects.filter(kind__name="Cutting")[2], "Ilse", day=2)
    assert queries() == few
    assert few <= 26  # One of them asks whether anything has changed since the floor was drawn.


def test_the_standing_reads_the_same_state_as_the_queryset(lead: Account) -> None:
    fill(1, 3, lead)
    finish(Operation.objects.filter(kind__name="Cutting")[0])
    start(Operation.objects.filter(kind__name="Cutting")[1], "Mara")
    standing = read_standing(NOW, cast.make_studio())
    states: dict[int, Any] = dict(Operation.objects.open(NOW).with_state(NOW).values_list("pk", "state"))
    assert {pk: work.state for pk, work in standing.work.items()} == states
    assert set(states.values()) == {State.READY, State.WAITING, State.HELD, State.ON_BENCH}
    floor = read_floor(standing, settle(NOW), cast.make_studio())
    assert [len(row.benches) for row in floor.stations] == [1, 0, 0, 0]
