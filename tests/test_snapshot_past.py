"""The floor as it stood: what was known then, and nothing of what came after."""

from datetime import date, time, timedelta
from typing import Any

import pytest

from jobs import planning
from jobs.actions.base import SYSTEM, Actor, record
from jobs.actions.bench import count_pieces, finish
from jobs.actions.pieces import mark_pieces
from jobs.models import (
    Account,
    Breakage,
    DayOff,
    Event,
    ExtraHours,
    Hold,
    Job,
    Operation,
    OperationKind,
    Panel,
    Person,
    Promise,
    TimeEntry,
)
from jobs.snapshot import read_shop, read_shop_then
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")

THEN = at(4, "10:00")


@pytest.fixture
def panel() -> Panel:
    """A panel ordered on Monday and finished since, with its job complete."""
    job = cast.make_job(ordered_at=at(2), stage="complete", closed_at=at(20))
    panel = cast.make_panel(job)
    Operation.objects.filter(panel=panel).update(started_at=at(5), finished_at=at(19))
    cutting = Operation.objects.filter(panel=panel, kind__name="Cutting")
    cutting.update(started_at=at(2, "09:00"), finished_at=at(3, "11:00"), quantity_done=10)
    return panel


def then(when: Any = THEN) -> dict[int, planning.Operation]:
    return {each.id: each for each in read_shop_then(when).operations}


def log(operation: Operation, who: str, day: int, minutes: int, **values: Any) -> TimeEntry:
    return TimeEntry.objects.create(
        person=cast.person(who),
        operation=operation,
        started_at=at(day),
        stopped_at=at(day) + timedelta(minutes=minutes),
        minutes=minutes,
        **values,
    )


def test_what_is_open_now_reads_the_same_both_ways() -> None:
    job = cast.make_job(ordered_at=at(2), wanted_by=date(2026, 3, 20))
    panel = cast.make_panel(job)
    cast.make_gate(job, "drawing", expected=date(2026, 3, 9))
    Hold.objects.create(panel=panel, reason="crack seen", since=at(3), held_by="Nora")
    log(cast.operation_of(panel, "Cutting"), "Jonas", 2, 60)
    Operation.objects.filter(panel=panel, kind__name="Cutting").update(
        started_at=at(2), keeper=cast.person("Jonas")
    )
    assert read_shop_then(THEN) == read_shop(THEN)


def test_work_that_was_open_then_is_open(panel: Panel) -> None:
    beveling, assembly = (cast.operation_of(panel, kind) for kind in ("Beveling", "Assembly"))
    assert set(then()) == {beveling.pk, assembly.pk}
    known = then()[beveling.pk]
    assert (known.started, known.spent, known.quantity_done, known.keeper) == (None, 0, 0, None)
    assert read_shop_then(THEN).jobs == (planning.Job(panel.job.pk, "0412", None),)
    assert set(then(at(2, "08:30"))) == set(panel.operations.values_list("pk", flat=True))
    assert read_shop_then(at(21)).jobs == ()


def test_a_job_is_open_from_its_order_to_its_close(panel: Panel) -> None:
    assert read_shop_then(at(1, "10:00")).jobs == ()
    for stage in ("enquiry", "quoted", "declined"):
        Job.objects.update(stage=stage)
        assert read_shop_then(THEN).jobs == ()
    Job.objects.update(stage="cancelled", closed_at=at(5))
    assert len(read_shop_then(THEN).jobs) == 1


def test_hours_and_pieces_count_as_far_as_they_had_come(panel: Panel) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    log(beveling, "Mara", 3, 120, pieces_done=3)
    log(beveling, "Mara", 5, 300, pieces_done=7)
    Operation.objects.filter(pk=beveling.pk).update(started_at=at(3), quantity_done=10)
    known = then()[beveling.pk]
    assert (known.spent, known.quantity_done) == (120, 3)
    assert (known.started, known.keeper) == (at(3), cast.person("Mara").pk)


def test_pieces_counted_later_are_not_the_number_of_pieces_there_were(panel: Panel) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    Operation.objects.filter(pk=beveling.pk).update(started_at=at(3), finished_at=None)
    Job.objects.update(stage="ordered", closed_at=None)
    log(beveling, "Mara", 3, 120, pieces_done=3)
    log(beveling, "Mara", 5, 60)
    by = Actor(person=cast.person("Mara"))
    for day, clock, more in ((5, "10:00", 4), (6, "10:00", 1)):
        count_pieces(beveling, cast.person("Mara"), add=more, by=by, at=at(day, clock))
    finish(beveling, cast.person("Mara"), all_done=True, by=by, at=at(9, "10:00"))
    told = Event.objects.filter(subject="operation", subject_id=beveling.pk).exclude(after={})
    assert any("pieces" in event.before for event in told), "the record tells of pieces done"
    known = then()[beveling.pk]
    assert (known.quantity, known.quantity_done) == (10, 3)


def test_marks_count_as_far_as_they_stood(panel: Panel, lead: Account) -> None:
    """A mark that was taken back since stood then, and one that was made since did not."""
    Operation.objects.filter(panel=panel, kind__name="Beveling").update(started_at=at(3), finished_at=None)
    Job.objects.update(stage="ordered", closed_at=None)
    pattern = cast.make_accepted(panel, lead)
    beveling, mara = cast.operation_of(panel, "Beveling"), cast.person("Mara")

    def mark(number: int, day: int, *, done: bool = True) -> None:
        mark_pieces(
            beveling,
            mara,
            pattern=pattern.pk,
            numbers=[number],
            step="coarse",
            done=done,
            by=Actor(person=mara),
            at=at(day, "09:00"),
        )

    mark(1, 3)
    mark(2, 5)
    one = beveling.marks.get(number=1).worth
    assert then()[beveling.pk].worked == pytest.approx(one)
    mark(1, 6, done=False)
    assert then()[beveling.pk].worked == pytest.approx(one)


def test_who_went_on_to_other_work_does_not_keep_it(panel: Panel) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    log(beveling, "Mara", 2, 120)
    other = cast.make_panel(cast.make_job("0413", ordered_at=at(2)))
    log(cast.operation_of(other, "Cutting"), "Mara", 3, 60)
    assert then()[beveling.pk].keeper is None
    assert then()[cast.operation_of(other, "Cutting").pk].keeper == cast.person("Mara").pk


def test_the_promise_that_held_then(panel: Panel, lead: Any) -> None:
    for day, given in ((10, at(3)), (19, at(6))):
        Promise.objects.create(
            job=panel.job, day=date(2026, 3, day), given_at=given, given_by=lead, told="Father Aurel"
        )
    assert read_shop_then(THEN).jobs[0].due == date(2026, 3, 10)


def test_gates_and_holds_of_then(panel: Panel) -> None:
    gate = cast.make_gate(panel.job, "drawing", expected=date(2026, 3, 9), cleared=date(2026, 3, 6))
    cutting = cast.operation_of(panel, "Cutting")
    hold = {"reason": "crack seen", "held_by": "Nora"}
    Hold.objects.create(panel=panel, since=at(2), released_at=at(5), **hold)
    assert then(at(2, "09:30"))[cutting.pk].gates == (gate.pk,)
    assert then()[cast.operation_of(panel, "Beveling").pk].held
    assert read_shop_then(at(6, "10:00")).gates == ()
    assert not then(at(5, "10:00"))[cast.operation_of(panel, "Beveling").pk].held


def test_work_done_again_was_not_there_before_the_breakage(panel: Panel) -> None:
    beveling, assembly = (cast.operation_of(panel, kind) for kind in ("Beveling", "Assembly"))
    breakage = Breakage.objects.create(operation=beveling, pieces=1, at=at(6))
    again = Operation.objects.create(
        job=panel.job,
        panel=panel,
        kind=OperationKind.objects.get(name="Cutting"),
        estimate=9,
        breakage=breakage,
        finished_at=at(9),
    )
    again.after.add(beveling)
    assembly.after.set([again])
    assert then()[assembly.pk].after == (beveling.pk,)
    assert then(at(6, "10:00"))[assembly.pk].after == (again.pk,)


def test_changes_on_record_are_put_back(panel: Panel) -> None:
    beveling, assembly = (cast.operation_of(panel, kind) for kind in ("Beveling", "Assembly"))
    gate = cast.make_gate(panel.job, "glass", expected=date(2026, 3, 16))
    later = {"by": SYSTEM, "at": at(6)}
    record("estimated anew", beveling, before={"minutes": 300}, **later)
    record("estimated anew", beveling, by=SYSTEM, at=at(9), before={"minutes": 400})
    record("expected", gate, before={"expected": date(2026, 3, 12)}, **later)
    record("skipped", assembly, **later)
    Operation.objects.filter(pk=assembly.pk).update(skipped=True, finished_at=None)
    assert then()[beveling.pk].minutes == 300
    assert then(at(7))[beveling.pk].minutes == 400
    assert read_shop_then(THEN).gates[0].expected == date(2026, 3, 12)
    assert assembly.pk in then()
    assert assembly.pk not in then(at(7))


def test_what_was_added_later_was_not_there(panel: Panel) -> None:
    other = cast.make_panel(panel.job, number=2)
    gate = cast.make_gate(panel.job, "drawing")
    beveling = cast.operation_of(panel, "Beveling")
    for row in (other, gate, beveling):
        record("added", row, by=SYSTEM, at=at(6))
    assert set(then()) == {cast.operation_of(panel, "Assembly").pk}
    assert then()[cast.operation_of(panel, "Assembly").pk].after == ()
    assert read_shop_then(THEN).gates == ()


def test_absences_written_down_later_were_not_known() -> None:
    mara = cast.person("Mara")
    holiday = DayOff.objects.create(person=mara, first=date(2026, 3, 9), last=date(2026, 3, 10))
    ill = DayOff.objects.create(person=mara, first=date(2026, 3, 12), last=date(2026, 3, 13))
    for day in (7, 14):
        ExtraHours.objects.create(person=mara, day=date(2026, 3, day), start=time(8), stop=time(12))
    record("gave days off to", mara, by=SYSTEM, at=at(12), after={"first": ill.first, "last": ill.last})
    record("gave extra hours to", mara, by=SYSTEM, at=at(13), after={"day": date(2026, 3, 14)})
    known = next(person for person in read_shop_then(THEN).people if person.id == mara.pk)
    assert known.days_off == {holiday.first, holiday.last}
    assert [day for day, _, _ in known.extra] == [date(2026, 3, 7)]


def test_people_who_left_were_there_and_later_ones_were_not(panel: Panel) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    log(beveling, "Mara", 3, 60)
    log(beveling, "Ilse", 9, 60)
    Person.objects.filter(name="Mara Lind").update(active=False)
    assert {person.name for person in read_shop_then(THEN).people} == {"Mara Lind", "Jonas Beck"}
    names = {person.name for person in read_shop_then(at(9, "10:00")).people}
    assert names == {"Mara Lind", "Jonas Beck", "Ilse Roth"}


def test_a_cure_that_had_begun_knew_its_end_and_outside_work_did_not() -> None:
    job = cast.make_job(ordered_at=at(2))
    panel = cast.make_panel(job, kinds=("Cure", "Lamination"))
    cure, lamination = (cast.operation_of(panel, kind) for kind in ("Cure", "Lamination"))
    Operation.objects.filter(panel=panel).update(started_at=at(3), finished_at=at(5))
    assert then()[cure.pk].minutes == 2 * 1440
    assert (then()[lamination.pk].minutes, then()[lamination.pk].started) == (240, at(3))
    assert then(at(2, "10:00"))[cure.pk].started is None
