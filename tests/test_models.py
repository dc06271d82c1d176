"""Row invariants that the database itself keeps, and the state of operations that follows from rows."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from jobs.models import (
    Hold,
    Job,
    Operation,
    Panel,
    Person,
    Projection,
    Shift,
    State,
    Station,
    Studio,
    TimeEntry,
)
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")


def state_of(operation: Operation, when: Any = None) -> str:
    return Operation.objects.with_state(when or at(2, "10:00")).get(pk=operation.pk).state


def refuse(make: Any) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        make()


def test_the_database_refuses_impossible_rows() -> None:
    mara = cast.person("Mara")
    panel = cast.make_panel(cast.make_job())
    cutting = cast.operation_of(panel, "Cutting")
    entry = {"person": mara, "operation": cutting, "started_at": at(2)}
    refuse(lambda: TimeEntry.objects.create(**entry, stopped_at=at(2), minutes=0))
    refuse(lambda: TimeEntry.objects.create(**entry, stopped_at=at(2, "09:00")))
    refuse(lambda: TimeEntry.objects.create(**entry, stopped_at=at(2, "09:00"), minutes=-1))
    refuse(lambda: Operation.objects.filter(pk=cutting.pk).update(estimate=-1))
    refuse(lambda: Operation.objects.filter(pk=cutting.pk).update(quantity_done=11))
    refuse(lambda: Operation.objects.filter(pk=cutting.pk).update(finished_at=at(2), keeper=mara))
    refuse(lambda: Panel.objects.filter(pk=panel.pk).update(width_mm=0))
    refuse(lambda: Job.objects.filter(pk=panel.job.pk).update(stage="somewhere"))
    refuse(lambda: Job.objects.filter(pk=panel.job.pk).update(weight=0))
    refuse(lambda: Studio.objects.create(pk=2))
    refuse(lambda: Person.objects.filter(pk=mara.pk).update(hourly_cost=-1))
    refuse(lambda: Shift.objects.filter(person=mara).update(stop="07:00"))
    refuse(lambda: Station.objects.filter(name="Cutting").update(benches=-1))
    hold = {"reason": "late glass", "since": at(2), "held_by": "Nora"}
    refuse(lambda: Hold.objects.create(**hold))
    refuse(lambda: Hold.objects.create(**hold, job=panel.job, panel=panel))
    refuse(lambda: Projection.objects.create(p50=at(2), p80=at(3), p95=at(4)))
    refuse(lambda: Projection.objects.create(job=panel.job, p50=at(4), p80=at(3), p95=at(2)))


def test_one_running_entry_per_person() -> None:
    mara = cast.person("Mara")
    cutting = cast.operation_of(cast.make_panel(cast.make_job()), "Cutting")
    first = TimeEntry.objects.create(person=mara, operation=cutting, started_at=at(2))
    refuse(lambda: TimeEntry.objects.create(person=mara, operation=cutting, started_at=at(2, "09:00")))
    TimeEntry.objects.create(person=cast.person("Jonas"), operation=cutting, started_at=at(2, "09:00"))
    first.voided_at = at(2, "09:30")
    first.save()
    TimeEntry.objects.create(person=mara, operation=cutting, started_at=at(2, "09:40"))
    assert TimeEntry.objects.running().count() == 2


def test_the_state_of_an_operation_follows_from_rows() -> None:
    job = cast.make_job()
    panel = cast.make_panel(job)
    cutting, beveling = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
    assert (state_of(cutting), state_of(beveling)) == (State.READY, State.WAITING)

    gate = cast.make_gate(job, "drawing", expected=at(4).date())
    assert state_of(cutting) == State.WAITING
    gate.cleared = at(2).date()
    gate.save()

    cutting.keeper = cast.person("Mara")
    cutting.save()
    assert state_of(cutting) == State.ON_BENCH

    hold = Hold.objects.create(operation=cutting, reason="crack in the sheet", since=at(2), held_by="Mara")
    assert state_of(cutting) == State.HELD
    assert state_of(beveling) == State.WAITING
    hold.released_at = at(2, "09:00")
    hold.save()

    cutting.keeper, cutting.finished_at = None, at(2, "09:30")
    cutting.save()
    assert (state_of(cutting), state_of(beveling)) == (State.DONE, State.READY)


def test_what_is_allowed_early_is_ready_though_something_before_it_is_open() -> None:
    panel = cast.make_panel(cast.make_job())
    beveling = cast.operation_of(panel, "Beveling")
    beveling.early = True
    beveling.save()
    assert state_of(beveling) == State.READY


def test_a_cure_is_done_when_its_time_has_come() -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cure", "Assembly"))
    cure, assembly = cast.operation_of(panel, "Cure"), cast.operation_of(panel, "Assembly")
    cure.started_at, cure.finished_at = at(2), at(2) + timedelta(hours=48)
    cure.save()
    assert (state_of(cure, at(3)), state_of(assembly, at(3))) == (State.ON_BENCH, State.WAITING)
    assert (state_of(cure, at(4)), state_of(assembly, at(4))) == (State.DONE, State.READY)


def test_holds_on_a_panel_and_on_a_job_hold_their_operations() -> None:
    job = cast.make_job()
    one, two = cast.make_panel(job, 1), cast.make_panel(job, 2)
    hold = Hold.objects.create(panel=one, reason="wrong glass", since=at(2), held_by="Nora")
    assert state_of(cast.operation_of(one, "Cutting")) == State.HELD
    assert state_of(cast.operation_of(two, "Cutting")) == State.READY
    hold.delete()
    Hold.objects.create(job=job, reason="not paid", since=at(2), held_by="Nora")
    assert state_of(cast.operation_of(two, "Cutting")) == State.HELD
