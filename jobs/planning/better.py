"""A better order of jobs, judged on futures and not on one plan.

An order that is best for fixed durations is worse than a good rule when they vary. So some fifty variants of the rules
are scored on a few common futures, the best is improved by swapping and moving jobs on the same futures (simulated
annealing), and what comes out is offered only if it is better on fresh futures that had no part in choosing it.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from jobs.planning.calendars import local_day, midnight, to_minute
from jobs.planning.check import check
from jobs.planning.durations import medians, sample
from jobs.planning.floor import Floor, Ints
from jobs.planning.futures import simulate
from jobs.planning.layout import Layout, lay_out, next_working_day, openings
from jobs.planning.order import Ahead, apparent_tardiness, earliest_due, least_slack, weighted_shortest
from jobs.planning.planner import HORIZONS, make_plan
from jobs.planning.result import Plan
from jobs.planning.shop import Job, Nature, Shop
from jobs.planning.student import Floats
from jobs.planning.whatif import Moved, compare

COMMON = 32  # Futures on which orders are compared while searching.
LOOK_AHEADS = (0.5, 1, 2, 3, 4, 6, 8, 10, 12, 16, 24, 32)
SPEEDS = (0.1, 0.3, 1.0, 3.0)  # Of the whole floor: as if one job had so much of it to itself.
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
            late = plan.samples[job.id] - _end_of(job, shop)
            total += job.weight * np.maximum(late, 0) / 1440
    return total


def better(
    shop: Shop, *, now: datetime, seed: int = 1, tries: int = 400, futures: int = 1000
) -> Better | None:
    """Look for a better order of the jobs; None if none is found that holds on fresh futures by two standard errors.

    `tries`: changes of the order that are tried. The same input gives the same answer.
    """
    search = _Search(shop, now, seed)
    if len(search.jobs) < 2:
        return None
    best = min(search.rules(), key=search.score)
    order = search.anneal(best, tries, random.Random(seed))  # noqa: S311 -- no secret
    rank = {number: float(k) for k, number in enumerate(order)}
    old = make_plan(shop, now=now, seed=seed + _FRESH, futures=futures)
    new = make_plan(shop, now=now, seed=seed + _FRESH, futures=futures, rank=rank)
    before, after = lateness(old, shop), lateness(new, shop)
    gains = before - after
    gain, error = float(gains.mean()), float(gains.std() / math.sqrt(futures))
    if gain <= 2 * error or gain <= 0:
        return None
    return Better(tuple(order), float(before.mean()), float(after.mean()), gain, error, compare(old, new))


def _end_of(job: Job, shop: Shop) -> int:
    assert job.due is not None
    return midnight(job.due + timedelta(days=1), shop.zone)


class _Search:
    """Scores orders of jobs on the same few futures."""

    def __init__(self, shop: Shop, now: datetime, seed: int) -> None:
        self.shop = shop
        origin = to_minute(now)
        today = local_day(origin, shop.zone)
        next_day = next_working_day(shop, today)
        rows = check(shop, today, next_day).operations
        self.layout = lay_out(shop, rows, origin=origin, today=today, next_day=next_day, days=HORIZONS[1])
        self.minutes = sample(self.layout.operations, shop.kinds, now=now, seed=seed, futures=COMMON)
        self.opens = openings(shop, self.layout, seed=seed, futures=COMMON)
        self.work = medians(self.layout.operations, shop.kinds, now=now)[0]
        self.jobs = sorted({o.job for o in rows})
        self.by_id = {job.id: job for job in shop.jobs}
        self.column = {number: k for k, number in enumerate(self.jobs)}
        self.of_job = np.array([self.column[o.job] for o in self.layout.operations], np.int64)
        self.grouped = np.argsort(self.of_job, kind="stable")
        self.first = np.searchsorted(self.of_job[self.grouped], np.arange(len(self.jobs)))
        due = [self.by_id[j].due for j in self.jobs]
        # A job without a promise is never late: it counts as promised after everything.
        self.due = np.array(
            [
                _end_of(self.by_id[j], shop) - origin if d else 1 << 30
                for j, d in zip(self.jobs, due, strict=True)
            ]
        )
        self.weight = np.array([self.by_id[j].weight for j in self.jobs])
        self.ahead = self._ahead()

    def _ahead(self) -> list[Ahead]:
        """The work left of each job at benches; a promise as far off as none counts as none."""
        total = np.zeros(len(self.jobs))
        nature = {kind.id: kind.nature for kind in self.shop.kinds}
        for i, operation in enumerate(self.layout.operations):
            if nature[operation.kind] is Nature.ATTENDED:
                total[self.of_job[i]] += self.work[i]
        return [
            Ahead(j, float(total[k]), float(self.due[k]) if self.by_id[j].due else None, self.by_id[j].weight)
            for k, j in enumerate(self.jobs)
        ]

    def rules(self) -> Iterator[list[int]]:
        """The orders that the rules give, the present one first."""
        yield earliest_due(self.ahead)
        yield weighted_shortest(self.ahead)
        yield least_slack(self.ahead)
        hours = self.layout.floor.closes - self.layout.floor.opens
        whole = float(hours.sum()) / (HORIZONS[1] * 1440) or 1.0  # Working minutes of everybody in a minute.
        for share in SPEEDS:
            for k in LOOK_AHEADS:
                yield apparent_tardiness(self.ahead, k=k, speed=share * whole)

    def score(self, order: Sequence[int]) -> float:
        """Mean weighted days of lateness on the common futures."""
        rank = np.empty(len(self.jobs), np.int64)
        rank[[self.column[number] for number in order]] = np.arange(len(order))
        turn = _turn(self.layout, rank[self.of_job])
        floor = reordered(self.layout.floor, turn)
        _, finish, _, _ = simulate(floor, self.minutes[:, turn], weeks=self.layout.weeks, opens=self.opens)
        straight = np.empty_like(finish)
        straight[:, turn] = finish
        ends = np.maximum.reduceat(straight[:, self.grouped], self.first, axis=1)
        late = np.maximum(ends.astype(np.int64) - self.due, 0)
        return float((late * self.weight).sum(axis=1).mean()) / 1440

    def anneal(self, order: list[int], tries: int, draw: random.Random) -> list[int]:
        """Swap two jobs or move one, keep what is better and at first some of what is worse; return the best seen."""
        here, value = list(order), self.score(order)
        best, least = here, value
        for step in range(tries):
            heat = 0.03 * max(least, 1e-9) * (1 - step / tries) ** 2
            other = list(here)
            i, j = draw.randrange(len(other)), draw.randrange(len(other))
            if draw.random() < 0.5:
                other[i], other[j] = other[j], other[i]
            else:
                other.insert(j, other.pop(i))
            found = self.score(other)
            if found <= value or draw.random() < math.exp((value - found) / max(heat, 1e-9)):
                here, value = other, found
                if value < least:
                    best, least = here, value
        return best


def _turn(layout: Layout, rank: Ints) -> Ints:
    """For each new index the old one, if jobs have these ranks: order.priority once more, on arrays."""
    rows = layout.operations
    kept = layout.floor.kept
    crew = kept * (layout.floor.crew > 1)
    free = np.array([o.place is None for o in rows])
    place = np.array([o.place or 0 for o in rows])
    job, number = np.array([o.job for o in rows]), np.array([o.id for o in rows])
    return np.lexsort((number, job, rank, place, free, crew, 1 - kept))


def reordered(floor: Floor, turn: Ints) -> Floor:
    """The same floor with its operations in another order of priority; `turn`: for each new index the old one."""
    back = np.empty_like(turn)
    back[turn] = np.arange(len(turn))
    lengths = np.diff(floor.then_at)[turn]
    then_at = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
    # Where each of the new links stood: the old begin of its row and its place in the row.
    stood = np.repeat(floor.then_at[:-1][turn] - then_at[:-1], lengths) + np.arange(then_at[-1])
    return floor._replace(
        station=floor.station[turn],
        crew=floor.crew[turn],
        pinned=floor.pinned[turn],
        kept=floor.kept[turn],
        needs=floor.needs[turn],
        release=floor.release[turn],
        gated=floor.gated[turn],
        then_at=then_at,
        then=back[floor.then[stood]],
        crew_at=np.concatenate([[0], np.cumsum(floor.crew[turn])]).astype(np.int64),
    )
