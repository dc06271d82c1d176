"""Rows -> planning input, by hand on a shop of a few operations."""

import math
from datetime import date, time, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from jobs import planning
from jobs.models import (
    ClosedDay,
    DayOff,
    ExtraHours,
    Hold,
    Job,
    Operation,
    OperationKind,
    Person,
    Promise,
    Skill,
    Station,
    TimeEntry,
)
from jobs.snapshot import read_shop
from jobs.snapshot.read import bridged
from tests import cast
from tests.cast import at
from tests.workshops import make_mill_panel, make_second

pytestmark = pytest.mark.usefixtures("shop")

MONDAY = at(2, "10:00")


def told(operation: Operation, when: Any = MONDAY) -> planning.Operation:
    """What the planner is told about an operation."""
    return {each.id: each for each in read_shop(when).operations}[operation.pk]


def log(operation: Operation, who: str, start: str, minutes: int, day: int = 2, **values: Any) -> TimeEntry:
    begin = at(day, start)
    return TimeEntry.objects.create(
        person=cast.person(who),
        operation=operation,
        started_at=begin,
        stopped_at=begin + timedelta(minutes=minutes),
        minutes=minutes,
        **values,
    )


def test_a_tiny_shop_is_read_whole() -> None:
    job = cast.make_job(wanted_by=date(2026, 3, 20), weight=Decimal("2.5"))
    panel = cast.make_panel(job)
    cutting, beveling, assembly = (cast.operation_of(panel, k) for k in ("Cutting", "Beveling", "Assembly"))
    shop = read_shop(MONDAY)
    assert shop.zone == "Europe/Vienna"
    assert [(s.name, s.benches) for s in shop.stations] == [(name, 2) for name in cast.STATIONS]
    mara = next(person for person in shop.people if person.name == "Mara Lind")
    station = {s.name: s.pk for s in Station.objects.all()}
    assert dict(mara.skills) == {station["Beveling"]: 1.0, station["Cutting"]: 1.0}
    assert planning.Shift(0, time(8), time(12)) in mara.shifts
    assert len(mara.shifts) == 10
    assert shop.jobs == (planning.Job(job.pk, "0412", date(2026, 3, 20), 2.5),)
    assert [each.id for each in shop.operations] == [cutting.pk, beveling.pk, assembly.pk]
    assert told(beveling) == planning.Operation(
        id=beveling.pk,
        job=job.pk,
        panel=panel.pk,
        kind=beveling.kind_id,
        station=station["Beveling"],
        minutes=450,
        after=(cutting.pk,),
        quantity=10,
    )


def test_an_empty_studio_is_a_shop() -> None:
    Person.objects.all().delete()
    shop = read_shop(MONDAY)
    assert (shop.people, shop.jobs, shop.operations) == ((), (), ())


def test_the_last_promise_is_what_a_job_is_due_on(lead: Any) -> None:
    job = cast.make_job(wanted_by=date(2026, 3, 20))
    for day, clock in ((25, "09:00"), (27, "09:30")):
        Promise.objects.create(
            job=job, day=date(2026, 3, day), given_at=at(2, clock), given_by=lead, told="Father Aurel"
        )
    assert read_shop(MONDAY).jobs[0].due == date(2026, 3, 27)


@pytest.mark.parametrize("stage", ["enquiry", "quoted", "complete", "cancelled", "declined"])
def test_only_ordered_jobs_are_planned(stage: str) -> None:
    cast.make_panel(cast.make_job(stage=stage))
    shop = read_shop(MONDAY)
    assert (shop.jobs, shop.operations) == ((), ())


def test_finished_work_is_left_out_and_nothing_waits_for_it() -> None:
    panel = cast.make_panel(cast.make_job())
    cutting = cast.operation_of(panel, "Cutting")
    Operation.objects.filter(pk=cutting.pk).update(finished_at=at(2, "09:00"))
    assert cutting.pk not in {each.id for each in read_shop(MONDAY).operations}
    assert told(cast.operation_of(panel, "Beveling")).after == ()


def test_skipped_work_is_bridged() -> None:
    panel = cast.make_panel(cast.make_job())
    Operation.objects.filter(pk=cast.operation_of(panel, "Beveling").pk).update(skipped=True)
    assert told(cast.operation_of(panel, "Assembly")).after == (cast.operation_of(panel, "Cutting").pk,)


def test_bridging_goes_through_several_and_ends_in_a_circle() -> None:
    assert bridged(4, {4: [3, 9], 3: [2], 2: [1]}, {3, 2}) == (1, 9)
    assert bridged(3, {3: [2], 2: [1], 1: [2]}, {1, 2}) == ()
    assert bridged(1, {1: [2, 2]}, set()) == (2,)


def test_work_waits_only_for_the_gates_it_needs() -> None:
    job = cast.make_job()
    panel = cast.make_panel(job)
    drawing = cast.make_gate(job, "drawing", expected=date(2026, 3, 9))
    cast.make_gate(job, "deposit", cleared=date(2026, 3, 1))
    shop = read_shop(MONDAY)
    assert shop.gates == (
        planning.Gate(drawing.pk, "drawing approved", job.pk, date(2026, 3, 9), cleared=False),
    )
    assert told(cast.operation_of(panel, "Cutting")).gates == (drawing.pk,)
    assert told(cast.operation_of(panel, "Assembly")).gates == ()


@pytest.mark.parametrize("on", ["operation", "panel", "job"])
def test_a_hold_holds_what_it_is_on(on: str) -> None:
    panel = cast.make_panel(cast.make_job())
    cutting = cast.operation_of(panel, "Cutting")
    held = {"operation": cutting, "panel": panel, "job": panel.job}[on]
    hold = Hold.objects.create(
        **{on: held}, reason="late glass", since=at(2), held_by="Nora", until=date(2026, 3, 6)
    )
    assert (told(cutting).held, told(cutting).held_until) == (True, date(2026, 3, 6))
    assert told(cast.operation_of(panel, "Beveling")).held is (on != "operation")
    Hold.objects.filter(pk=hold.pk).update(released_at=at(2, "09:00"))
    assert not told(cutting).held


def test_of_two_holds_the_later_day_counts_and_one_without_a_day_has_none() -> None:
    panel = cast.make_panel(cast.make_job())
    cutting = cast.operation_of(panel, "Cutting")
    hold = {"reason": "late glass", "since": at(2), "held_by": "Nora"}
    Hold.objects.create(operation=cutting, until=date(2026, 3, 6), **hold)
    Hold.objects.create(panel=panel, until=date(2026, 3, 9), **hold)
    assert told(cutting).held_until == date(2026, 3, 9)
    Hold.objects.create(job=panel.job, **hold)
    assert (told(cutting).held, told(cutting).held_until) == (True, None)


def test_hours_that_count_are_spent_at_pace_one() -> None:
    panel = cast.make_panel(cast.make_job())
    beveling = cast.operation_of(panel, "Beveling")
    log(beveling, "Mara", "08:00", 60)
    log(beveling, "Ilse", "08:00", 50)  # At her pace of 0.8 that is 40 minutes of the estimate.
    log(beveling, "Jonas", "08:00", 7)  # Somebody without the skill counts as he is.
    log(beveling, "Mara", "09:00", 30, voided_at=at(2, "09:40"))
    log(beveling, "Mara", "09:30", 20, questioned=True)
    assert told(beveling).spent == 60 + 40 + 7


def test_a_crew_shares_what_it_logs() -> None:
    job = cast.make_job()
    kind = OperationKind.objects.get(name="Delivery")
    delivery = Operation.objects.create(job=job, kind=kind, estimate=120)
    log(delivery, "Jonas", "08:00", 60)
    assert told(delivery).spent == 60
    log(delivery, "Mara", "08:00", 60)
    assert (told(delivery).spent, told(delivery).crew) == (60, 2)
    log(delivery, "Ilse", "08:00", 60)
    assert told(delivery).spent == 90


def test_a_running_timer_counts_up_to_now_without_the_break() -> None:
    beveling = cast.operation_of(cast.make_panel(cast.make_job()), "Beveling")
    TimeEntry.objects.create(person=cast.person("Mara"), operation=beveling, started_at=at(2, "11:00"))
    assert told(beveling, at(2, "13:00")).spent == 90
    assert told(beveling, at(2, "16:30")).spent == 300
    # Left on: nobody has said yet when the work stopped.
    assert told(beveling, at(2, "20:00")).spent == 0
    assert told(beveling, at(4, "09:00")).spent == 0


def test_the_timer_of_somebody_who_left_does_no_harm() -> None:
    beveling = cast.operation_of(cast.make_panel(cast.make_job()), "Beveling")
    TimeEntry.objects.create(person=cast.person("Mara"), operation=beveling, started_at=at(2, "09:00"))
    Person.objects.filter(name="Mara Lind").update(active=False)
    assert told(beveling).spent == 60
    assert "Mara Lind" not in {person.name for person in read_shop(MONDAY).people}


def test_a_cure_under_way_ends_when_its_row_says_so() -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cure", "Assembly"))
    cure, assembly = cast.operation_of(panel, "Cure"), cast.operation_of(panel, "Assembly")
    Operation.objects.filter(pk=cure.pk).update(started_at=at(2, "09:00"), finished_at=at(3, "15:00"))
    assert (told(cure).started, told(cure).minutes) == (at(2, "09:00"), 30 * 60)
    assert told(assembly).after == (cure.pk,)
    plan = planning.plan(read_shop(MONDAY), now=MONDAY, futures=10)
    assert plan.operations[cure.pk].finish == at(3, "15:00")
    assert told(assembly, at(3, "15:00")).after == ()


def test_what_is_pinned_kept_and_let_start_early_is_told() -> None:
    beveling = cast.operation_of(cast.make_panel(cast.make_job()), "Beveling")
    mara, ilse = cast.person("Mara"), cast.person("Ilse")
    Operation.objects.filter(pk=beveling.pk).update(
        keeper=mara,
        pinned_person=ilse,
        pinned_place=-3,
        early=True,
        quantity_done=4,
        started_at=at(2, "09:00"),
    )
    known = told(beveling)
    assert (known.keeper, known.pinned_person, known.place, known.early) == (mara.pk, ilse.pk, -3, True)
    assert (known.quantity_done, known.started) == (4, at(2, "09:00"))


def test_of_several_that_one_person_keeps_the_last_worked_on_is_on_the_bench() -> None:
    """The others are for whoever is free; no row changes by it."""
    mara = cast.person("Mara")
    first, second, third = (
        cast.operation_of(cast.make_panel(cast.make_job(number), kinds=("Beveling",)), "Beveling")
        for number in ("0412", "0413", "0414")
    )
    Operation.objects.update(keeper=mara)
    log(second, "Mara", "08:00", 30)
    log(first, "Mara", "08:30", 15)
    assert [told(row).keeper for row in (first, second, third)] == [mara.pk, None, None]
    TimeEntry.objects.create(person=mara, operation=third, started_at=at(2, "08:10"))
    assert [told(row).keeper for row in (first, second, third)] == [None, None, mara.pk]
    assert Operation.objects.filter(keeper=mara).count() == 3


def test_inactive_people_and_stations_are_left_out() -> None:
    Person.objects.filter(name="Ilse Roth").update(active=False)
    Station.objects.filter(name="Blasting").update(active=False)
    shop = read_shop(MONDAY)
    assert {person.name for person in shop.people} == {"Mara Lind", "Jonas Beck"}
    assert "Blasting" not in {station.name for station in shop.stations}


def test_free_days_and_extra_hours_are_told() -> None:
    mara = cast.person("Mara")
    DayOff.objects.create(person=mara, first=date(2026, 2, 20), last=date(2026, 3, 3))
    ClosedDay.objects.create(day=date(2026, 4, 6), name="Easter Monday")
    ExtraHours.objects.create(person=mara, day=date(2026, 3, 7), start=time(8), stop=time(12))
    shop = read_shop(MONDAY)
    told_mara = next(person for person in shop.people if person.id == mara.pk)
    assert told_mara.days_off == {date(2026, 3, 2), date(2026, 3, 3)}
    assert told_mara.extra == ((date(2026, 3, 7), time(8), time(12)),)
    assert shop.closed == {date(2026, 4, 6)}


def finish(kind: str, minutes: int, day: int, number: str, who: str = "Mara", **values: Any) -> Operation:
    """A finished operation of a complete job, with hours of one person."""
    job = Job.objects.filter(number=number).first() or cast.make_job(number, stage="complete")
    operation = Operation.objects.create(
        job=job,
        kind=OperationKind.objects.get(name=kind),
        **{"estimate": 100, "started_at": at(day), "finished_at": at(day, "17:00")} | values,
    )
    if minutes:
        log(operation, who, "08:00", minutes, day=day)
    return operation


def history(kind: str) -> tuple[float, ...]:
    return next(each.log_ratios for each in read_shop(MONDAY + timedelta(days=28)).kinds if each.name == kind)


def test_finished_work_teaches_its_ratio_oldest_first() -> None:
    finish("Beveling", 150, 5, "0390")
    finish("Beveling", 80, 3, "0391")
    finish("Beveling", 100, 4, "0392", who="Ilse")
    assert history("Beveling") == pytest.approx([math.log(0.8), math.log(0.8), math.log(1.5)])
    assert history("Assembly") == ()


def test_work_without_hours_or_estimate_or_skipped_teaches_nothing() -> None:
    finish("Beveling", 0, 3, "0390")
    finish("Beveling", 50, 3, "0391", estimate=0)
    finish("Beveling", 50, 3, "0392", skipped=True)
    finish("Beveling", 50, 3, "0393", finished_at=None)
    finish("Cure", 0, 3, "0394", estimate=30)
    assert history("Beveling") == ()
    assert history("Cure") == ()


def test_outside_work_teaches_the_days_it_was_away() -> None:
    finish("Lamination", 0, 3, "0390", estimate=1440, finished_at=at(5))
    assert history("Lamination") == pytest.approx([math.log(2)])


def test_skill_changes_the_ratio_by_the_pace() -> None:
    finish("Beveling", 100, 3, "0390")
    Skill.objects.filter(person__name="Mara Lind", station__name="Beveling").update(pace=Decimal("1.25"))
    assert history("Beveling") == pytest.approx([math.log(1.25)])


def test_only_the_last_of_a_long_history_count(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("jobs.snapshot.history.MOST", 2)
    for day, minutes in ((3, 300), (4, 120), (5, 140)):
        finish("Beveling", minutes, day, f"039{day}")
    assert history("Beveling") == pytest.approx([math.log(1.2), math.log(1.4)])


class TestPresence:
    """Mara is busy all day and logs 7 of her 8 hours; Ilse waits for work and logs 3; Jonas logs nothing."""

    def paces(self) -> dict[str, float]:
        bench = Station.objects.get(name="Beveling").pk
        shop = read_shop(MONDAY)
        return {person.name: person.skills[bench] for person in shop.people if bench in person.skills}

    def weeks(self, number: int, mara: int = 420, ilse: int = 180) -> None:
        operation = finish("Beveling", 0, 2, "0300", estimate=0)
        for day in range(1, 7 * number + 1):
            when = MONDAY - timedelta(days=day)
            if when.weekday() < 5:
                for who, minutes in (("Mara", mara), ("Ilse", ilse)):
                    TimeEntry.objects.create(
                        person=cast.person(who),
                        operation=operation,
                        started_at=when.replace(hour=8),
                        stopped_at=when.replace(hour=8) + timedelta(minutes=minutes),
                        minutes=minutes,
                    )

    def test_paces_are_taken_down_by_what_the_busiest_third_logs(self) -> None:
        self.weeks(8)
        paces = self.paces()
        assert paces["Mara Lind"] == pytest.approx(420 / 480)
        assert paces["Ilse Roth"] == pytest.approx(0.8 * paces["Mara Lind"])

    def test_another_workshop_has_a_share_of_its_own(self) -> None:
        self.weeks(8)
        before = self.paces()
        mill = make_second()
        panel = make_mill_panel()
        for day in range(1, 57):
            when = MONDAY - timedelta(days=day)
            if when.weekday() < 5:
                TimeEntry.objects.create(
                    person=cast.person("Petra"),
                    operation=cast.operation_of(panel, "Beveling Mill Street"),
                    started_at=when.replace(hour=8),
                    stopped_at=when.replace(hour=14),
                    minutes=360,
                )
        assert self.paces() == before
        petra = next(person for person in read_shop(MONDAY).people if person.name == "Petra Lang")
        assert petra.skills[mill.stations.get(slug="beveling-mill-street").pk] == pytest.approx(360 / 480)

    def test_without_a_history_every_minute_at_work_is_work(self) -> None:
        self.weeks(3)
        assert self.paces() == {"Mara Lind": 1.0, "Ilse Roth": 0.8}

    def test_it_is_never_over_one_nor_under_a_half(self) -> None:
        self.weeks(8, mara=600)
        assert self.paces()["Mara Lind"] == 1.0
        TimeEntry.objects.update(minutes=190)
        assert self.paces()["Mara Lind"] == 0.5

    def test_a_single_day_says_nothing_of_anybody(self) -> None:
        self.weeks(8)
        jonas = cast.person("Jonas")
        DayOff.objects.create(person=jonas, first=date(2026, 1, 1), last=date(2026, 2, 26))
        friday = MONDAY - timedelta(days=3)
        TimeEntry.objects.create(
            person=jonas,
            operation=Operation.objects.get(),
            started_at=friday.replace(hour=8),
            stopped_at=friday.replace(hour=16),
            minutes=480,
        )
        assert self.paces()["Mara Lind"] == 0.875


@pytest.mark.parametrize("jobs", [2, 40])
def test_the_number_of_queries_does_not_grow(jobs: int, django_assert_num_queries: Any) -> None:
    for number in range(jobs):
        job = cast.make_job(f"{number:04}")
        panel = cast.make_panel(job)
        cast.make_gate(job, "drawing")
        Hold.objects.create(panel=panel, reason="late glass", since=at(2), held_by="Nora")
        log(cast.operation_of(panel, "Cutting"), "Mara", "08:00", 30)
        finish("Beveling", 80, 3, f"9{number:03}")
    TimeEntry.objects.create(
        person=cast.person("Mara"), operation=Operation.objects.earliest("pk"), started_at=at(2, "09:00")
    )
    with django_assert_num_queries(24):
        read_shop(timezone.now().replace(year=2026, month=3, day=2))
