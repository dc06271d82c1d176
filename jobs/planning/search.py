"""The search for an order of jobs: rules scored on a few common futures, and the best of them improved on the same.

The improvement is simulated annealing: one job is put elsewhere, or two change places. It starts lukewarm, at a
thousandth of the lateness: a change of order moves many jobs by little, and at a few hundredths the search walked away
from a good rule and never came back. Most changes are for the worse and show it in a quarter of the futures.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

import numpy as np

from jobs.planning.arrays import Floor, Ints
from jobs.planning.calendars import local_day, midnight, to_minute
from jobs.planning.check import check
from jobs.planning.durations import medians, sample
from jobs.planning.layout import lay_out, next_working_day, openings
from jobs.planning.order import Ahead, apparent_tardiness, earliest_due, least_slack, weighted_shortest
from jobs.planning.planner import HORIZONS
from jobs.planning.shop import Job, Nature, Shop
from jobs.planning.student import Floats

COMMON = 32  # Futures on which orders are compared while searching ...
GLANCE = 8  # ... and so many of them on which a change is given up that looks bad.
LOOK_AHEADS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 24, 32)
SPEEDS = (0.5, 0.8, 1.0, 1.25)  # Of the whole floor: as if one job had so much of it to itself.
MOST_WORK = (
    4_000_000  # Operations simulated at most in improving: over a second, whatever the size of the shop.
)
HEAT = 0.001


def end_of(job: Job, shop: Shop) -> int:
    """The minute since 1970 at which the day promised ends."""
    assert job.due is not None
    return midnight(job.due + timedelta(days=1), shop.zone)


class Search:
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
                end_of(self.by_id[j], shop) - origin if d else 1 << 30
                for j, d in zip(self.jobs, due, strict=True)
            ]
        )
        self.weight = np.array([self.by_id[j].weight for j in self.jobs])
        self.ahead = self._ahead()
        rows, kept = self.layout.operations, self.layout.floor.kept
        # The keys of order.priority after the job's rank and before it, the last one first, as lexsort wants them.
        self.last_keys = np.array([o.id for o in rows], np.int64), np.array([o.job for o in rows], np.int64)
        self.first_keys = (
            np.array([o.place or 0 for o in rows], np.int64),
            np.array([o.place is None for o in rows], bool),
            kept * (self.layout.floor.crew > 1),
            1 - kept,
        )

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

    def turn(self, order: Sequence[int]) -> Ints:
        """For each new index of an operation the old one, if jobs go in this order: order.priority on arrays."""
        rank = np.empty(len(self.jobs), np.int64)
        rank[[self.column[number] for number in order]] = np.arange(len(order))
        return np.lexsort((*self.last_keys, rank[self.of_job], *self.first_keys))

    def late(self, order: Sequence[int], futures: slice = slice(COMMON)) -> Floats:
        """Weighted days of lateness in these of the common futures, futures x jobs."""
        from jobs.planning.futures import simulate  # The compiler, for whoever runs the floor.

        turn = self.turn(order)
        floor = reordered(self.layout.floor, turn)
        minutes, opens = self.minutes[futures, turn], self.opens[futures]
        _, finish, _, _ = simulate(floor, minutes, weeks=self.layout.weeks, opens=opens)
        straight = np.empty_like(finish)
        straight[:, turn] = finish
        ends = np.maximum.reduceat(straight[:, self.grouped], self.first, axis=1)
        late = np.maximum(ends.astype(np.int64) - self.due, 0)
        return np.asarray(late * self.weight / 1440, np.float64)

    def score(self, order: Sequence[int]) -> float:
        """Mean weighted days of lateness, all jobs together, on the common futures."""
        return float(self.late(order).sum(axis=1).mean())

    def anneal(self, order: Sequence[int], tries: int, draw: random.Random) -> list[int]:
        """Try so many changes, or as many as MOST_WORK allows; keep what is better and at first some of what is
        slightly worse; return the best seen."""
        here, late = list(order), self.late(order)
        best, least = here, _mean(late)
        unit, spent, step = len(self.layout.operations), 0, 0
        while step < tries and spent < MOST_WORK:
            cold = max(step / tries, spent / MOST_WORK)
            allowed = -HEAT * least * (1 - cold) ** 2 * math.log(1 - draw.random())
            other = self._changed(here, late, draw)
            step, spent = step + 1, spent + GLANCE * unit
            glance = self.late(other, slice(GLANCE))
            if _mean(glance) > 1.01 * _mean(late[:GLANCE]) + allowed:
                continue
            spent += (COMMON - GLANCE) * unit
            found = np.concatenate([glance, self.late(other, slice(GLANCE, COMMON))])
            if _mean(found) <= _mean(late) + allowed:
                here, late = other, found
                if _mean(found) < least:
                    best, least = here, _mean(found)
        return best

    def _changed(self, order: list[int], late: Floats, draw: random.Random) -> list[int]:
        """Another order: two jobs swapped or one moved, half of the time one that is late taken forward."""
        other, count = list(order), len(order)
        i, j = draw.randrange(count), draw.randrange(count)
        if draw.random() < 0.5:
            of_each = late.mean(axis=0)
            of_each = of_each + 0.02 * of_each.mean() + 1e-9
            i = draw.choices(range(count), [float(of_each[self.column[number]]) for number in order])[0]
            j = draw.randrange(i + 1)
        if draw.random() < 0.5:
            other[i], other[j] = other[j], other[i]
        else:
            other.insert(j, other.pop(i))
        return other


def _mean(late: Floats) -> float:
    return float(late.sum(axis=1).mean())


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
