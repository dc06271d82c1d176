"""How much work each station has by week, how much it could do, and which station is the tightest.

Work is what the simulated floor does in that week, so it never exceeds what could be done by much: a bench that is
overloaded shows as one full week after another.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from jobs.planning.floor import Ints, Small
from jobs.planning.layout import Layout
from jobs.planning.result import LoadWeek

LOOK_AHEAD = 8  # Weeks over which capacity is averaged to find the tightest station.


def _needed(layout: Layout, minutes: Small) -> Ints:
    """Minutes of work at pace 1 that are left at each station."""
    total = np.zeros(len(layout.stations), np.int64)
    for i, station in enumerate(layout.floor.station):
        if station >= 0:
            total[station] += int(minutes[i])
    return total


def _shares(layout: Layout, needed: Ints) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """How each person's hours are split over the stations where they can work, people x stations, rows of sum 1.

    In proportion to the work that is left at a station for each person who can do it: somebody who alone can bevel
    bevels, whatever else they can do. Where there is no work at all, evenly.
    """
    able = layout.floor.pace > 0
    each = needed / np.maximum(able.sum(axis=0), 1)
    wish = np.where(able, each, 0.0)
    wish = np.where((wish.sum(axis=1) == 0)[:, None], able, wish)
    return np.asarray(wish / np.maximum(wish.sum(axis=1), 1e-9)[:, None], np.float64)


def _bench_minutes(layout: Layout, station: int, benches: int) -> Ints:
    """By week, the minutes of benches with somebody able to work at each: the smaller of benches and people."""
    floor = layout.floor
    edges: list[tuple[int, int, int]] = []
    for k in range(floor.able_at[station], floor.able_at[station + 1]):
        person = floor.able[k]
        for h in range(floor.hours_at[person], floor.hours_at[person + 1]):
            edges.append((int(floor.opens[h]), 1, int(floor.week[h])))
            edges.append((int(floor.closes[h]), -1, int(floor.week[h])))
    edges.sort()
    total = np.zeros(layout.weeks, np.int64)
    here, since = 0, 0
    for at, step, week in edges:
        total[week] += (at - since) * min(here, benches)
        here, since = here + step, at
    return total


def capacity(layout: Layout, benches: dict[int, int], minutes: Small) -> Ints:
    """Minutes that each station could work in each week, stations x weeks: benches or people, whichever binds.

    `benches`: by station id. `minutes`: of the run at median durations, to split people between stations.
    """
    floor = layout.floor
    present = np.zeros((len(layout.people), layout.weeks), np.int64)
    for person in range(len(layout.people)):
        span = slice(floor.hours_at[person], floor.hours_at[person + 1])
        np.add.at(present[person], floor.week[span], floor.closes[span] - floor.opens[span])
    by_people = _shares(layout, _needed(layout, minutes)).T @ present
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


def tightest(layout: Layout, could: Ints, minutes: Small) -> int | None:
    """The station with the most weeks of work before it (work left / capacity of a week in the next weeks); None
    if there is no work at any."""
    needed = _needed(layout, minutes)
    weekly = could[:, :LOOK_AHEAD].mean(axis=1) if could.size else np.zeros(0)
    weeks = needed / np.maximum(weekly, 1e-9)
    best = int(np.argmax(weeks)) if len(weeks) else -1
    return layout.stations[best] if best >= 0 and needed[best] > 0 else None
