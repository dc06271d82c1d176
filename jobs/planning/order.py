"""In which order the floor takes up work that is ready."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True)
class Ahead:
    """What an order of jobs can look at: work left in minutes, minutes from now to the end of the day promised (None
    without a promise), and weight."""

    job: int
    minutes: float
    due: float | None
    weight: float = 1.0


def earliest_due(ahead: Iterable[Ahead]) -> list[int]:
    """Soonest promise first (Jackson 1955: least largest lateness on one machine)."""
    return [a.job for a in sorted(ahead, key=lambda a: (_due(a), -a.weight, a.job))]


def weighted_shortest(ahead: Iterable[Ahead]) -> list[int]:
    """Least work for its weight first (Smith 1956: least weighted sum of finishes on one machine)."""
    return [
        a.job for a in sorted(ahead, key=lambda a: (a.minutes / a.weight if a.weight else math.inf, a.job))
    ]


def least_slack(ahead: Iterable[Ahead]) -> list[int]:
    """Least time to spare first: the time to the promise less the work left."""
    return [a.job for a in sorted(ahead, key=lambda a: (_due(a) - a.minutes, -a.weight, a.job))]


def apparent_tardiness(ahead: Iterable[Ahead], *, k: float, speed: float = 1.0) -> list[int]:
    """Apparent tardiness cost (Vepsalainen and Morton 1987), one job after the other as if the floor did one at a time.

    The index of a job at time t is (w / p) exp(-max(d - p - t, 0) / (k p_mean)), with its work left over the speed of
    the floor as p; a larger k looks further ahead. ValueError unless k and speed are above zero.
    """
    if not (k > 0 and speed > 0):
        raise ValueError("The look-ahead and the speed of the floor have to be above zero")
    left = sorted(ahead, key=lambda a: (_due(a), a.job))
    time = {a.job: max(a.minutes, 1.0) / speed for a in left}
    mean = sum(time.values()) / max(len(time), 1)
    order: list[int] = []
    now = 0.0
    while left:
        best = max(left, key=lambda a: (_index(a, time[a.job], now, k * mean), -_due(a), -a.job))
        left.remove(best)
        order.append(best.job)
        now += time[best.job]
    return order


def _due(ahead: Ahead) -> float:
    return math.inf if ahead.due is None else ahead.due


def _index(ahead: Ahead, time: float, now: float, reach: float) -> float:
    """The logarithm of the index, which does not run out of digits for a promise far away."""
    if ahead.weight <= 0 or ahead.due is None:
        return -math.inf
    return math.log(ahead.weight / time) - max(ahead.due - time - now, 0.0) / reach
