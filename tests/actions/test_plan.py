"""Making the dates anew: what is kept is what the planner says, and nobody waits or loses by it."""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from io import StringIO
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError
from django.test import Client
from django.utils import timezone

from jobs import planning
from jobs.actions import plan as plan_action
from jobs.actions.base import mark_out_of_date
from jobs.actions.leases import DATES, hold
from jobs.actions.plan import dates_for_reader, read, renew, replan
from jobs.management.commands import worker
from jobs.models import Job, Lease, LoadWeek, Operation, PlanState, Projection, Station, Tap
from jobs.snapshot import read_shop
from jobs.tasks import dates as tasks
from jobs.tasks import queue
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")

NOW = at(2, "10:00")
FEW = 50


@pytest.fixture
def job() -> Job:
    job = cast.make_job(wanted_by=date(2026, 3, 9))
    cast.make_panel(job)
    return job


def planned(**values: Any) -> PlanState:
    return replan(**{"at": NOW, "futures": FEW} | values)


def test_what_the_planner_says_is_kept(job: Job) -> None:
    expected = planning.plan(read_shop(NOW), now=NOW, seed=1, futures=FEW)
    state = planned()
    assert not state.out_of_date
    assert (state.planned_at, state.seed, state.futures) == (NOW, 1, FEW)
    assert state.tightest_id == expected.tightest
    kept = Projection.objects.get(job=job)
    window = expected.jobs[job.pk]
    assert (kept.p50, kept.p80, kept.p95) == (window.p50, window.p80, window.p95)
    assert kept.confident_day == expected.day_for(job.pk, 0.8)
    assert kept.chance == expected.chance(job.pk, date(2026, 3, 9))
    panel = job.panels.get()
    assert Projection.objects.get(panel=panel).p80 == expected.panels[panel.pk].p80
    for operation in Operation.objects.all():
        own, said = Projection.objects.get(operation=operation), expected.operations[operation.pk]
        assert (own.start, own.finish, own.person_id, own.rank) == (
            said.start,
            said.finish,
            said.person,
            said.rank,
        )
        assert said.finish_window is not None
        assert own.p95 == said.finish_window.p95
    kept_load = LoadWeek.objects.values_list("station", "week", "work", "work_80", "capacity")
    assert sorted(kept_load) == sorted(
        (w.station, w.week, w.work_minutes, w.work_minutes_80, w.capacity_minutes) for w in expected.load
    )


def test_a_week_without_a_minute_left_does_not_cost_the_dates(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = planning.plan

    def overdrawn(*args: Any, **values: Any) -> planning.Plan:
        found = real(*args, **values)
        return replace(found, load=tuple(replace(week, capacity_minutes=-7) for week in found.load))

    monkeypatch.setattr(planning, "plan", overdrawn)
    assert not planned().out_of_date
    assert set(LoadWeek.objects.values_list("capacity", flat=True)) == {0}


def test_a_job_without_a_day_has_a_date_and_no_chance() -> None:
    job = cast.make_job()
    cast.make_panel(job)
    planned()
    assert Projection.objects.get(job=job).chance is None
    assert Projection.objects.get(job=job).confident_day is not None


def test_a_plan_up_to_date_is_left_alone_unless_forced(job: Job) -> None:
    planned()
    later = NOW + timedelta(minutes=5)
    assert planned(at=later).planned_at == NOW
    assert planned(at=later, force=True).planned_at == later
    # Somebody with an older clock does not put older dates back.
    assert planned(at=NOW, force=True).planned_at == later


def test_the_dates_of_a_closed_job_go(job: Job) -> None:
    planned()
    Job.objects.filter(pk=job.pk).update(stage="cancelled")
    mark_out_of_date()
    planned()
    assert Projection.objects.count() == 0


def test_what_cannot_be_planned_is_named_and_the_rest_is_planned(job: Job) -> None:
    other = cast.make_job("0413")
    cast.make_panel(other, kinds=("Blasting",))  # Nobody of the cast works there.
    state = planned()
    assert [problem["job"] for problem in state.problems] == [other.pk]
    assert "0413" in state.problems[0]["sentence"]
    assert Projection.objects.filter(job=job).exists()
    assert not Projection.objects.filter(job=other).exists()


def while_planning(monkeypatch: pytest.MonkeyPatch, happens: Callable[[], Any]) -> None:
    """Let something happen after the shop was read and before its dates are kept."""
    real = planning.plan

    def plan(*args: Any, **values: Any) -> planning.Plan:
        found = real(*args, **values)
        monkeypatch.setattr(planning, "plan", real)
        happens()
        return found

    monkeypatch.setattr(planning, "plan", plan)


def test_a_write_while_it_is_planned_leaves_the_dates_out_of_date(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    while_planning(monkeypatch, mark_out_of_date)
    assert planned().out_of_date
    assert Projection.objects.filter(job=job).exists()
    assert not planned().out_of_date


def test_who_slept_while_others_took_over_keeps_nothing(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    def somebody_else() -> None:
        Lease.objects.update(until=timezone.now() - timedelta(seconds=1))
        planned(at=NOW + timedelta(minutes=1))

    while_planning(monkeypatch, somebody_else)
    # Its own plan would be of a later time.
    state = planned(at=NOW + timedelta(minutes=2))
    assert not state.out_of_date
    assert state.planned_at == NOW + timedelta(minutes=1)
    assert not Lease.objects.exists()


def test_what_somebody_else_is_planning_is_not_planned_too(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_action, "PATIENCE", 0)
    seen = []
    while_planning(monkeypatch, lambda: seen.extend([planned().planned_at, renew(at=NOW).planned_at]))
    assert planned().planned_at == NOW
    assert seen == [None, None]


def test_what_was_planned_meanwhile_is_not_planned_again(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody who waits until another has made dates finds them made."""
    real = plan_action.hold

    def another_comes_first(name: str, *, wait: float = 0) -> Any:
        monkeypatch.setattr(plan_action, "hold", real)
        planned()
        return real(name, wait=wait)

    monkeypatch.setattr(plan_action, "hold", another_comes_first)
    assert planned(at=NOW + timedelta(minutes=1)).planned_at == NOW


def test_what_is_deleted_while_it_is_planned_is_left_out(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    while_planning(monkeypatch, Operation.objects.filter(kind__name="Assembly").delete)
    planned()
    assert Projection.objects.filter(operation__isnull=False).count() == 2


def test_a_shop_that_is_written_while_it_is_read_is_read_again(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    times = []

    def read_while_somebody_writes(when: Any) -> planning.Shop:
        times.append(when)
        shop = read_shop(when)
        if len(times) == 1:
            mark_out_of_date()
        return shop

    monkeypatch.setattr(plan_action, "read_shop", read_while_somebody_writes)
    reading = read(NOW)
    assert (len(times), reading.settled) == (2, True)
    assert reading.revision == PlanState.current().revision


def test_a_shop_that_never_rests_counts_as_out_of_date(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    def read_while_somebody_writes(when: Any) -> planning.Shop:
        mark_out_of_date()
        return read_shop(when)

    monkeypatch.setattr(plan_action, "read_shop", read_while_somebody_writes)
    assert not read(NOW).settled
    assert planned().out_of_date


def test_rows_that_contradict_each_other_are_an_error_only_when_they_stay(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def torn(when: Any) -> planning.Shop:
        raise ValueError("Operation 7 belongs to an unknown job 3")

    monkeypatch.setattr(plan_action, "read_shop", torn)
    with pytest.raises(ValueError, match="unknown job"):
        read(NOW)


def test_planning_holds_no_transaction(
    job: Job, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    """The test's own transaction is the only one open while the floor is run."""
    from django.db import connection

    outside = len(connection.savepoint_ids)
    depths = []
    while_planning(monkeypatch, lambda: depths.append(len(connection.savepoint_ids)))
    planned()
    assert depths == [outside]


@pytest.mark.parametrize("jobs", [2, 40])
def test_the_number_of_queries_does_not_grow(jobs: int, django_assert_num_queries: Any) -> None:
    for number in range(jobs):
        cast.make_panel(cast.make_job(f"{number:04}"))
    with django_assert_num_queries(55):
        planned()


class TestReaders:
    def test_the_first_reader_gets_dates(self, job: Job) -> None:
        assert dates_for_reader(NOW).planned_at == NOW

    def test_dates_just_made_are_shown_as_they_are_while_they_are_renewed(self, job: Job) -> None:
        planned()
        mark_out_of_date()
        state = dates_for_reader(NOW + timedelta(seconds=19))
        assert state.out_of_date
        assert state.planned_at == NOW

    def test_where_no_worker_renews_them_the_reader_does(self, job: Job) -> None:
        planned()
        mark_out_of_date()
        state = dates_for_reader(NOW + timedelta(seconds=20))
        assert not state.out_of_date

    def test_dates_age_by_themselves(self, job: Job) -> None:
        planned()
        assert dates_for_reader(NOW + timedelta(minutes=59)).planned_at == NOW
        later = NOW + timedelta(minutes=60)
        assert dates_for_reader(later).planned_at == later

    def test_they_are_left_to_a_worker_that_lives(self, job: Job) -> None:
        planned()
        mark_out_of_date()
        with queue.alive():
            assert dates_for_reader(NOW + timedelta(minutes=74)).planned_at == NOW
            # It lives and does not do it.
            later = NOW + timedelta(minutes=75)
            assert dates_for_reader(later).planned_at == later

    def test_a_second_reader_does_not_wait_for_the_first(self, job: Job) -> None:
        planned()
        mark_out_of_date()
        with hold(DATES):
            assert dates_for_reader(NOW + timedelta(minutes=2)).planned_at == NOW

    @pytest.mark.parametrize(
        "trouble", [OperationalError("database is locked"), KeyError(7), ZeroDivisionError()]
    )
    def test_trouble_of_any_kind_shows_the_old_dates_and_says_so(
        self, job: Job, lead_client: Client, monkeypatch: pytest.MonkeyPatch, trouble: Exception
    ) -> None:
        planned()
        mark_out_of_date()

        def locked(**values: Any) -> PlanState:
            raise trouble

        monkeypatch.setattr(plan_action, "renew", locked)
        assert dates_for_reader(NOW + timedelta(minutes=2)).planned_at == NOW
        assert "they could not be renewed" in lead_client.get("/dates/").content.decode()


def printed(*args: str) -> str:
    out = StringIO()
    call_command("replan", "--at", "2026-03-02T10:00", "--futures", str(FEW), *args, stdout=out)
    return out.getvalue()


class TestCommands:
    def test_replan_prints_a_line_a_job(self, job: Job) -> None:
        lines = printed().splitlines()
        assert len(lines) == 2
        assert lines[1].startswith("0412 ")
        assert "2026-03-09" in lines[1]

    def test_replan_prints_the_same_twice(self, job: Job) -> None:
        assert printed("--seed", "7") == printed("--seed", "7")
        assert PlanState.current().seed == 7

    def test_replan_prints_the_dates_of_the_time_asked_for_though_newer_ones_are_kept(self, job: Job) -> None:
        once = printed("--json")
        newer = NOW + timedelta(hours=3)
        replan(at=newer, force=True)
        assert printed("--json") == once
        assert PlanState.current().planned_at == newer

    def test_dates_of_a_time_to_come_are_printed_and_not_kept(
        self, job: Job, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(timezone, "now", lambda: NOW - timedelta(hours=1))
        assert "0412" in printed("--json")
        assert PlanState.current().planned_at is None

    def test_replan_says_what_cannot_be_planned(self, job: Job) -> None:
        other = cast.make_job("0413")
        cast.make_panel(other, kinds=("Blasting",))
        text = printed()
        assert "0413" in text
        assert "no date" in text
        assert text.splitlines()[-1] == PlanState.current().problems[0]["sentence"]

    def test_replan_as_json(self, job: Job) -> None:
        found = json.loads(printed("--json"))
        assert found["planned_at"] == "2026-03-02T10:00:00+01:00"
        assert found["tightest"] in set(Station.objects.values_list("name", flat=True))
        (row,) = found["jobs"]
        assert (row["number"], row["due"]) == ("0412", "2026-03-09")
        assert row["p50"] <= row["p80"] <= row["p95"]

    def test_replan_can_be_quiet(self, job: Job) -> None:
        assert printed("--quiet") == ""
        assert Projection.objects.exists()

    @pytest.mark.parametrize(
        "args", [("--at", "yesterday"), ("--at", "2026-02-30T10:00"), ("--futures", "0"), ("--seed", "-1")]
    )
    def test_replan_refuses_what_it_cannot_read(self, args: tuple[str, str]) -> None:
        with pytest.raises(CommandError):
            call_command("replan", *args)

    def test_the_worker_renews_what_is_out_of_date_and_only_that(self, job: Job) -> None:
        call_command("worker", "--once")
        first = PlanState.current()
        assert not first.out_of_date
        call_command("worker", "--once")
        assert PlanState.current().planned_at == first.planned_at
        mark_out_of_date()
        call_command("worker", "--once")
        assert not PlanState.current().out_of_date
        assert PlanState.current().planned_at != first.planned_at

    def test_the_worker_forgets_taps_after_thirty_days(self) -> None:
        now = timezone.now()
        for days in (29, 31):
            Tap.objects.create(client_id=uuid4(), at=now - timedelta(days=days), verb="start")
        call_command("worker", "--once")
        assert [(now - tap.at).days for tap in Tap.objects.all()] == [29]

    def test_the_worker_survives_trouble(self, monkeypatch: pytest.MonkeyPatch) -> None:
        def gone(**values: Any) -> PlanState:
            raise OperationalError("the database has gone away")

        monkeypatch.setattr(tasks, "renew", gone)
        assert worker.look("mine", queue.DATES) is False
        monkeypatch.undo()
        assert worker.look("mine", queue.DATES) is True
        assert not PlanState.current().out_of_date
