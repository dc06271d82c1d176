"""Panels of a job: made from a route, changed, moved, taken out."""

import re
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django.db import transaction
from django.db.models import Max

from jobs.estimating.lengths import LARGEST_MM
from jobs.models import Job, Nature, Operation, OperationKind, Panel, Route, RouteStep

from .approvals import ask_again
from .base import Actor, Refused, changes, mark_out_of_date, record
from .graph import JobGraph, lock_job, minutes_in_bounds
from .workshops import kind_in

SIZES = ("width_mm", "height_mm", "thickness_mm")
# What a drawing that the customer approves shows of them.
SHOWN = frozenset({*SIZES, "copies"})


@dataclass(frozen=True, slots=True)
class PanelDraft:
    """A panel as it was asked for. Lengths in millimeters; `pieces` are those of one copy.

    `conditions` are the conditional steps of the route that apply. `minutes` says, by the slug of a kind, what the
    work of that kind takes for all copies together, instead of what the route says; two steps of one kind share it.
    """

    name: str
    width_mm: Decimal
    height_mm: Decimal
    route: Route | None = None
    thickness_mm: Decimal = Decimal("6.35")
    pieces: int = 1
    copies: int = 1
    conditions: frozenset[str] = frozenset()
    minutes: Mapping[str, int] = field(default_factory=dict)
    drawing: dict[str, Any] | None = None


@transaction.atomic
def add_panel(job: Job, draft: PanelDraft, *, by: Actor, at: datetime) -> Panel:
    """A panel with the operations of its route; what is done once for the whole job then waits for it as well."""
    job = lock_job(job)
    number = (job.panels.aggregate(last=Max("number"))["last"] or 0) + 1
    panel = make_panel(job, draft, number=number, read={}, by=by, at=at)
    JobGraph(job).tie_ends([panel.pk])
    ask_again(panel, by=by, at=at)
    mark_out_of_date()
    return panel


def make_panel(
    job: Job, draft: PanelDraft, *, number: int, read: "StepsRead", by: Actor, at: datetime
) -> Panel:
    """The panel and its operations, in the transaction of the action that locked the job and ties the ends."""
    check_panel(draft.name, draft.width_mm, draft.height_mm, draft.thickness_mm, draft.pieces, draft.copies)
    panel = Panel.objects.create(
        job=job,
        number=number,
        name=draft.name.strip(),
        width_mm=draft.width_mm,
        height_mm=draft.height_mm,
        thickness_mm=draft.thickness_mm,
        pieces=draft.pieces,
        copies=draft.copies,
        route=draft.route,
        drawing=draft.drawing,
    )
    if draft.route is not None:
        _follow(draft.route, panel, draft, read)
    told = ("width_mm", "height_mm", "pieces", "copies", "route")
    after = {key: getattr(panel, key) for key in told}
    record("added", panel, by=by, at=at, after=after)
    return panel


def check_panel(
    name: str, width: Decimal, height: Decimal, thickness: Decimal, pieces: int, copies: int
) -> None:
    """Refuse a panel that nobody could make; the same words for the pages and for a list that is read in."""
    if not name.strip() or len(name.strip()) > 80:
        raise Refused("A panel needs a name of at most 80 letters.", "name")
    for value, key in ((width, "width_mm"), (height, "height_mm")):
        if not 0 < value <= LARGEST_MM:
            raise Refused("A side of a panel is more than nothing and at most 20 m.", key)
    if not 0 < thickness <= 100:
        raise Refused("Glass is at most 100 mm thick; check the unit.", "thickness_mm")
    if not 1 <= pieces <= 20_000:
        raise Refused("A panel has between 1 and 20,000 pieces.", "pieces")
    if not 1 <= copies <= 500:
        raise Refused("A panel has between 1 and 500 copies.", "copies")


def step_minutes(step: RouteStep, pieces: int, copies: int) -> int:
    """What a step takes by its route: minutes a panel and minutes a piece, for each copy.

    Copies cure or are away together, so those minutes are counted once.
    """
    each = step.minutes + step.piece_minutes * pieces
    times = copies if step.kind.nature == Nature.ATTENDED else 1
    return minutes_in_bounds(int((each * times).to_integral_value(ROUND_HALF_UP)))


def chosen_steps(route: Route, conditions: Collection[str]) -> dict[RouteStep, set[RouteStep]]:
    """The steps of a route that apply, each with those it comes after; what lies before a step left out takes over."""
    steps = list(
        route.steps.select_related("kind__station").prefetch_related("after").order_by("place", "pk")
    )
    by_id = {step.pk: step for step in steps}
    before = {step.pk: {other.pk for other in step.after.all()} for step in steps}
    applies = {step.pk for step in steps if not step.condition or step.condition in conditions}

    def reach(pk: int) -> set[int]:
        found, todo, seen = set(), list(before[pk]), set()
        while todo:
            other = todo.pop()
            if other in applies:
                found.add(other)
            elif other not in seen and other in before:
                seen.add(other)
                todo += before[other]
        return found

    return {by_id[pk]: {by_id[other] for other in reach(pk)} for pk in by_id if pk in applies}


Steps = dict[RouteStep, set[RouteStep]]
# The steps of routes under conditions, read once for all panels of a job.
StepsRead = dict[tuple[int, frozenset[str]], Steps]


def _follow(route: Route, panel: Panel, draft: PanelDraft, read: StepsRead) -> None:
    """Make the operations of a panel, and those of the whole job that are not there yet or are finished."""
    key = (route.pk, draft.conditions)
    if key not in read:
        read[key] = chosen_steps(route, draft.conditions)
    steps = read[key]
    made_at: int = panel.job.workshop_id  # type: ignore[assignment]  # The stubs take a default for "may be null".
    kinds = {step: kind_in(step.kind, made_at) for step in steps}
    minutes = _minutes(steps, draft)
    own = [step for step in steps if not step.kind.whole_job]
    rows = Operation.objects.bulk_create(
        Operation(
            job=panel.job,
            panel=panel,
            kind=kinds[step],
            label=step.label,
            place=step.place,
            estimate=minutes[step],
            quantity=panel.pieces * panel.copies if step.kind.counts_pieces else 0,
        )
        for step in own
    )
    made = dict(zip(own, rows, strict=True))
    made |= {
        step: _whole_job(step, kinds[step], panel, minutes[step]) for step in steps if step.kind.whole_job
    }
    after = Operation.after.through
    # Work of the whole job comes after the last work of every panel (tie_ends), never before a panel's own.
    after.objects.bulk_create(
        [
            after(from_operation=made[step], to_operation=made[other])
            for step, before in steps.items()
            for other in before
            if other.kind.whole_job == step.kind.whole_job
        ],
        ignore_conflicts=True,
    )


def _minutes(steps: Collection[RouteStep], draft: PanelDraft) -> dict[RouteStep, int]:
    """The minutes of each step; where those of a kind were given, its steps share them as the route would."""
    found = {step: step_minutes(step, draft.pieces, draft.copies) for step in steps}
    of_kind = defaultdict(list)
    for step in steps:
        of_kind[step.kind.slug].append(step)
    for slug, given in draft.minutes.items():
        shared, left = of_kind.get(slug, []), minutes_in_bounds(given)
        usual = sum(found[step] for step in shared)
        for number, step in enumerate(shared, 1):
            share = left if number == len(shared) else given * found[step] // usual if usual else 0
            found[step] = min(share, left)
            left -= found[step]
    return found


def _whole_job(step: RouteStep, kind: OperationKind, panel: Panel, minutes: int) -> Operation:
    """The job's own operation of a kind: the open one there is, or a new one."""
    there = panel.job.operations.filter(
        panel=None, kind=kind, label=step.label, finished_at=None, skipped=False
    ).first()
    if there is None:
        return Operation.objects.create(
            job=panel.job, kind=kind, label=step.label, place=step.place, estimate=minutes
        )
    more = minutes_in_bounds(int(step.piece_minutes * panel.pieces * panel.copies))
    if more:
        there.estimate = minutes_in_bounds(there.estimate + more)
        there.save(update_fields=["estimate"])
    return there


@transaction.atomic
def change_panel(
    panel: Panel,
    *,
    name: str,
    width_mm: Decimal,
    height_mm: Decimal,
    thickness_mm: Decimal,
    pieces: int,
    copies: int,
    scale_hours: bool = False,
    by: Actor,
    at: datetime,
) -> Panel:
    """Change what a panel is. Pieces and copies change what is left to count; the hours only with `scale_hours`."""
    lock_job(panel.job)
    panel = Panel.objects.select_for_update(of=("self",)).select_related("job").get(pk=panel.pk)
    check_panel(name, width_mm, height_mm, thickness_mm, pieces, copies)
    values: dict[str, Any] = {
        "name": name.strip(),
        "width_mm": width_mm,
        "height_mm": height_mm,
        "thickness_mm": thickness_mm,
        "pieces": pieces,
        "copies": copies,
    }
    before, after = changes(panel, values)
    if not after:
        return panel
    old_pieces, old_copies = panel.pieces, panel.copies
    for key, value in after.items():
        setattr(panel, key, value)
    panel.save(update_fields=list(after))
    if pieces * copies != old_pieces * old_copies:
        _recount(panel, pieces * copies - old_pieces * old_copies)
    if scale_hours and (pieces, copies) != (old_pieces, old_copies):
        _scale_hours(panel, Decimal(copies) / old_copies, Decimal(pieces) / old_pieces)
    record("changed", panel, by=by, at=at, before=before, after=after)
    if after.keys() & SHOWN:
        ask_again(panel, by=by, at=at)
    mark_out_of_date()
    return panel


def base_name(operation: Operation) -> str:
    """The name that the parts of a split operation have in common."""
    return re.sub(r", part \d+$", "", str(operation))


def _unfinished(panel: Panel) -> list[Operation]:
    rows = panel.operations.select_for_update(of=("self",)).select_related("kind")
    return list(rows.filter(finished_at=None, breakage=None).order_by("place", "pk"))


def _recount(panel: Panel, more: int) -> None:
    """Spread a change of the number of pieces over what is not finished: the last part of each takes it first."""
    parts: dict[str, list[Operation]] = defaultdict(list)
    for row in _unfinished(panel):
        if row.kind.counts_pieces:
            parts[base_name(row)].append(row)
    for rows in parts.values():
        left = more
        for row in reversed(rows):
            was = row.quantity
            row.quantity = max(was + left, row.quantity_done)
            left -= row.quantity - was
            row.save(update_fields=["quantity"])
        if left:
            raise Refused(f"More pieces than that are done already at {rows[0]}.", "pieces")


def _scale_hours(panel: Panel, copies: Decimal, pieces: Decimal) -> None:
    for row in _unfinished(panel):
        times = copies if row.kind.nature == Nature.ATTENDED else Decimal(1)
        times *= pieces if row.kind.counts_pieces else 1
        row.estimate = minutes_in_bounds(int((row.estimate * times).to_integral_value(ROUND_HALF_UP)))
        row.save(update_fields=["estimate"])


@transaction.atomic
def set_where(panel: Panel, where: str, *, by: Actor, at: datetime) -> Panel:
    """Say where a panel is: a bench, a rack, the supplier's. Allowed for closed jobs too, things still lie about."""
    panel = Panel.objects.select_for_update(of=("self",)).select_related("job").get(pk=panel.pk)
    where = where.strip()
    if len(where) > 60:
        raise Refused("Say where it is in at most 60 letters.", "where")
    before, after = changes(panel, {"where": where})
    if after:
        panel.where = where
        panel.save(update_fields=["where"])
        record("moved", panel, by=by, at=at, before=before, after=after)
    return panel


@transaction.atomic
def remove_panel(panel: Panel, *, by: Actor, at: datetime, why: str = "") -> None:
    """Take out a panel that was entered by mistake. One that was worked on stays: skip its work instead."""
    job = lock_job(panel.job)
    panel = Panel.objects.select_for_update(of=("self",)).select_related("job").get(pk=panel.pk)
    worked = panel.operations.exclude(started_at=None, finished_at=None, quantity_done=0).exists()
    if worked or panel.operations.filter(entries__isnull=False).exists():
        raise Refused("It has been worked on already; skip what is left of it instead.")
    if panel.photos.exists():
        raise Refused("There are photos of it: take them back first.")
    record("taken out", panel, by=by, at=at, before={"panel": panel.code, "name": panel.name}, why=why)
    record("changed", job, by=by, at=at, before={"panels": f"{panel.number} {panel.name}"}, why=why)
    panel.operations.all().delete()
    panel.delete()
    mark_out_of_date()
