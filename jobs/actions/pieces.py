"""Pieces marked on the drawing: done at a step of an operation, or not done after all.

The rules.

- A piece goes through the steps of its kind (the wheels) one after another. To mark it at one marks those before it
  too, since it cannot have left them out; to take the mark off one takes it off those after it too.
- The count of the operation follows: a piece that is done by its last step counts as one, and one that is taken back
  counts no longer. What was counted without a name (+1, +5, a number typed) stays beside it; only where both together
  would be more than there are pieces, marked pieces take the place of unnamed ones.
- What is marked already is no fault, and changes nothing.
- Of two that say different things of a piece, the later one holds, by the time when it was tapped and in whichever
  order they come: taking back leaves what was marked after it, and marking leaves what was taken back after it. Both
  stay in the record, and the lead is told of one that came late and was left so (late.py).
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime

from django.db.models import F, Value
from django.db.models.functions import Greatest
from django.utils.translation import gettext_noop

from jobs.estimating.pieces import format_numbers, parse_numbers
from jobs.models import Operation, Person, PieceMark
from jobs.models.shipped import named
from jobs.snapshot.pieces import Pieces, named_done, read_pieces

from .base import Actor, Refused, mark_out_of_date, record
from .taps import once
from .timers import add_pieces, locked, must_be_open

ONE_PIECE = gettext_noop("There is only one piece.")
NO_PATTERN = gettext_noop("There is no measured pattern of this panel to mark its pieces on.")


@once
def mark_pieces(
    operation: Operation,
    person: Person | None,
    *,
    pattern: int,
    numbers: Collection[int],
    step: str,
    copy: int = 1,
    done: bool = True,
    by: Actor,
    at: datetime,
) -> Operation:
    """Mark pieces of one copy done at a step, or take the marks off. `pattern`: the key of the one they are numbered
    by, since a new drawing has other numbers."""
    operation = locked(operation)
    must_be_open(operation.job)
    if operation.finished_at is not None:
        raise Refused("It is finished already.")
    _lock_parts(operation)
    known = pieces_of(operation, pattern, at)
    numbers = sorted(set(numbers))
    _must_be_there(known, copy, numbers, step)
    steps = known.steps[: known.steps.index(step) + 1] if done else known.steps[known.steps.index(step) :]
    before = operation.quantity_done
    if done:
        changed = _mark(known, person, copy, numbers, steps, at)
    else:
        changed = _unmark(operation, numbers, copy, steps, person, at)
    if not changed:
        return operation
    operation.save(update_fields=["quantity_done"])
    told = {"drawn": format_numbers(changed), "step": step, "copy": copy, "count": operation.quantity_done}
    record("marked" if done else "unmarked", operation, by=by, at=at, before={"count": before}, after=told)
    mark_out_of_date()
    return operation


def _lock_parts(operation: Operation) -> None:
    """Two tablets that mark a piece at two parts of the same work come one after the other."""
    same = Operation.objects.filter(panel=operation.panel_id, kind=operation.kind_id)
    list(same.select_for_update(of=("self",)).order_by("pk").values_list("pk", flat=True))


def pieces_of(operation: Operation, pattern: int, at: datetime) -> Pieces:
    """The operation's pieces; Refused where there is no pattern, or not the one that was looked at."""
    known = read_pieces(operation, at)
    if known is None:
        raise Refused(NO_PATTERN)
    if known.pattern.pk != pattern:
        raise Refused("The panel has a new drawing since then, on which the pieces have other numbers.")
    return known


def _must_be_there(known: Pieces, copy: int, numbers: Iterable[int], step: str) -> None:
    if not numbers:
        raise Refused("Say which pieces.", "pieces")
    if step not in known.steps:
        raise Refused(
            "“%(step)s” is no step of %(work)s.", "step", step=lambda: named(step), work=known.operation.kind
        )
    must_be_pieces(known, copy, numbers)


def must_be_pieces(known: Pieces, copy: int, numbers: Iterable[int]) -> None:
    """Refuse pieces that the operation is not about, and those that broke at it already."""
    assert known.operation.panel is not None  # They are of its pattern.
    copies = known.operation.panel.copies
    if not 1 <= copy <= copies:
        raise (
            Refused("There is only one copy.", "copy")
            if copies == 1
            else Refused("There are %(copies)s copies.", "copy", copies=copies)
        )
    strange = [number for number in numbers if not known.has(copy, number)]
    if strange:
        raise _refused(
            strange,
            gettext_noop("Piece %(number)s is not worked at %(work)s."),
            gettext_noop("Pieces %(number)s are not worked at %(work)s."),
            work=known.operation,
        )
    broken = [number for number in numbers if (copy, number) in known.broken]
    if broken:
        raise _refused(
            broken,
            gettext_noop("Piece %(number)s is broken and made again: %(work)s."),
            gettext_noop("Pieces %(number)s are broken and made again: %(work)s."),
            work=lambda: named(known.broken[copy, broken[0]]),
        )


def _refused(numbers: list[int], one: str, several: str, **values: object) -> Refused:
    """What is refused of these pieces, named by their numbers; the two are its sentence for one and for several."""
    return Refused(one if len(numbers) == 1 else several, "pieces", number=format_numbers(numbers), **values)


def _among(numbers: list[int], what: str) -> str:
    return (
        f"Piece {numbers[0]} is {what}."
        if len(numbers) == 1
        else f"Pieces {format_numbers(numbers)} are {what}."
    )


def _mark(
    known: Pieces, person: Person | None, copy: int, numbers: list[int], steps: Collection[str], at: datetime
) -> list[int]:
    """Add the marks that are missing and count the pieces that are done by them; gives the pieces that changed."""
    operation = known.operation
    taken = [number for number in numbers if (copy, number) in known.elsewhere]
    if taken:
        raise _refused(
            taken,
            gettext_noop("Piece %(number)s is marked at %(work)s already."),
            gettext_noop("Pieces %(number)s are marked at %(work)s already."),
            work=lambda: named(known.elsewhere[copy, taken[0]]),
        )
    rows = operation.marks.filter(pattern=known.pattern, copy=copy, number__in=numbers)
    there = {(row.number, row.step) for row in rows if row.undone_at is None or row.undone_at > at}
    made = [
        PieceMark(
            operation=operation,
            pattern=known.pattern,
            copy=copy,
            number=number,
            step=step,
            completes=step == known.steps[-1],
            worth=known.worth[number][known.steps.index(step)],
            person=person,
            at=at,
        )
        for number in numbers
        for step in steps
        if (number, step) not in there
    ]
    more = sum(mark.completes for mark in made)
    free = operation.quantity - named_done(operation, known.pattern)
    if more > free:
        several = gettext_noop("There are %(all)s pieces, %(left)s of them left to mark.")
        raise Refused(
            ONE_PIECE if operation.quantity == 1 else several, "pieces", all=operation.quantity, left=free
        )
    PieceMark.objects.bulk_create(made)
    now = min(operation.quantity_done + more, operation.quantity)
    add_pieces(operation, person, now - operation.quantity_done)
    operation.quantity_done = now
    return sorted({mark.number for mark in made})


def _unmark(
    operation: Operation,
    numbers: Collection[int],
    copy: int,
    steps: Collection[str],
    person: Person | None,
    at: datetime,
) -> list[int]:
    """Take off the marks that were made by then; gives the pieces that changed."""
    found = operation.marks.standing().filter(copy=copy, number__in=numbers, step__in=steps, at__lte=at)
    return _take_off(operation, list(found.select_related("person")), person, at)


def _take_off(operation: Operation, rows: list[PieceMark], person: Person | None, at: datetime) -> list[int]:
    credited = Counter(row.person for row in rows if row.completes)
    for who, count in credited.items():
        add_pieces(operation, who, -count)
    ids = [row.pk for row in rows]
    PieceMark.objects.filter(pk__in=ids).update(undone_at=at, undone_by=person)
    operation.quantity_done = max(operation.quantity_done - credited.total(), 0)
    return sorted({row.number for row in rows})


def take_off_broken(
    operation: Operation, copy: int, numbers: Collection[int], person: Person | None, at: datetime
) -> None:
    """What was done to pieces that broke is lost: their marks and their count, in the caller's transaction."""
    rows = operation.marks.standing().filter(copy=copy, number__in=numbers)
    latest = max([at, *rows.values_list("at", flat=True)])
    _take_off(operation, list(rows.select_related("person")), person, latest)
    operation.save(update_fields=["quantity_done"])


def must_hold_the_named(operation: Operation, total: int) -> None:
    """Refuse a count below the pieces that are marked on the drawing."""
    named = named_done(operation)
    if total < named:
        one = gettext_noop("%(number)s piece is marked on the drawing; take the mark off there.")
        several = gettext_noop("%(number)s pieces are marked on the drawing; take the marks off there.")
        raise Refused(one if named == 1 else several, "total", number=named)


def forget_marks(panel_id: int, at: datetime) -> None:
    """A new drawing has other numbers: what was marked on the last one stays counted, without a name."""
    marks = PieceMark.objects.standing().filter(
        operation__panel=panel_id, operation__finished_at__isnull=True
    )
    marks.update(undone_at=Greatest(F("at"), Value(at)))


def left_as_they_are(operation: Operation, typed: Mapping[str, str]) -> str:
    """Which pieces of a tap that was carried out are not as it said, since a later one said otherwise: a sentence."""
    step, copy = typed.get("step", ""), int(typed.get("copy") or 1)
    numbers = parse_numbers(typed["pieces"])
    rows = operation.marks.standing().filter(copy=copy, number__in=numbers, step=step)
    marked = set(rows.values_list("number", flat=True))
    wanted = typed.get("done") != "no"
    other = [number for number in numbers if (number in marked) != wanted]
    if not other:
        return ""
    words = _among(other, "not marked" if wanted else "marked")
    return f"{words[:-1]}: somebody said so later, and that stands."
