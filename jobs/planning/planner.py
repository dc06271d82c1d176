"""Put together: check the shop, draw durations, run the floor, read the dates off."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from jobs.planning.arrays import NEVER, Small
from jobs.planning.calendars import DAY, EPOCH, local_day, to_minute
from jobs.planning.check import Checked, begun, check
from jobs.planning.durations import medians, sample
from jobs.planning.layout import Layout, lay_out, next_working_day, openings
from jobs.planning.load import Median, capacity, load_weeks, tightest
from jobs.planning.order import priority
from jobs.planning.people_load import LOOKED_AT, people_weeks
from jobs.planning.result import OperationPlan, Plan, Problem, Window
from jobs.planning.shop import Operation, Shop

HORIZONS = (400, 1200, 3653)  # Days of calendar; the next is tried where work does not come to its end.
YEARS = 10

_CHANCES = (0.5, 0.8, 0.95)
_ROWS = 1024  # So many are sorted at a time.


ROOMY = 0.7  # A calendar is long enough to begin with if the run at median durations takes this share of it at most.
AT_ONCE = (
    2_000_000  # So many operations are simulated before they are put with the others: it bounds the memory.
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """The floor as it was run. Arrays are operations in the layout's order x futures, minutes from its origin.

    `people`: places of crews x the first of the futures, as many as people_load.py looks at.

    `middle`: start, finish, people (as the kernel returns them) and durations of the run at median durations.
    """

    layout: Layout
    start: Small
    finish: Small
    load: Small
    people: Small
    middle_start: Small
    middle_finish: Small
    middle_people: Small
    middle_minutes: Small

    @property
    def median(self) -> Median:
        return Median(self.middle_start, self.middle_finish, self.middle_people, self.middle_minutes)


def at_quantile(ranked: Small, share: float) -> Small:
    """The smallest value that at least this share does not exceed; `ranked` is sorted along its last axis."""
    count = ranked.shape[-1]
    return np.asarray(ranked[..., max(0, int(np.ceil(share * count - 1e-9)) - 1)], np.int32)


def run(
    shop: Shop,
    checked: Checked,
    *,
    now: datetime,
    seed: int,
    futures: int,
    rank: Mapping[int, float] | None = None,
) -> Outcome:
    """Run the floor at median durations and in every future, over as long a calendar as it takes."""
    from jobs.planning.futures import simulate  # The compiler, for whoever runs the floor.

    origin = to_minute(now)
    today = local_day(origin, shop.zone)
    next_day = next_working_day(shop, today)
    jobs = {job.id: job for job in shop.jobs}
    # The draws are made in the order of the floor, which does not depend on how long the calendar is.
    ordered = sorted(checked.operations, key=lambda o: priority(o, jobs[o.job], rank))
    minutes = sample(ordered, shop.kinds, now=now, seed=seed, futures=futures)
    middle = medians(ordered, shop.kinds, now=now)
    runs = _Runs(len(ordered), futures)
    for days in HORIZONS:
        layout = lay_out(shop, ordered, origin=origin, today=today, next_day=next_day, days=days, rank=rank)
        _outlast_holds(layout, shop, minutes, middle)
        start, finish, people, _ = simulate(layout.floor, middle, weeks=layout.weeks, threads=1)
        if days < HORIZONS[-1] and int(finish.max(initial=0)) > ROOMY * days * DAY:
            continue
        runs.add(layout, minutes, openings(shop, layout, seed=seed, futures=futures))
        if not runs.open.size:
            break
    middles = start[0], finish[0], people[0], middle[0]
    return Outcome(layout, runs.start, runs.finish, runs.load, runs.people, *middles)


class _Runs:
    """What came of each future, on the shortest calendar in which it comes to its end.

    `start`, `finish`: operations x futures. `load`: futures x stations x weeks. `people`: places of crews x the first
    of the futures. `open`: the futures that have not come to their end.
    """

    def __init__(self, operations: int, futures: int) -> None:
        self.start = np.empty((operations, futures), np.int32)
        self.finish = np.empty((operations, futures), np.int32)
        self.load = np.zeros((futures, 0, 0), np.int32)
        self.people = np.zeros((0, min(futures, LOOKED_AT)), np.int32)
        self.open = np.arange(futures)

    def add(self, layout: Layout, minutes: Small, opens: Small) -> None:
        """Run the futures that are open, some at a time."""
        from jobs.planning.futures import simulate  # The compiler, for whoever runs the floor.

        load = np.zeros((len(minutes), max(len(layout.stations), 1), layout.weeks), np.int32)
        load[:, : self.load.shape[1], : self.load.shape[2]] = self.load
        self.load = load
        count = max(1, AT_ONCE // max(len(self.start), 1))
        unended = []
        for first in range(0, len(self.open), count):
            those = self.open[first : first + count]
            start, finish, people, done = simulate(
                layout.floor, minutes[those], weeks=layout.weeks, opens=opens[those]
            )
            self.start[:, those], self.finish[:, those], load[those] = start.T, finish.T, done
            if not len(self.people):
                self.people = np.zeros((people.shape[1], self.people.shape[1]), np.int32)
            looked_at = those < self.people.shape[1]
            self.people[:, those[looked_at]] = people[looked_at].T
            unended.append(those[finish.max(axis=1, initial=0) >= NEVER])
        self.open = np.concatenate(unended)


def _outlast_holds(layout: Layout, shop: Shop, *durations: Small) -> None:
    """A cure or supplier's work that is under way and held ends no earlier than its hold."""
    nature = {kind.id: kind.nature for kind in shop.kinds}
    for i, operation in enumerate(layout.operations):
        if layout.held_for[i] and not layout.attended[i] and begun(operation, nature[operation.kind]):
            for minutes in durations:
                np.maximum(minutes[:, i], min(layout.held_for[i], NEVER - 1), out=minutes[:, i])


class _Reader:
    """Turns minutes into windows and datetimes."""

    def __init__(self, shop: Shop, outcome: Outcome) -> None:
        self.zone = ZoneInfo(shop.zone)
        self.outcome = outcome
        self.layout = outcome.layout
        self.finish, self.start = outcome.finish, outcome.start
        never = (self.finish.max(axis=1, initial=0) >= NEVER) | (outcome.middle_finish >= NEVER)
        self.endless = {self.layout.operations[i].id for i in np.flatnonzero(never)}
        self.instants: dict[int, datetime] = {}

    def instant(self, minute: int) -> datetime:
        # Many things end at the same minute, that of a shift's end or of one another.
        found = self.instants.get(minute)
        if found is None:
            found = (EPOCH + timedelta(minutes=self.layout.origin + minute)).astimezone(self.zone)
            self.instants[minute] = found
        return found

    def windows(self, minutes: Small) -> list[Window]:
        """One for each row of minutes, which stand in any order."""
        found = []
        for first in range(0, len(minutes), _ROWS):
            ranked = np.sort(minutes[first : first + _ROWS], axis=1)
            each = zip(*(at_quantile(ranked, share).tolist() for share in _CHANCES), strict=True)
            found += [Window(self.instant(a), self.instant(b), self.instant(c)) for a, b, c in each]
        return found

    def window(self, minutes: Small) -> Window:
        """That of one thing's minutes in the futures, in any order."""
        return self.windows(minutes[None])[0]

    def last_of(self, rows: list[int]) -> Small:
        return np.asarray(self.finish[rows].max(axis=0), np.int32)

    def operations(self) -> dict[int, OperationPlan]:
        """Every operation that comes to its end, from the run at median durations."""
        outcome, floor = self.outcome, self.layout.floor
        starts, finishes = self.windows(self.start), self.windows(self.finish)
        middle_start, middle_finish = outcome.middle_start.tolist(), outcome.middle_finish.tolist()
        seen: dict[int, int] = defaultdict(int)
        found = {}
        order = np.lexsort((np.arange(len(starts)), outcome.middle_start))
        at_station = floor.station.tolist()
        for i in order.tolist():
            operation, station = self.layout.operations[i], at_station[i]
            if operation.id in self.endless:
                continue
            person = None
            if self.layout.attended[i]:
                person = self.layout.people[int(outcome.middle_people[floor.crew_at[i]])].id
            on = operation.started if operation.started is not None and self._begun(i) else None
            found[operation.id] = OperationPlan(
                operation.id,
                on.astimezone(self.zone) if on else self.instant(middle_start[i]),
                self.instant(middle_finish[i]),
                person,
                seen[station] if station >= 0 else 0,
                starts[i],
                finishes[i],
            )
            seen[station] += 1
        return found

    def _begun(self, i: int) -> bool:
        return bool(self.layout.floor.kept[i]) or not self.layout.attended[i]


def _groups(
    operations: Iterable[Operation], left_out: frozenset[int], shop: Shop
) -> tuple[dict[int, list[int]], ...]:
    """Rows of the planned operations by job and by panel, without the jobs and panels that miss some."""
    jobs: dict[int, list[int]] = defaultdict(list)
    panels: dict[int, list[int]] = defaultdict(list)
    for i, operation in enumerate(operations):
        jobs[operation.job].append(i)
        if operation.panel is not None:
            panels[operation.panel].append(i)
    for operation in shop.operations:
        if operation.id in left_out:
            jobs.pop(operation.job, None)
            if operation.panel is not None:
                panels.pop(operation.panel, None)
    return jobs, panels


def _too_long(shop: Shop, endless: set[int]) -> list[Problem]:
    """A sentence for each job with work that does not end within the longest calendar."""
    numbers = {job.id: job.number for job in shop.jobs}
    first: dict[int, int] = {}
    for operation in shop.operations:
        if operation.id in endless:
            first.setdefault(operation.job, operation.id)
    return [
        Problem(f"{numbers[job]}: more than {YEARS} years of work lie before its end.", job, operation)
        for job, operation in first.items()
    ]


def make_plan(
    shop: Shop, *, now: datetime, seed: int, futures: int, rank: Mapping[int, float] | None = None
) -> Plan:
    """See jobs.planning.plan. `rank`: an order of jobs (id -> number, lower first) in place of the due dates."""
    if now.utcoffset() is None:
        raise ValueError("A plan needs to know the time zone of its now")
    if futures < 1:
        raise ValueError(f"A plan needs at least one future, not {futures}")
    today = local_day(to_minute(now), shop.zone)
    checked = check(shop, today, next_working_day(shop, today))
    outcome = run(shop, checked, now=now, seed=seed, futures=futures, rank=rank)
    reader, layout = _Reader(shop, outcome), outcome.layout
    out = frozenset(checked.left_out | reader.endless)
    jobs, panels = _groups(layout.operations, out, shop)
    finishes = {job: reader.last_of(rows) for job, rows in sorted(jobs.items())}
    samples: dict[int, NDArray[np.int64]] = {}
    for job, minutes in finishes.items():
        samples[job] = minutes.astype(np.int64) + layout.origin
        samples[job].flags.writeable = False
    could = capacity(layout, {station.id: station.benches for station in shop.stations}, outcome.median)
    return Plan(
        now=now,
        seed=seed,
        futures=futures,
        jobs={job: reader.window(minutes) for job, minutes in finishes.items()},
        panels={panel: reader.window(reader.last_of(rows)) for panel, rows in sorted(panels.items())},
        operations=reader.operations(),
        load=load_weeks(layout, outcome.load, could),
        tightest=tightest(layout, could, outcome.median),
        people=people_weeks(
            layout, *(each[:, :LOOKED_AT] for each in (outcome.start, outcome.finish, outcome.people))
        ),
        problems=checked.problems + tuple(_too_long(shop, reader.endless)),
        zone=shop.zone,
        samples=samples,
    )
