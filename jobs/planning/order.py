"""In which order the floor takes up work that is ready."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from jobs.planning.shop import Job, Operation

Key = tuple[bool, bool, bool, int, float, float, int, int]


def by_due_date(job: Job) -> tuple[float, float]:
    """What is promised soonest first (Jackson 1955), of equals the weightiest; jobs without a promise come last."""
    return (job.due or date.max).toordinal(), -job.weight


def priority(operation: Operation, job: Job, rank: Mapping[int, float] | None = None) -> Key:
    """Sorts operations into the floor's order.

    What is on a bench goes on first, there first what its keeper does alone; then what has a place, by place; then by
    the order of jobs: `rank` (job id -> number, lower first) where it is given, otherwise the due date. Last by job
    and operation id, so that there are no ties.
    """
    kept = operation.keeper is not None
    due, weight = by_due_date(job)
    if rank is not None:
        due, weight = rank.get(job.id, float("inf")), 0.0
    return (
        not kept,
        kept and operation.crew > 1,
        operation.place is None,
        operation.place or 0,
        due,
        weight,
        job.id,
        operation.id,
    )
