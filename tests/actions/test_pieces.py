"""Pieces marked on the drawing: the count that follows, wheels, copies, what broke, and who said what when."""

from datetime import datetime
from typing import Any
from uuid import uuid4

import pytest

from jobs import models
from jobs.actions import Actor, Refused
from jobs.actions.bench import count_pieces, finish, reopen, start
from jobs.actions.breakages import Named, break_pieces
from jobs.actions.operations import split_operation
from jobs.actions.pieces import mark_pieces
from jobs.models import Account, Event, Operation, Panel, PieceMark, PlanState, TimeEntry
from jobs.snapshot.pieces import levels, read_pieces
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
NINE = at(3, "09:00")


@pytest.fixture
def panel(lead: Account) -> Panel:
    return cast.make_panel(cast.make_job())


@pytest.fixture
def pattern(panel: Panel, lead: Account) -> models.Pattern:
    return cast.make_accepted(panel, lead)


@pytest.fixture
def beveling(panel: Panel, pattern: models.Pattern) -> Operation:
    return cast.operation_of(panel, "Beveling")


@pytest.fixture
def cutting(panel: Panel, pattern: models.Pattern) -> Operation:
    return cast.operation_of(panel, "Cutting")


def mark(
    operation: Operation, *numbers: int, who: str = "Mara", when: datetime = NINE, **values: Any
) -> Operation:
    """Mark pieces at the last step, unless another is given."""
    person = cast.person(who)
    known = {
        "pattern": values.get("pattern") or _last(operation).pk,
        "step": (operation.kind.steps or [""])[-1],
    }
    return mark_pieces(operation, person, numbers=numbers, by=Actor(person=person), at=when, **known | values)


def _last(operation: Operation) -> models.Pattern:
    assert operation.panel is not None
    found = operation.panel.patterns.filter(accepted_at__isnull=False).last()
    assert found is not None
    return found


def done(operation: Operation) -> int:
    operation.refresh_from_db()
    return operation.quantity_done


def test_a_cut_piece_counts_and_can_be_taken_back(cutting: Operation) -> None:
    revision = PlanState.current().revision
    mark(cutting, 1, 3)
    assert (done(cutting), cutting.quantity) == (2, 4)
    assert PlanState.current().revision > revision
    assert Event.objects.first().after == {"drawn": "1, 3", "step": "", "copy": 1, "count": 2}
    mark(cutting, 3, done=False, who="Jonas", when=at(3, "09:30"))
    assert done(cutting) == 1
    kept = PieceMark.objects.get(number=3)
    assert (kept.undone_at, kept.undone_by, kept.person) == (
        at(3, "09:30"),
        cast.person("Jonas"),
        cast.person("Mara"),
    )
    mark(cutting, 3, when=at(3, "10:00"))
    assert (done(cutting), PieceMark.objects.filter(number=3).count()) == (2, 2)


def test_a_beveled_piece_goes_through_the_wheels(beveling: Operation, pattern: models.Pattern) -> None:
    mark(beveling, 2, step="fine")
    assert (done(beveling), levels(beveling, pattern)) == (0, {(1, 2): 3})
    mark(beveling, 2)
    assert (done(beveling), levels(beveling, pattern)) == (1, {(1, 2): 5})
    mark(beveling, 2, step="smooth", done=False, when=at(3, "10:00"))
    assert (done(beveling), levels(beveling, pattern)) == (0, {(1, 2): 1})


def test_what_is_done_already_changes_nothing(cutting: Operation) -> None:
    mark(cutting, 1)
    events = Event.objects.count()
    mark(cutting, 1, who="Jonas", when=at(3, "09:30"))
    mark(cutting, 2, done=False)
    assert (done(cutting), Event.objects.count()) == (1, events)
    assert PieceMark.objects.get().person == cast.person("Mara")


def test_a_tap_sent_twice_is_one(cutting: Operation) -> None:
    client_id = uuid4()
    mark(cutting, 1, client_id=client_id)
    mark(cutting, 1, done=False, when=at(3, "10:00"))
    mark(cutting, 1, client_id=client_id)
    assert done(cutting) == 0


def test_marked_and_unnamed_pieces_add_up(cutting: Operation) -> None:
    count_pieces(cutting, None, add=1, by=Actor(), at=NINE)
    mark(cutting, 1, 2)
    assert done(cutting) == 3
    with pytest.raises(Refused, match="2 pieces are marked on the drawing"):
        count_pieces(cutting, None, total=1, by=Actor(), at=NINE)
    mark(cutting, 3, 4)  # There are no more than four: a marked one takes the place of the unnamed one.
    assert done(cutting) == 4
    mark(cutting, 4, done=False, when=at(3, "10:00"))
    assert done(cutting) == 3
    count_pieces(cutting, None, total=3, by=Actor(), at=NINE)
    with pytest.raises(Refused, match="1 of them left to do"):
        count_pieces(cutting, None, add=2, by=Actor(), at=NINE)


def test_pieces_are_credited_to_who_did_them(cutting: Operation) -> None:
    mara, jonas = cast.person("Mara"), cast.person("Jonas")
    start(cutting, mara, by=Actor(person=mara), at=at(3, "08:00"))
    mark(cutting, 1, 2)
    mark(cutting, 2, done=False, who="Jonas", when=at(3, "10:00"))
    assert TimeEntry.objects.get(person=mara).pieces_done == 1
    assert not TimeEntry.objects.filter(person=jonas).exists()


def test_finishing_and_opening_again_keep_the_marks(cutting: Operation, lead: Account) -> None:
    mark(cutting, 1, 2)
    finish(cutting, cast.person("Mara"), by=Actor(person=cast.person("Mara")), at=at(3, "10:00"))
    assert done(cutting) == 4
    with pytest.raises(Refused, match="finished already"):
        mark(cutting, 3, when=at(3, "10:05"))
    reopen(cutting, by=Actor(account=lead), at=at(3, "10:10"))
    assert done(cutting) == 2
    assert mark(cutting, 3, when=at(3, "10:15")).quantity_done == 3


def test_named_pieces_that_broke_are_made_again(beveling: Operation, cutting: Operation) -> None:
    for operation in (cutting, beveling):
        start(operation, cast.person("Mara"), by=Actor(person=cast.person("Mara")), at=at(3, "08:30"))
        mark(operation, 1, 2)
        if operation == cutting:
            finish(operation, cast.person("Mara"), by=Actor(person=cast.person("Mara")), at=at(3, "08:30"))
    named = Named(_last(beveling).pk, 1, frozenset({2, 3}))
    breakage = break_pieces(
        beveling, 1, person=cast.person("Mara"), by=Actor(), at=at(3, "11:00"), named=named
    )
    assert (breakage.pieces, done(beveling), beveling.quantity) == (2, 1, 2)
    again = Operation.objects.get(breakage=breakage, kind=beveling.kind)
    assert str(again) == "Beveling again, 2 pieces"
    known = read_pieces(again, NINE)
    assert known is not None
    assert known.only == {(1, 2), (1, 3)}
    mark(again, 3, when=at(3, "12:00"))
    assert done(again) == 1
    with pytest.raises(Refused, match="Piece 1 is not worked at Beveling again"):
        mark(again, 1)
    with pytest.raises(Refused, match="Piece 2 is broken and made again: Beveling again"):
        mark(beveling, 2, when=at(3, "12:00"))
    with pytest.raises(Refused, match="Pieces 2-3 are broken"):
        break_pieces(beveling, 1, person=None, by=Actor(), at=at(3, "12:00"), named=named)


def test_a_piece_is_worked_at_one_part_of_shared_work(cutting: Operation) -> None:
    mark(cutting, 1)
    part = split_operation(cutting, pieces=2, by=Actor(), at=NINE)
    mark(part, 2, 3)
    with pytest.raises(Refused, match="Piece 1 is marked at Cutting already"):
        mark(part, 1)
    cutting.refresh_from_db()
    mark(cutting, 4)
    mark(part, 2, done=False, when=at(3, "10:00"))
    with pytest.raises(Refused, match="There are 2 pieces, 0 of them left to mark"):
        mark(cutting, 2, when=at(3, "11:00"))


def test_copies_are_marked_by_themselves(lead: Account) -> None:
    panel = cast.make_panel(cast.make_job("0413"), copies=2, pieces=4)
    cast.make_accepted(panel, lead)
    cutting = cast.operation_of(panel, "Cutting")
    mark(cutting, 1, copy=1)
    mark(cutting, 1, 2, copy=2)
    assert (done(cutting), cutting.quantity) == (3, 8)
    with pytest.raises(Refused, match="There are 2 copies"):
        mark(cutting, 1, copy=3)


def test_a_new_drawing_has_other_numbers(cutting: Operation, panel: Panel, lead: Account) -> None:
    old = _last(cutting).pk
    mark(cutting, 1, 2)
    cast.make_accepted(panel, lead)
    assert done(cutting) == 2
    assert not PieceMark.objects.standing().exists()
    with pytest.raises(Refused, match="new drawing since then"):
        mark(cutting, 3, pattern=old)
    mark(cutting, 1)
    assert done(cutting) == 3


def test_what_cannot_be_is_refused(cutting: Operation, beveling: Operation, lead: Account) -> None:
    for sentence, work, numbers, values in [
        ("Say which pieces", cutting, (), {}),
        ("Piece 9 is not worked at Cutting", cutting, (9,), {}),
        ("Pieces 8-9 are not worked at Cutting", cutting, (1, 8, 9), {}),
        ("There is only one copy", cutting, (1,), {"copy": 2}),
        ("“felt” is no step of Cutting", cutting, (1,), {"step": "felt"}),
        ("“” is no step of Beveling", beveling, (1,), {"step": ""}),
    ]:
        with pytest.raises(Refused, match=sentence):
            mark(work, *numbers, **values)
    bare = cast.operation_of(cast.make_panel(cast.make_job("0413")), "Cutting")
    with pytest.raises(Refused, match="no measured pattern"):
        mark(bare, 1, pattern=_last(cutting).pk)
    models.Job.objects.filter(pk=cutting.job_id).update(stage=models.Stage.CANCELLED)
    with pytest.raises(Refused, match="cancelled"):
        mark(cutting, 1)


def test_of_two_who_contradict_each_other_the_later_one_holds(cutting: Operation) -> None:
    mark(cutting, 1, when=at(3, "10:00"))
    # An undo that was tapped before the mark, and came after it, leaves it.
    mark(cutting, 1, done=False, who="Jonas", when=at(3, "09:30"))
    assert done(cutting) == 1
    mark(cutting, 1, done=False, who="Jonas", when=at(3, "10:30"))
    # A mark that was tapped before the undo, and came after it, leaves it taken back.
    mark(cutting, 1, when=at(3, "10:15"))
    assert done(cutting) == 0
    mark(cutting, 1, when=at(3, "10:45"))
    assert done(cutting) == 1


def test_each_mark_is_worth_its_share_of_the_work(beveling: Operation) -> None:
    known = read_pieces(beveling, NINE)
    assert known is not None
    assert sum(map(sum, known.worth.values())) == pytest.approx(4)
    mark(beveling, 1, step="coarse")
    assert PieceMark.objects.get().worth == pytest.approx(known.worth[1][0])
    marks = PieceMark.objects.standing()
    assert marks.beyond() == {beveling.pk: pytest.approx(known.worth[1][0])}
    assert Operation.objects.with_beyond().get(pk=beveling.pk).beyond == pytest.approx(known.worth[1][0])
