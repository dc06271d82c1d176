"""The taps at a bench: start, pause, put back, pieces, finish, open again."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.bench import count_pieces, finish, pause, put_back, reopen, start
from jobs.actions.hours import answer
from jobs.models import (
    Account,
    Event,
    Hold,
    Job,
    Operation,
    Panel,
    Person,
    PlanState,
    Stage,
    State,
    Tap,
    TimeEntry,
)
from tests import cast
from tests.at_once import in_threads
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")


@pytest.fixture
def panel() -> Panel:
    return cast.make_panel(cast.make_job())


@pytest.fixture
def cutting(panel: Panel) -> Operation:
    return cast.operation_of(panel, "Cutting")


@pytest.fixture
def mara() -> Person:
    return cast.person("Mara")


@pytest.fixture
def jonas() -> Person:
    return cast.person("Jonas")


def by(person: Person) -> Actor:
    return Actor(person=person)


def again(row: Any) -> Any:
    row.refresh_from_db()
    return row


def state_of(operation: Operation, when: Any) -> str:
    return Operation.objects.with_state(when).get(pk=operation.pk).state


def test_a_morning_of_work(panel: Panel, cutting: Operation, mara: Person) -> None:
    before = PlanState.current().revision
    entry = start(cutting, mara, by=by(mara), at=at(2, "08:05"))
    assert (again(cutting).keeper, cutting.started_at) == (mara, at(2, "08:05"))
    assert again(panel).where == "Cutting"
    assert state_of(cutting, at(2, "08:06")) == State.ON_BENCH

    count_pieces(cutting, mara, add=5, by=by(mara), at=at(2, "09:00"))
    pause(cutting, mara, by=by(mara), at=at(2, "09:30"))
    assert (again(entry).minutes, entry.pieces_done, entry.questioned) == (85, 5, False)
    assert (again(cutting).keeper, cutting.quantity_done) == (mara, 5)

    second = start(cutting, mara, by=by(mara), at=at(2, "10:00"))
    finish(cutting, mara, by=by(mara), at=at(2, "10:20"))
    assert (again(second).minutes, second.pieces_done) == (20, 5)
    assert (again(cutting).finished_at, cutting.keeper, cutting.quantity_done) == (at(2, "10:20"), None, 10)
    assert state_of(cast.operation_of(panel, "Beveling"), at(2, "10:20")) == State.READY
    assert PlanState.current().revision == before + 5
    verbs = list(Event.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs == ["started", "counted", "paused", "started", "stopped", "finished"]
    assert {event.person for event in Event.objects.all()} == {mara}


def test_breaks_do_not_count_and_a_break_worked_through_does(cutting: Operation, mara: Person) -> None:
    # Mara's break is from 12:00 to 12:30.
    entry = start(cutting, mara, by=by(mara), at=at(2, "11:00"))
    pause(cutting, mara, by=by(mara), at=at(2, "13:00"))
    assert again(entry).minutes == 90
    assert (entry.started_at, entry.stopped_at) == (at(2, "11:00"), at(2, "13:00"))
    within = start(cutting, mara, by=by(mara), at=at(3, "12:05"))
    pause(cutting, mara, by=by(mara), at=at(3, "12:25"))
    assert again(within).minutes == 20


def test_the_night_of_a_clock_change_has_the_hours_that_pass(cutting: Operation, mara: Person) -> None:
    # In Vienna 2:00 to 3:00 of 29 March 2026 does not exist (Directive 2000/84/EC: last Sunday of March, 01:00 UTC).
    entry = start(cutting, mara, by=by(mara), at=at(28, "23:00"))
    pause(cutting, mara, by=by(mara), at=at(29, "04:00"))
    assert again(entry).minutes == 4 * 60
    # On 25 October 2026 the hour from 2:00 passes twice.
    back = start(cutting, mara, by=by(mara), at=at(24, "23:00", month=10))
    pause(cutting, mara, by=by(mara), at=at(25, "04:00", month=10))
    assert again(back).minutes == 6 * 60


def test_starting_other_work_stops_the_first(cutting: Operation, mara: Person) -> None:
    other = cast.operation_of(cast.make_panel(cutting.job, 2), "Cutting")
    first = start(cutting, mara, by=by(mara), at=at(2, "08:00"))
    second = start(other, mara, by=by(mara), at=at(2, "09:00"))
    assert (again(first).stopped_at, first.minutes) == (at(2, "09:00"), 60)
    assert again(second).is_running
    assert (again(cutting).keeper, again(other).keeper) == (mara, mara)


def test_the_same_tap_twice_is_one_entry(cutting: Operation, mara: Person) -> None:
    tap = uuid4()
    first = start(cutting, mara, by=by(mara), at=at(2, "08:00"), client_id=tap)
    assert start(cutting, mara, by=by(mara), at=at(2, "08:01"), client_id=tap) == first
    plus = uuid4()
    for _ in range(3):
        count_pieces(cutting, mara, add=1, by=by(mara), at=at(2, "08:30"), client_id=plus)
    assert again(cutting).quantity_done == 1
    stop = uuid4()
    assert pause(cutting, mara, by=by(mara), at=at(2, "09:00"), client_id=stop) == first
    assert pause(cutting, mara, by=by(mara), at=at(2, "09:10"), client_id=stop) == first
    done = uuid4()
    for minute in ("09:20", "09:21"):
        assert finish(cutting, mara, by=by(mara), at=at(2, minute), client_id=done) == cutting
    assert again(cutting).finished_at == at(2, "09:20")
    assert TimeEntry.objects.count() == 1


def test_a_tap_cannot_come_back_as_another(cutting: Operation, mara: Person) -> None:
    tap = uuid4()
    start(cutting, mara, by=by(mara), at=at(2, "08:00"), client_id=tap)
    with pytest.raises(Refused, match="sent once already"):
        finish(cutting, mara, by=by(mara), at=at(2, "08:00"), client_id=tap)


def test_a_refused_tap_leaves_nothing_and_may_be_tried_again(panel: Panel, mara: Person) -> None:
    beveling, tap = cast.operation_of(panel, "Beveling"), uuid4()
    with pytest.raises(Refused):
        start(beveling, mara, by=by(mara), at=at(2, "08:00"), client_id=tap)
    assert not Tap.objects.exists()
    finish(cast.operation_of(panel, "Cutting"), mara, by=by(mara), at=at(2, "08:10"))
    assert start(beveling, mara, by=by(mara), at=at(2, "08:20"), client_id=tap).is_running


def test_a_second_start_of_what_runs_changes_nothing(cutting: Operation, mara: Person) -> None:
    first = start(cutting, mara, by=by(mara), at=at(2, "08:00"))
    assert start(cutting, mara, by=by(mara), at=at(2, "08:10")) == first
    assert TimeEntry.objects.count() == 1


def test_what_may_not_start_is_refused_with_a_sentence(
    panel: Panel, cutting: Operation, mara: Person, jonas: Person
) -> None:
    def refused(operation: Operation, person: Person, sentence: str) -> None:
        with pytest.raises(Refused, match=sentence):
            start(operation, person, by=by(person), at=at(2, "09:00"))
        assert not TimeEntry.objects.exists()

    beveling = cast.operation_of(panel, "Beveling")
    refused(beveling, mara, "before Cutting is finished")
    refused(cutting, cast.person("Ilse"), "Cutting is not among the skills of Ilse Roth")
    gate = cast.make_gate(cutting.job, "drawing")
    refused(cutting, mara, "drawing approved")
    gate.delete()
    hold = Hold.objects.create(panel=panel, reason="wrong glass", since=at(2), held_by="Nora")
    refused(cutting, mara, "held: wrong glass")
    hold.delete()
    Job.objects.update(stage=Stage.CANCELLED)
    refused(cutting, mara, "cancelled")
    Job.objects.update(stage=Stage.QUOTED)
    refused(cutting, mara, "not ordered")
    Job.objects.update(stage=Stage.COMPLETE)
    refused(cutting, mara, "complete")
    Job.objects.update(stage=Stage.ORDERED)
    Operation.objects.filter(pk=cutting.pk).update(skipped=True)
    refused(cutting, mara, "left out")
    Operation.objects.filter(pk=cutting.pk).update(skipped=False, finished_at=at(2, "08:30"))
    refused(cutting, mara, "finished already")
    cure = cast.operation_of(cast.make_panel(cutting.job, 2, kinds=("Cure",)), "Cure")
    refused(cure, mara, "nobody’s time")
    Person.objects.filter(pk=mara.pk).update(active=False)
    refused(beveling, mara, "not on the list")


def test_what_the_lead_pins_needs_no_skill_and_is_meant_for_one(cutting: Operation, mara: Person) -> None:
    ilse = cast.person("Ilse")
    Operation.objects.filter(pk=cutting.pk).update(pinned_person=ilse)
    with pytest.raises(Refused, match="meant for Ilse Roth"):
        start(cutting, mara, by=by(mara), at=at(2, "08:00"))
    assert start(cutting, ilse, by=by(ilse), at=at(2, "08:00")).is_running


def test_what_is_early_may_start(panel: Panel, mara: Person) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    Operation.objects.filter(pk=beveling.pk).update(early=True)
    assert start(beveling, mara, by=by(mara), at=at(2, "08:00")).is_running


def test_two_who_start_the_same_work(cutting: Operation, mara: Person, jonas: Person) -> None:
    first = start(cutting, mara, by=by(mara), at=at(2, "08:00"))
    with pytest.raises(Refused, match="Mara Lind has it on the bench"):
        start(cutting, jonas, by=by(jonas), at=at(2, "08:30"))
    assert again(first).is_running
    second = start(cutting, jonas, by=by(jonas), at=at(2, "08:40"), take_over=True)
    assert again(first).stopped_at == at(2, "08:40")
    assert again(second).is_running
    assert again(cutting).keeper == jonas


def test_work_of_a_crew_runs_for_as_many_as_it_takes(mara: Person, jonas: Person) -> None:
    job = cast.make_job()
    delivery = Operation.objects.create(
        job=job, kind=cast.make_panel(job, kinds=("Delivery",)).operations.get().kind, estimate=120
    )
    Operation.objects.filter(pk=delivery.pk).update(pinned_person=None)
    ilse = cast.person("Ilse")
    for person in (mara, ilse):
        person.skills.create(station=delivery.kind.station)
    start(delivery, jonas, by=by(jonas), at=at(2, "08:00"))
    start(delivery, mara, by=by(mara), at=at(2, "08:10"))
    assert again(delivery).keeper == jonas
    with pytest.raises(Refused, match="takes 2 people"):
        start(delivery, ilse, by=by(ilse), at=at(2, "08:20"))
    finish(delivery, jonas, by=by(jonas), at=at(2, "10:00"))
    assert not TimeEntry.objects.running().exists()


def test_pause_and_put_back(cutting: Operation, mara: Person, jonas: Person) -> None:
    with pytest.raises(Refused, match="not running for Mara"):
        pause(cutting, mara, by=by(mara), at=at(2, "08:00"))
    with pytest.raises(Refused, match="not on a bench"):
        put_back(cutting, by=by(mara), at=at(2, "08:00"))
    entry = start(cutting, mara, by=by(mara), at=at(2, "08:00"))
    put_back(cutting, by=by(mara), at=at(2, "09:00"))
    assert (again(entry).minutes, again(cutting).keeper) == (60, None)
    assert state_of(cutting, at(2, "09:00")) == State.READY
    assert start(cutting, jonas, by=by(jonas), at=at(2, "09:10")).is_running


def test_a_timer_stopped_in_the_instant_it_started_was_a_slip(cutting: Operation, mara: Person) -> None:
    entry = start(cutting, mara, by=by(mara), at=at(2, "08:00"))
    pause(cutting, mara, by=by(mara), at=at(2, "08:00"))
    assert again(entry).voided_at == at(2, "08:00")
    assert not TimeEntry.objects.running().exists()


def test_pieces_stay_within_what_there_is(panel: Panel, cutting: Operation, mara: Person) -> None:
    start(cutting, mara, by=by(mara), at=at(2, "08:00"))
    count_pieces(cutting, mara, total=8, by=by(mara), at=at(2, "09:00"))
    with pytest.raises(Refused, match="10 pieces, 2 of them left"):
        count_pieces(cutting, mara, add=5, by=by(mara), at=at(2, "09:01"))
    with pytest.raises(Refused, match="fewer than no"):
        count_pieces(cutting, mara, total=-1, by=by(mara), at=at(2, "09:01"))
    count_pieces(cutting, mara, total=6, by=by(mara), at=at(2, "09:02"))
    assert (again(cutting).quantity_done, TimeEntry.objects.get().pieces_done) == (6, 6)
    with pytest.raises(Refused, match="not counted by the piece"):
        count_pieces(cast.operation_of(panel, "Assembly"), mara, add=1, by=by(mara), at=at(2, "09:03"))
    finish(cutting, mara, by=by(mara), at=at(2, "09:10"))
    with pytest.raises(Refused, match="finished already"):
        count_pieces(cutting, mara, add=1, by=by(mara), at=at(2, "09:11"))
    Job.objects.update(stage=Stage.CANCELLED)
    with pytest.raises(Refused, match="cancelled"):
        count_pieces(cutting, mara, add=1, by=by(mara), at=at(2, "09:12"))
    with pytest.raises(ValueError, match="Either"):
        count_pieces(cutting, mara, by=by(mara), at=at(2, "09:12"))


def test_finish_is_refused(panel: Panel, cutting: Operation, mara: Person, jonas: Person) -> None:
    with pytest.raises(Refused, match="before Cutting is finished"):
        finish(cast.operation_of(panel, "Beveling"), mara, by=by(mara), at=at(2, "09:00"))
    start(cutting, mara, by=by(mara), at=at(2, "08:00"))
    with pytest.raises(Refused, match="Mara Lind has it on the bench"):
        finish(cutting, jonas, by=by(jonas), at=at(2, "09:00"))
    hold = Hold.objects.create(operation=cutting, reason="crack", since=at(2), held_by="Mara")
    with pytest.raises(Refused, match="held: crack"):
        finish(cutting, mara, by=by(mara), at=at(2, "09:00"))
    hold.delete()
    finish(cutting, mara, by=by(mara), at=at(2, "09:00"))
    with pytest.raises(Refused, match="finished already"):
        finish(cutting, mara, by=by(mara), at=at(2, "09:01"))


def test_what_cures_begins_with_the_finish_of_all_before_it(
    mara: Person, jonas: Person, lead: Account
) -> None:
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting", "Assembly", "Cure", "Beveling"))
    cutting, cure = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Cure")
    cure.after.add(cutting)
    finish(cutting, mara, by=by(mara), at=at(2, "09:00"))
    assert again(cure).started_at is None
    assembly = cast.operation_of(panel, "Assembly")
    finish(assembly, jonas, by=by(jonas), at=at(2, "12:00"))
    assert (again(cure).started_at, cure.finished_at) == (at(2, "12:00"), at(2, "16:00"))
    beveling = cast.operation_of(panel, "Beveling")
    with pytest.raises(Refused, match="before Cure is finished"):
        start(beveling, mara, by=by(mara), at=at(2, "15:59"))
    reopen(assembly, by=by(jonas), at=at(2, "12:30"))
    assert (again(cure).started_at, cure.finished_at) == (None, None)
    finish(assembly, jonas, by=by(jonas), at=at(2, "12:00") + timedelta(days=1))
    assert start(beveling, mara, by=by(mara), at=at(3, "16:00")).is_running


def test_a_mistaken_finish_is_undone(
    panel: Panel, cutting: Operation, mara: Person, jonas: Person, lead: Account
) -> None:
    with pytest.raises(Refused, match="not finished"):
        reopen(cutting, by=by(mara), at=at(2, "08:00"))
    start(cutting, mara, by=by(mara), at=at(2, "08:00"))
    count_pieces(cutting, mara, add=3, by=by(mara), at=at(2, "08:30"))
    finish(cutting, mara, by=by(mara), at=at(2, "09:00"))
    with pytest.raises(Refused, match="Only who finished it"):
        reopen(cutting, by=by(jonas), at=at(2, "09:01"))
    with pytest.raises(Refused, match="on the same day"):
        reopen(cutting, by=by(mara), at=at(3, "08:00"))
    reopen(cutting, by=by(mara), at=at(2, "09:02"))
    assert again(cutting).quantity_done == 3
    assert [entry.pieces_done for entry in cutting.entries.all()] == [3]  # Not the seven of the finish.
    assert (again(cutting).finished_at, cutting.keeper, cutting.quantity_done) == (None, mara, 3)
    finish(cutting, mara, by=by(mara), at=at(2, "09:10"))
    start(cast.operation_of(panel, "Beveling"), mara, by=by(mara), at=at(2, "09:20"))
    with pytest.raises(Refused, match="Beveling has begun since"):
        reopen(cutting, by=by(mara), at=at(2, "09:30"))
    reopen(cutting, by=Actor(account=lead), at=at(4, "09:30"))
    assert again(cutting).finished_at is None


def test_a_timer_left_on_is_asked_for_before_other_work(
    panel: Panel, cutting: Operation, mara: Person
) -> None:
    entry = start(cutting, mara, by=by(mara), at=at(2, "15:00"))
    other = cast.operation_of(cast.make_panel(cutting.job, 2), "Cutting")
    for operation in (cutting, other):
        with pytest.raises(Refused, match="left Cutting running on Monday"):
            start(operation, mara, by=by(mara), at=at(3, "08:00"))
    answer(entry, at(2, "16:10"), by=by(mara), at=at(3, "08:01"))
    assert (again(entry).minutes, entry.questioned) == (70, False)
    assert start(other, mara, by=by(mara), at=at(3, "08:02")).is_running


def test_a_late_tap_stops_what_was_left_on_and_questions_it(cutting: Operation, mara: Person) -> None:
    entry = start(cutting, mara, by=by(mara), at=at(2, "15:00"))
    other = cast.operation_of(cast.make_panel(cutting.job, 2), "Cutting")
    start(other, mara, by=by(mara), at=at(3, "08:00"), late=True)
    assert (again(entry).stopped_at, entry.minutes, entry.questioned) == (at(2, "16:30"), 90, True)
    assert entry not in TimeEntry.objects.counted()
    with pytest.raises(Refused, match="first say when it stopped"):
        start(cutting, mara, by=by(mara), at=at(3, "09:00"))


def test_a_timer_within_the_grace_is_not_left_on(cutting: Operation, mara: Person) -> None:
    entry = start(cutting, mara, by=by(mara), at=at(2, "15:00"))
    pause(cutting, mara, by=by(mara), at=at(2, "16:45"))
    assert (again(entry).minutes, entry.questioned) == (105, False)


def test_on_a_day_without_hours_a_timer_may_run_for_sixteen(cutting: Operation, mara: Person) -> None:
    entry = start(cutting, mara, by=by(mara), at=at(7, "09:00"))  # A Saturday.
    pause(cutting, mara, by=by(mara), at=at(7, "20:00"))
    assert (again(entry).minutes, entry.questioned) == (11 * 60, False)
    entry = start(cutting, mara, by=by(mara), at=at(8, "09:00"))
    pause(cutting, mara, by=by(mara), at=at(9, "08:00"))
    assert (again(entry).minutes, entry.questioned) == (16 * 60, True)


def test_a_start_before_what_is_written_down_is_refused(cutting: Operation, mara: Person) -> None:
    start(cutting, mara, by=by(mara), at=at(2, "08:00"))
    other = cast.operation_of(cast.make_panel(cutting.job, 2), "Cutting")
    with pytest.raises(Refused, match="later than that"):
        start(other, mara, by=by(mara), at=at(2, "07:30"))
    pause(cutting, mara, by=by(mara), at=at(2, "10:00"))
    with pytest.raises(Refused, match="later than that"):
        start(other, mara, by=by(mara), at=at(2, "09:30"))


def test_two_at_once_leave_one_on_the_work(
    cutting: Operation, mara: Person, jonas: Person, transactional_db: None
) -> None:
    results = in_threads(
        *(lambda who=who: start(cutting, who, by=by(who), at=at(2, "08:00")) for who in (mara, jonas))
    )
    assert sorted(isinstance(result, Refused) for result in results) == [False, True]
    running = in_threads(lambda: list(TimeEntry.objects.running().values_list("operation", flat=True)))
    assert running == [[cutting.pk]]


def test_one_tap_sent_twice_at_once_is_one_entry(
    cutting: Operation, mara: Person, transactional_db: None
) -> None:
    tap = uuid4()
    results = in_threads(
        *(lambda: start(cutting, mara, by=by(mara), at=at(2, "08:00"), client_id=tap) for _ in range(4))
    )
    assert len({result.pk for result in results}) == 1
    assert in_threads(lambda: (TimeEntry.objects.count(), Event.objects.count())) == [(1, 1)]
