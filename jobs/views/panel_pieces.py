"""The pieces of a panel for who does not mark them: its drawing as one work has them, and how far each work is."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db.models import Count, Max

from jobs.models import Operation, Panel, PieceMark
from jobs.snapshot.pieces import Key, Pieces, read_pieces
from jobs.views.piece_picture import drawn_pieces

NEVER = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Counted:
    """How far one work is: `marked` of its pieces are done by their marks, and each step has done so many."""

    operation: Operation
    chosen: bool
    marked: int
    steps: list[tuple[str, int]]

    @property
    def unnamed(self) -> int:
        """Pieces that are counted and not marked."""
        return max(self.operation.quantity_done - self.marked, 0)


@dataclass(frozen=True, slots=True)
class _Told:
    """Of the marks of a work on one pattern: how many each step has, how many complete a piece, when the last was."""

    steps: dict[str, int]
    done: int
    last: datetime


def pieces_shown(
    panel: Panel, operations: Sequence[Operation], asked: str, copy: str, at: datetime
) -> dict[str, Any]:
    """`counts` of all works that are counted by the piece; and where the panel has a measured pattern, its `drawing`
    filled as the work `asked` for has them (by default the one marked last), with the list of its pieces. `copy` is
    there where drawings can be asked for: where no piece is marked, none is shown without being asked for.

    The number of queries is the same however many works and pieces there are.
    """
    counted = [row for row in operations if row.quantity and not row.skipped]
    if not counted:
        return {"counts": []}
    told = _told(counted)
    chosen = _chosen(counted, asked, told)
    known = read_pieces(chosen, at)
    pattern = known.pattern.pk if known else 0
    counts = [
        _count(row, told.get((row.pk, pattern)), row is chosen and known is not None) for row in counted
    ]
    if known is None:
        return {"counts": counts}
    if not asked and not any(of == pattern for _, of in told):
        # The panel's own picture says more than pieces that are all open.
        return {"counts": counts, "copy": 1}
    shown = int(copy) if copy.isdecimal() and 1 <= int(copy[:4]) <= panel.copies else 1
    return {
        "counts": counts,
        "drawing": _drawing(known, panel, shown),
        "drawn_work": chosen,
        "copy": shown,
        "copies": range(1, panel.copies + 1),
    }


def _told(counted: Sequence[Operation]) -> dict[tuple[int, int], _Told]:
    rows = PieceMark.objects.standing().filter(operation__in=[row.pk for row in counted]).order_by()
    grouped = rows.values_list("operation", "pattern", "step", "completes").annotate(Count("pk"), Max("at"))
    found: dict[tuple[int, int], _Told] = {}
    for operation, pattern, step, completes, count, last in grouped:
        so_far = found.get((operation, pattern), _Told({}, 0, NEVER))
        found[operation, pattern] = _Told(
            so_far.steps | {step: so_far.steps.get(step, 0) + count},
            so_far.done + count * completes,
            max(so_far.last, last),
        )
    return found


def _chosen(counted: Sequence[Operation], asked: str, told: dict[tuple[int, int], _Told]) -> Operation:
    last = dict.fromkeys((row.pk for row in counted), NEVER)
    for (operation, _), marks in told.items():
        last[operation] = max(last[operation], marks.last)
    by_hand = (row for row in counted if str(row.pk) == asked)
    return next(by_hand, max(counted, key=lambda row: (last[row.pk], row.started_at or NEVER)))


def _count(operation: Operation, told: _Told | None, chosen: bool) -> Counted:
    steps = told.steps if told else {}
    by_wheel = [(step, steps.get(step, 0)) for step in operation.kind.steps] if steps else []
    return Counted(operation, chosen, told.done if told else 0, by_wheel)


def _drawing(known: Pieces, panel: Panel, copy: int) -> dict[str, Any]:
    """The pieces of one copy; each that is marked has `who` did it last and `when`."""
    level: dict[Key, int] = {}
    last: dict[Key, tuple[str | None, datetime]] = {}
    rows = known.operation.marks.standing().filter(pattern=known.pattern, copy=copy).order_by("at", "pk")
    for number, who, when in rows.values_list("number", "person__name", "at"):
        key = copy, number
        level[key] = level.get(key, 0) + 1
        last[key] = who, when
    if _all_are_done(known, panel):
        level |= {(copy, n): len(known.steps) for n in known.numbers if known.has(copy, n)}
    drawing = drawn_pieces(known, panel, copy, level)
    for piece in drawing["listed"]:
        if piece["part"] not in ("broken", "elsewhere"):
            piece["who"], piece["when"] = last.get((copy, piece["number"]), (None, None))
    return drawing


def _all_are_done(known: Pieces, panel: Panel) -> bool:
    """Whether the count says it of every piece, marked or not; where parts share the work, it says nothing of any."""
    operation = known.operation
    own = len(known.numbers) * panel.copies if known.only is None else len(known.only)
    return operation.quantity_done >= operation.quantity >= own - len(known.broken)
