"""A better order of jobs, judged on futures and not on one plan.

An order that is best for fixed durations is worse than a good rule when they vary. So some fifty variants of the rules
are scored on a few common futures, the best is improved by swapping and moving jobs on the same futures (simulated
annealing), and what comes out is offered only if it is better on fresh futures that had no part in choosing it.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from jobs.planning.planner import make_plan
from jobs.planning.result import Plan
from jobs.planning.search import Search, end_of
from jobs.planning.shop import Shop
from jobs.planning.student import Floats
from jobs.planning.whatif import Moved, compare

_FRESH = 1 << 40  # Added to the seed for the futures that judge.


@dataclass(frozen=True, slots=True)
class Better:
    """A better order. Days are expected weighted days of lateness, all jobs together.

    `order`: job ids, the first goes first. `before`, `after`: with the present order and with this one. `gain`: the
    difference, `error` its standard error. `moved`: as whatif.compare tells it; days above zero are
    later.
    """

    order: tuple[int, ...]
    before: float
    after: float
    gain: float
    error: float
    moved: tuple[Moved, ...]


def lateness(plan: Plan, shop: Shop) -> Floats:
    """Weighted days of lateness in each future, over the jobs with a promise and a date."""
    total = np.zeros(plan.futures)
    for job in shop.jobs:
        if job.due is not None and job.id in plan.samples:
            late = plan.samples[job.id] - end_of(job, shop)
            total += job.weight * np.maximum(late, 0) / 1440
    return total


def better(
    shop: Shop, *, now: datetime, seed: int = 1, tries: int = 1000, futures: int = 1000
) -> Better | None:
    """Look for a better order of the jobs; None if none is found that holds on fresh futures by two standard errors.

    `tries`: changes of the order that are tried at most. The best of the rules is judged beside what became of it, and
    the better of the two is offered. The same input gives the same answer.
    """
    search = Search(shop, now, seed)
    if len(search.jobs) < 2:
        return None
    rule = min(search.rules(), key=search.score)
    order = search.anneal(rule, tries, random.Random(seed))  # noqa: S311  # nosec B311  # No secret.

    def judged(order: list[int] | None) -> tuple[Plan, Floats]:
        rank = None if order is None else {number: float(k) for k, number in enumerate(order)}
        plan = make_plan(shop, now=now, seed=seed + _FRESH, futures=futures, rank=rank)
        return plan, lateness(plan, shop)

    old, before = judged(None)
    offered = [rule] if order == rule else [order, rule]
    plans = [judged(each) for each in offered]
    chosen = min(range(len(plans)), key=lambda k: float(plans[k][1].mean()))
    new, after = plans[chosen]
    gains = before - after
    gain, error = float(gains.mean()), float(gains.std() / math.sqrt(futures))
    if gain <= 2 * error or gain <= 0:
        return None
    moved = compare(old, new)
    return Better(tuple(offered[chosen]), float(before.mean()), float(after.mean()), gain, error, moved)
