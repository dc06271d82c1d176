"""How much work each station has by week, how much it could do, and which station is the tightest.

Work is what the simulated floor does in that week, so it cannot exceed what could be done by much: a station that is
overloaded shows as one full week after another, and as ready work that waits for it.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from jobs.planning.arrays import NEVER, Ints, Small
from jobs.planning.layout import Layout
from jobs.planning.result import LoadWeek

LOOK_AHEAD = 4  # Weeks over which capacity is summed where no work waits anywhere.


@dataclass(frozen=True, slots=True)
class Median:
    """The run at median durations: start and finish of each operation, the people of each, minutes of each."""

    start: Small
    finish: Small
    people: Small
    minutes: Small


def _busy(layout: Layout, median: Median) -> Ints:
    """Minutes that each person works at each station in each week, people x stations x weeks.

    What somebody does alone rests while they are called away to a crew, so that time counts at the crew's station only.
    """
    floor = layout.floor
    busy = np.zeros((len(layout.people), len(layout.stations), layout.weeks), np.int64)
    alone: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
    called: list[tuple[int, int, int]] = []
    for i in np.flatnonzero((floor.station >= 0) & (median.finish < NEVER)).tolist():
        begin, end, station = int(median.start[i]), int(median.finish[i]), int(floor.station[i])
        for slot in range(floor.crew_at[i], floor.crew_at[i] + floor.crew[i]):
            person = int(median.people[slot])
            _count(layout, busy[person, station], person, begin, end, 1)
            if floor.crew[i] == 1:
                alone[person].append((begin, end, station))
            else:
                called.append((person, begin, end))
    for person, begin, end in called:
        for first, last, station in alone[person]:
            if first <= begin and end <= last:
                _count(layout, busy[person, station], person, begin, end, -1)
    return busy


def _count(layout: Layout, row: Ints, person: int, begin: int, end: int, sign: int) -> None:
    """Add a person's minutes on shift between two minutes to a row of weeks, or take them off."""
    floor = layout.floor
    first, last = floor.hours_at[person], floor.hours_at[person + 1]
    span = slice(
        first + np.searchsorted(floor.closes[first:last], begin, "right"),
        first + np.searchsorted(floor.opens[first:last], end, "left"),
    )
    worked = np.minimum(floor.closes[span], end) - np.maximum(floor.opens[span], begin)
    np.add.at(row, floor.week[span], sign * worked)


def _crew(layout: Layout, median: Median) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """How many people the work of each station takes on average, by its minutes; 1 where it has none."""
    floor = layout.floor
    at_bench = floor.station >= 0
    weight = np.bincount(floor.station[at_bench], median.minutes[at_bench], len(layout.stations))
    people = np.bincount(
        floor.station[at_bench], (median.minutes * floor.crew)[at_bench], len(layout.stations)
    )
    return np.asarray(np.where(weight > 0, people / np.maximum(weight, 1), 1.0), np.float64)


def _bench_minutes(layout: Layout, station: int, benches: int) -> Ints:
    """By week, the minutes of benches that are up with somebody able to work at each: the smaller of benches and
    people."""
    floor = layout.floor
    back = np.sort(floor.back[floor.back_at == station])
    people = floor.able[floor.able_at[station] : floor.able_at[station + 1]]
    hours = np.concatenate(
        [np.arange(floor.hours_at[p], floor.hours_at[p + 1]) for p in people] or [np.zeros(0, np.int64)]
    )
    if not hours.size:
        return np.zeros(layout.weeks, np.int64)
    opened = np.sort(floor.opens[hours])
    weeks = floor.week[hours][np.argsort(floor.opens[hours], kind="stable")]
    at = np.concatenate([floor.opens[hours], floor.closes[hours], back])
    step = np.repeat(np.array([1, -1, 0]), [len(hours), len(hours), len(back)])
    during = weeks[np.maximum(np.searchsorted(opened, back, "right") - 1, 0)]
    week = np.concatenate([np.tile(floor.week[hours], 2), during])
    order = np.lexsort((week, step, at))
    up = benches - len(back) + np.searchsorted(back, at[order], "right")
    here = np.minimum(np.cumsum(step[order]), up)  # After each edge, so up to the next one.
    total = np.zeros(layout.weeks, np.int64)
    np.add.at(total, week[order][1:], np.diff(at[order]) * here[:-1])
    return total


def capacity(layout: Layout, benches: dict[int, int], median: Median) -> Ints:
    """Minutes that each station could work in each week, stations x weeks: benches or people, whichever binds.

    `benches`: by station id. Of people who can work at several stations it counts the hours that the run at median
    durations does not need them elsewhere, so that nobody's hour is promised twice.
    """
    floor = layout.floor
    present = np.zeros((len(layout.people), layout.weeks), np.int64)
    for person in range(len(layout.people)):
        span = slice(floor.hours_at[person], floor.hours_at[person + 1])
        np.add.at(present[person], floor.week[span], floor.closes[span] - floor.opens[span])
    busy = _busy(layout, median)
    left = present[:, None, :] - (busy.sum(axis=1)[:, None, :] - busy)
    by_people = np.where((floor.pace > 0)[:, :, None], left, 0).sum(axis=0) / _crew(layout, median)[:, None]
    rows = [_bench_minutes(layout, s, benches[number]) for s, number in enumerate(layout.stations)]
    by_bench = np.array(rows, np.int64).reshape(len(rows), layout.weeks)
    return np.minimum(by_bench, np.rint(by_people).astype(np.int64))


def load_weeks(layout: Layout, load: Small, could: Ints) -> tuple[LoadWeek, ...]:
    """The weeks of each station, from this one to the last in which it has work with a chance of 20 %.

    `load`: minutes worked, futures x stations x weeks.
    """
    futures = load.shape[0]
    ranked = np.sort(load, axis=0)
    middle, high = ranked[(futures - 1) // 2], ranked[-(-futures * 4 // 5) - 1]
    found = []
    for s, station in enumerate(layout.stations):
        busy = np.flatnonzero(high[s])
        for week in range(int(busy[-1]) + 1 if busy.size else 0):
            found.append(
                LoadWeek(
                    station,
                    layout.monday + timedelta(days=7 * week),
                    int(middle[s, week]),
                    int(high[s, week]),
                    int(could[s, week]),
                )
            )
    return tuple(found)


def tightest(layout: Layout, could: Ints, median: Median) -> int | None:
    """The station for which ready work waits longest, all its waiting added up; None if there is no work.

    Taken from the run at median durations: from when all that comes first is done and released to the start. Where
    nothing waits anywhere it is the one with the most work for what it could do (`could`, stations x weeks).
    """
    floor = layout.floor
    ready = floor.release.copy()
    for i in range(len(floor.station)):
        after = floor.then[floor.then_at[i] : floor.then_at[i + 1]]
        np.maximum.at(ready, after, int(median.finish[i]))
    waited = np.zeros(len(layout.stations), np.float64)
    counted = (floor.station >= 0) & (floor.kept == 0) & (median.finish < NEVER)
    np.add.at(waited, floor.station[counted], np.maximum(median.start[counted] - ready[counted], 0))
    if not waited.any():
        work = np.bincount(floor.station[counted], median.minutes[counted], len(layout.stations))
        waited = work / np.maximum(could[:, :LOOK_AHEAD].sum(axis=1), 1)
    best = int(np.argmax(waited)) if waited.size else -1
    return layout.stations[best] if best >= 0 and waited[best] > 0 else None
