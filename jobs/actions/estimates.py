"""Estimates from takeoffs: the minutes of each kind of work by the rates that hold, and giving them to operations."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet

from jobs.estimating.rates import KindRates, estimate, estimate_together
from jobs.estimating.takeoff import Takeoff
from jobs.models import Job, Operation, OperationKind, Panel, Studio, TimeEntry
from jobs.snapshot.footing import FROM_TAKEOFF
from jobs.snapshot.rates import read_rates

from .base import Actor, Refused
from .graph import lock_job
from .operations import change_estimate
from .takeoffs import current_takeoff


def estimate_panel(
    panel: Panel,
    takeoff: Takeoff,
    *,
    on: date,
    kinds: Iterable[OperationKind] | None = None,
    rates: Mapping[str, KindRates] | None = None,
) -> dict[str, int]:
    """Minutes by the slug of each kind of work, for all copies of the panel together.

    The kinds are those of the panel's own operations, or those given; of them the ones that have rates on that day.
    `rates` are those of `read_rates`, where many panels are estimated.
    """
    chosen = _kinds_of(panel) if kinds is None else list(kinds)
    known = read_rates(on, chosen) if rates is None else rates
    return {
        kind.slug: estimate(takeoff, known[kind.slug], panel.copies)
        for kind in chosen
        if kind.slug in known and not kind.whole_job
    }


def estimate_whole_job(
    job: Job,
    takeoffs: Sequence[tuple[Takeoff, int]],
    *,
    on: date,
    kinds: Iterable[OperationKind] | None = None,
    rates: Mapping[str, KindRates] | None = None,
) -> dict[str, int]:
    """Minutes by slug of what is done once for the whole job, a delivery say; `takeoffs` are those of all its panels,
    each with its copies."""
    if kinds is None:
        kinds = OperationKind.objects.filter(operations__job=job, operations__panel=None).distinct()
    chosen = list(kinds)
    known = read_rates(on, chosen) if rates is None else rates
    return {
        kind.slug: estimate_together(takeoffs, known[kind.slug])
        for kind in chosen
        if kind.slug in known and kind.whole_job
    }


def _kinds_of(panel: Panel) -> list[OperationKind]:
    wanted = OperationKind.objects.filter(operations__panel=panel, operations__skipped=False)
    return list(wanted.distinct())


@transaction.atomic
def apply_estimates(panel: Panel, *, by: Actor, at: datetime, why: str = FROM_TAKEOFF) -> list[Operation]:
    """Give the operations of a panel that have not begun the estimates that follow from its takeoff.

    Several operations of one kind share its minutes as they share their present estimates. What has begun keeps its
    estimate, and so does a kind without rates. Those that changed are given back. Refuses a panel without a takeoff.
    """
    lock_job(panel.job)
    takeoff = current_takeoff(panel)
    if takeoff is None:
        raise Refused("Nobody has taken this panel off yet.")
    minutes = estimate_panel(panel, takeoff, on=_day(at))
    return give_estimates(panel.operations.filter(breakage=None), minutes, by=by, at=at, why=why)


def _day(at: datetime) -> date:
    return at.astimezone(Studio.current().zone).date()


def _changes(operations: QuerySet[Operation], minutes: Mapping[str, int]) -> list[tuple[Operation, int]]:
    logged = TimeEntry.objects.valid().filter(operation=OuterRef("pk"))
    of_kind: dict[str, list[Operation]] = defaultdict(list)
    for row in operations.select_related("kind", "job", "panel").annotate(logged=Exists(logged)):
        if not row.skipped:
            of_kind[row.kind.slug].append(row)
    return [
        (row, share)
        for slug, rows in of_kind.items()
        for row, share in zip(rows, _shares(minutes.get(slug, 0), rows), strict=True)
        if share and not _begun(row)
    ]


def give_estimates(
    operations: QuerySet[Operation], minutes: Mapping[str, int], *, by: Actor, at: datetime, why: str
) -> list[Operation]:
    """Give the operations that have not begun these minutes by the slug of their kind, in the transaction of the
    action that locked the job; those that changed are given back."""
    changes = [each for each in _changes(operations, minutes) if each[0].estimate != each[1]]
    return [change_estimate(row, share, why=why, by=by, at=at) for row, share in changes]


def _shares(minutes: int, rows: Sequence[Operation]) -> list[int]:
    """Whole minutes for each, in proportion to their present estimates; together all the minutes, none lost."""
    weights = [row.estimate for row in rows] if any(row.estimate for row in rows) else [1] * len(rows)
    shares, given, weighed = [], 0, 0
    for weight in weights:
        weighed += weight
        share = minutes * weighed // sum(weights) - given
        given += share
        shares.append(share)
    return shares


def _begun(row: Operation) -> bool:
    logged: bool = row.logged  # type: ignore[attr-defined]
    return bool(row.started_at or row.finished_at or row.keeper_id or row.quantity_done or logged)
