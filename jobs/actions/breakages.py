"""Broken pieces: what has been done to them is done again, ahead of what they are needed for."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F
from django.utils.translation import gettext_noop

from jobs.estimating.pieces import format_numbers
from jobs.models import Breakage, BrokenPiece, Operation, Panel, Person

from .base import Actor, Refused, mark_out_of_date, record
from .pieces import ONE_PIECE, must_be_pieces, pieces_of, take_off_broken
from .taps import once
from .timers import locked, must_be_open, stop_all

# What is done again takes its share of the estimate, yet never less than it takes to find and set up the piece.
LEAST_MINUTES = 5


@dataclass(frozen=True, slots=True)
class Named:
    """Which pieces broke: of which copy, by their numbers in the pattern of that key."""

    pattern: int
    copy: int
    numbers: frozenset[int]


@once
def break_pieces(
    operation: Operation,
    pieces: int,
    *,
    person: Person | None,
    by: Actor,
    at: datetime,
    note: str = "",
    named: Named | None = None,
) -> Breakage:
    """Pieces of a panel broke during an operation: make the work that repeats what had been done to them.

    Each kind that is done again after breakage, that was begun, and that comes no later than the operation gets a new
    operation, one after the other in the panel's order. Whatever is unfinished and comes after the operation, itself
    included, waits for them, save for the kinds that are repeated: their own pieces go on meanwhile.

    `named`: which they are; the rework is then about just these, and what was marked of them here is taken off.
    """
    operation = locked(operation)
    must_be_open(operation.job)
    panel = operation.panel
    if panel is None:
        raise Refused("That work is for the whole job; say it where the panel is worked on.")
    pieces = pieces if named is None else len(named.numbers)
    there_are = operation.quantity or panel.pieces * panel.copies
    if pieces < 1:
        raise Refused("Say how many pieces broke.", "pieces")
    if pieces > there_are:
        several = gettext_noop("There are only %(number)s pieces.")
        raise Refused(ONE_PIECE if there_are == 1 else several, "pieces", number=there_are)
    if named is not None:
        must_be_pieces(pieces_of(operation, named.pattern, at), named.copy, sorted(named.numbers))
    graph = _Graph(panel)
    repeated = _repeated(graph, operation)
    if not repeated:
        raise Refused("Nothing has been done to these pieces that would be done again.")
    breakage = Breakage.objects.create(operation=operation, pieces=pieces, at=at, person=person, note=note)
    kinds = {rows[0].kind_id for rows in repeated}
    waiting = _waiting(graph, operation, kinds, at)
    _make_rework(breakage, panel, repeated, waiting)
    if named is not None:
        _name(breakage, operation, named)
    if operation.kind_id in kinds:
        _leave_out(operation, pieces)
    _put_off(waiting, by=by, at=at)
    after = {"pieces": pieces, "again": [str(row) for row in breakage.rework.all()]}
    if named is not None:
        after["drawn"] = format_numbers(named.numbers)
    record("broke", operation, by=by, at=at, after=after, why=note)
    mark_out_of_date()
    return breakage


class _Graph:
    """A panel's operations in an order in which none comes before what it comes after. What is skipped is in it as a
    link, since what comes before it still comes before what follows."""

    def __init__(self, panel: Panel) -> None:
        rows = list(
            Operation.objects.filter(panel=panel).select_related("kind").select_for_update(of=("self",))
        )
        self.row = {row.pk: row for row in rows}
        self.after: dict[int, set[int]] = {row.pk: set() for row in rows}
        edges = Operation.after.through.objects.filter(from_operation__panel=panel)
        for later, earlier in edges.values_list("from_operation_id", "to_operation_id"):
            if later in self.after and earlier in self.after:
                self.after[later].add(earlier)
        self.order: list[int] = []
        for row in rows:
            self._visit(row.pk, set())

    def _visit(self, pk: int, above: set[int]) -> None:
        if pk in self.order or pk in above:
            return
        for earlier in sorted(self.after[pk]):
            self._visit(earlier, above | {pk})
        self.order.append(pk)

    def _rows(self, found: set[int]) -> list[Operation]:
        return [self.row[pk] for pk in self.order if pk in found and not self.row[pk].skipped]

    def up_to(self, pk: int) -> list[Operation]:
        """The operation and all that comes before it, in order."""
        found, ahead = {pk}, [pk]
        while ahead:
            for earlier in self.after[ahead.pop()] - found:
                found.add(earlier)
                ahead.append(earlier)
        return self._rows(found)

    def from_on(self, pk: int) -> list[Operation]:
        """The operation and all that comes after it, in order."""
        found = {pk}
        for other in self.order:
            if self.after[other] & found:
                found.add(other)
        return self._rows(found)


def _repeated(graph: _Graph, operation: Operation) -> list[list[Operation]]:
    """The operations that were done to the pieces and are done again, by kind. What repeats an earlier breakage is no
    measure of the work, unless it is such a repeated operation at which they broke."""
    kinds: dict[int, list[Operation]] = {}
    for row in graph.up_to(operation.pk):
        if row.kind.again_after_breakage and (row.started_at or row.finished_at):
            kinds.setdefault(row.kind_id, []).append(row)
    if not kinds and operation.kind.again_after_breakage:
        kinds[operation.kind_id] = [operation]  # It broke in the hands of somebody who had not tapped Start.
    return [[row for row in rows if row.breakage_id is None] or rows for rows in kinds.values()]


def _waiting(graph: _Graph, operation: Operation, repeated: set[int], at: datetime) -> list[Operation]:
    """What is unfinished from the operation on and needs the pieces whole."""
    return [
        row
        for row in graph.from_on(operation.pk)
        if row.kind_id not in repeated and not (row.finished_at and row.finished_at <= at)
    ]


def _make_rework(
    breakage: Breakage, panel: Panel, repeated: list[list[Operation]], waiting: list[Operation]
) -> None:
    """One operation a kind, in a chain. Nothing that is there comes before them, so no circle can arise."""
    place = min((row.place for row in waiting), default=breakage.operation.place + 1)
    Operation.objects.filter(panel=panel, place__gte=place).update(place=F("place") + len(repeated))
    words = "1 piece" if breakage.pieces == 1 else f"{breakage.pieces} pieces"
    last: Operation | None = None
    for number, rows in enumerate(repeated):
        kind = rows[0].kind
        made = Operation.objects.create(
            job_id=panel.job_id,
            panel=panel,
            kind=kind,
            label=f"{kind.name[:40]} again, {words}",
            place=place + number,
            estimate=_minutes(rows, panel, breakage.pieces),
            quantity=breakage.pieces if kind.counts_pieces else 0,
            breakage=breakage,
        )
        if last is not None:
            made.after.add(last)
        made.then.add(*waiting)  # Each of them: one that is skipped later must not let go of the others.
        last = made


def _minutes(rows: Iterable[Operation], panel: Panel, pieces: int) -> int:
    """The share of so many pieces in an estimate, rounded up."""
    estimate = sum(row.estimate for row in rows)
    quantity = sum(row.quantity or panel.pieces * panel.copies for row in rows)
    return max(LEAST_MINUTES, -(-estimate * pieces // quantity))


def _name(breakage: Breakage, operation: Operation, named: Named) -> None:
    """Write down which pieces broke; what was done to them is lost."""
    BrokenPiece.objects.bulk_create(
        BrokenPiece(breakage=breakage, pattern_id=named.pattern, copy=named.copy, number=number)
        for number in sorted(named.numbers)
    )
    if operation.finished_at is None:
        take_off_broken(operation, named.copy, named.numbers, breakage.person, breakage.at)


def _leave_out(operation: Operation, pieces: int) -> None:
    """The broken pieces are counted where they are made again, no longer where they broke."""
    if operation.quantity and operation.finished_at is None:
        operation.quantity = max(operation.quantity - pieces, operation.quantity_done)
        operation.save(update_fields=["quantity"])


def _put_off(waiting: Iterable[Operation], *, by: Actor, at: datetime) -> None:
    """What lies on a bench and has to wait now leaves it."""
    kept = [row for row in waiting if row.keeper_id is not None]
    if kept:
        stop_all(kept, at, by=by, why="waits for broken pieces")
        Operation.objects.filter(pk__in=[row.pk for row in kept]).update(keeper=None)
