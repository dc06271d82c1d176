"""Pieces marked on the drawings of a few open panels: in the order of their work, as its hours counted them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from jobs import models
from jobs.management.demo.records import Broken
from jobs.management.demo.rows import BATCH, Rows, moment
from jobs.snapshot.pieces import Key, Pieces, pattern_of, read_pieces

PANELS = 6
# On the piece that a bench is at the wheels with, and on the next ones: so many steps are left of the work on each.
BEGUN = (1, 2, 3)


def write_marks(rows: Rows) -> None:
    """Which pieces broke is told first: what broke is not marked where it broke."""
    now = moment(rows.now)
    shown = _panels(rows)
    for broken in rows.floor.broken:
        if broken.work.panel is not None and broken.work.panel.id in shown:
            _name_broken(broken)
    marks: list[models.PieceMark] = []
    begun = models.Operation.objects.filter(panel__in=shown, started_at__isnull=False, quantity__gt=0)
    for operation in begun.select_related("kind", "panel__job", "breakage").order_by("pk"):
        known = read_pieces(operation, now)
        if known is not None:
            marks += _marks(known, now)
    models.PieceMark.objects.bulk_create(marks, BATCH)


def _panels(rows: Rows) -> set[int]:
    """Panels with pieces done and to do: first what broke, then what is being worked, beveling before the rest."""
    hurt = {broken.work.panel.id for broken in rows.floor.broken if broken.work.panel is not None}
    counted = [
        (work.panel.id, work)
        for job in rows.orders.jobs
        if job.closed is None
        for work in job.works
        if work.panel is not None and work.quantity
    ]
    begun = {panel for panel, work in counted if work.done}
    ranked = sorted(
        (panel not in hurt, not 0 < work.done < work.quantity, work.kind.name != "Beveling", -panel)
        for panel, work in counted
        if panel in begun and work.finished is None
    )
    return set(list(dict.fromkeys(-panel for *_, panel in ranked))[:PANELS])


def _name_broken(broken: Broken) -> None:
    """Of the pieces that were to be worked next, in the first copy."""
    operation = models.Operation.objects.select_related("panel").get(pk=broken.work.id)
    pattern = pattern_of(operation.panel)
    named = models.BrokenPiece.objects.filter(breakage__operation__panel=operation.panel)
    taken = set(named.values_list("number", flat=True))
    if pattern is None or operation.panel is None:
        return
    free = [number for number in _order(operation.panel) if number not in taken]
    after = free[operation.quantity_done :] or free
    models.BrokenPiece.objects.bulk_create(
        models.BrokenPiece(breakage_id=broken.id, pattern=pattern, number=number)
        for number in after[: broken.pieces]
    )


def _order(panel: models.Panel) -> list[int]:
    """The numbers of its pieces in the order in which they are worked."""
    pieces = (panel.drawing or {}).get("pieces", [])
    return [piece["number"] for piece in pieces if "number" in piece]


def _marks(known: Pieces, now: datetime) -> Iterator[models.PieceMark]:
    """As many pieces are done as are counted, when and by whom the hours say; some more are begun."""
    operation = known.operation
    assert operation.panel is not None  # It has pieces.
    keys = [
        (copy, number)
        for copy in range(1, operation.panel.copies + 1)
        for number in _order(operation.panel)
        if known.has(copy, number) and (copy, number) not in known.broken
    ]
    entries = list(operation.entries.counted().select_related("person").order_by("started_at", "pk"))
    done = 0
    for entry in entries:
        stop = entry.stopped_at or now
        count = min(entry.pieces_done, operation.quantity_done - done, len(keys) - done)
        for place, key in enumerate(keys[done : done + count], 1):
            at = entry.started_at + (stop - entry.started_at) * place / count
            yield from _steps(known, key, known.steps, entry.person, at)
        done += count
    if entries and operation.finished_at is None:
        at = min(entries[-1].stopped_at or now, now) - timedelta(minutes=1)
        for left, key in zip(BEGUN, keys[done:], strict=False):
            yield from _steps(known, key, known.steps[:-left], entries[-1].person, at)


def _steps(
    known: Pieces, key: Key, steps: Sequence[str], person: models.Person, at: datetime
) -> Iterator[models.PieceMark]:
    copy, number = key
    for step, worth in zip(steps, known.worth[number], strict=False):
        yield models.PieceMark(
            operation=known.operation,
            pattern=known.pattern,
            copy=copy,
            number=number,
            step=step,
            completes=step == known.steps[-1],
            worth=worth,
            person=person,
            at=at,
        )
