"""How much each person has to do by week, in the futures, against the hours that they are there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from jobs.planning.arrays import Ints, Small
from jobs.planning.layout import Layout
from jobs.planning.result import PersonWeek

LOOKED_AT = (
    100  # So many of the futures say enough of a week's hours; all of them would cost as much as the floor.
)
WEEKS = 26  # What lies further ahead nobody asks of a person.

_FUTURE = 1 << 32  # More than any minute: tells the futures of a search apart.


@dataclass(frozen=True, slots=True)
class _Hours:
    """One person's hours: where they begin and end, and how many minutes lie before each and before each week."""

    opens: Ints
    closes: Ints
    before: Ints
    before_week: Ints

    @classmethod
    def of(cls, layout: Layout, person: int) -> _Hours:
        floor = layout.floor
        span = slice(floor.hours_at[person], floor.hours_at[person + 1])
        opens, closes, week = floor.opens[span], floor.closes[span], floor.week[span]
        before = np.concatenate([[0], np.cumsum(closes - opens)]).astype(np.int64)
        until = np.searchsorted(week, np.arange(WEEKS + 1), "left")
        return cls(opens, closes, before, before[until])

    def until(self, minutes: Small) -> Ints:
        """How many minutes they are there up to each of these minutes."""
        if not self.opens.size:
            return np.zeros(len(minutes), np.int64)
        begun = np.searchsorted(self.opens, minutes, "right")
        over = np.maximum(self.closes[np.maximum(begun - 1, 0)] - minutes, 0)
        return np.asarray(self.before[begun] - np.where(begun > 0, over, 0), np.int64)


def people_weeks(layout: Layout, start: Small, finish: Small, people: Small) -> tuple[PersonWeek, ...]:
    """The weeks of each person, from this one to the last in which they have work with a chance of 20 %.

    `start`, `finish`: operations x futures; `people`: places of crews x futures. What somebody does alone rests while
    they are called away to a crew, and nobody's minute is counted twice.
    """
    floor, found = layout.floor, []
    of_place = np.repeat(np.arange(len(floor.crew)), np.where(floor.station >= 0, floor.crew, 0))
    places = np.concatenate(
        [floor.crew_at[i] + np.arange(floor.crew[i]) for i in np.flatnonzero(floor.station >= 0)]
        or [np.zeros(0, np.int64)]
    ).astype(np.int64)
    of_crew = floor.crew[of_place] > 1
    who = people[places]
    for number, person in enumerate(layout.people):
        hours = _Hours.of(layout, number)
        place, future = np.nonzero(who == number)
        begin, end = start[of_place[place], future], finish[of_place[place], future]
        counted = ~_within(begin, end, future, of_crew[place])
        begin, end, future = begin[counted], end[counted], future[counted]
        work = _by_week(hours, begin, end, future, people.shape[1])
        ranked = np.sort(work, axis=1)
        middle, high = ranked[:, (work.shape[1] - 1) // 2], ranked[:, -(-work.shape[1] * 4 // 5) - 1]
        busy = np.flatnonzero(high)
        there = np.diff(hours.before_week)
        for week in range(int(busy[-1]) + 1 if busy.size else 0):
            monday = layout.monday + timedelta(days=7 * week)
            found.append(PersonWeek(person.id, monday, int(middle[week]), int(high[week]), int(there[week])))
    return tuple(found)


def _within(begin: Small, end: Small, future: Ints, of_crew: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which work with a crew lies within work that the same person does alone and leaves for it."""
    found = np.zeros(len(begin), np.bool_)
    alone, called = np.flatnonzero(~of_crew), np.flatnonzero(of_crew)
    if not (alone.size and called.size):
        return found
    keys = future[alone] * _FUTURE + begin[alone]
    order = np.argsort(keys, kind="stable")
    # Of what is done alone one begins after the other ends, so that the last one begun is the only one to look at.
    last = np.searchsorted(keys[order], future[called] * _FUTURE + begin[called], "right") - 1
    held = alone[order[np.maximum(last, 0)]]
    found[called] = (last >= 0) & (future[held] == future[called]) & (end[held] >= end[called])
    return found


def _by_week(hours: _Hours, begin: Small, end: Small, future: Ints, futures: int) -> Ints:
    """Minutes worked, weeks x futures."""
    first, last = hours.until(begin), hours.until(end)
    upto = np.empty((WEEKS + 1, futures), np.int64)
    for week, edge in enumerate(hours.before_week.tolist()):
        worked = np.minimum(last, edge) - np.minimum(first, edge)
        upto[week] = np.rint(np.bincount(future, worked, futures))
    return np.asarray(np.diff(upto, axis=0), np.int64)
