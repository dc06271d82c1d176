"""The arrays that the kernel walks through and writes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

NEVER = 1 << 30  # Later than any calendar; fits the 32 bits in which times are kept.

Ints = NDArray[np.int64]
Small = NDArray[np.int32]


class Floor(NamedTuple):
    """What does not change from future to future. Times are minutes from the start of the plan.

    Operations by priority, the first first. `station`: -1 for passive work. `pinned`: a person, or -1. `kept`: 1 if it
    is on a bench now. `needs`: how many operations it waits for. `then[then_at[i]:then_at[i + 1]]`: those that wait
    for it. `release`: not ready before; where `gated` is not -1 and days of opening are drawn, that column holds
    instead. `crew_at[i]`: where its crew stands in the row of people.
    Stations: `benches` free at the start. `able[able_at[s]:able_at[s + 1]]`: people, in the order they are asked.
    `queue_at[s]`: where its queue stands. `pace[person, station]`: 0 where a person does not work there.
    `back`: when each bench that is down is up again, one of the station `back_at`; `benches` does not count it.
    People: `opens`, `closes` and `week` of their hours stand at `hours_at[p]:hours_at[p + 1]`. `stays`: the station at
    which each takes up work only, up to `stays_until`; -1 for anywhere.
    """

    station: Ints
    crew: Ints
    pinned: Ints
    kept: Ints
    needs: Ints
    then_at: Ints
    then: Ints
    release: Ints
    gated: Ints
    crew_at: Ints
    benches: Ints
    able_at: Ints
    able: Ints
    queue_at: Ints
    pace: NDArray[np.float64]
    hours_at: Ints
    opens: Ints
    closes: Ints
    week: Ints
    stays: Ints
    stays_until: Ints
    back: Ints
    back_at: Ints


class Run(NamedTuple):
    """What changes during one future.

    `events`: a heap of time << bits | code. `tally`: 0 events, 1 operations left, 2 special operations ready, 3 people
    idle, 4 when work for a crew is looked at again, 5 how often that stands among the events.
    `queue`: a heap of ready operations for each station, `waiting` their sizes. `special`: ready operations with a pin
    or a crew, sorted. `idle`: the people without work, a list; `place`: where each stands in it, -1 if nowhere.
    `free`: idle and on shift. `queued`: 1 if the begin of a shift is among the events. `at`: each person's hours now.
    `doing`: what each person does, see floor.py. `stays`: as in Floor, now.
    """

    events: Ints
    tally: Ints
    needs: Ints
    benches: Ints
    queue: Ints
    waiting: Ints
    special: Ints
    idle: Ints
    place: Ints
    free: Ints
    queued: Ints
    at: Ints
    walk: Ints
    open: Ints
    doing: Ints
    stays: Ints


def room_for(floor: Floor) -> Run:
    """Room for one future at a time of this floor."""
    n, people, stations = len(floor.station), len(floor.hours_at) - 1, len(floor.benches)
    crews = int(floor.crew[floor.crew > 1].sum())
    sizes = {
        # Ends and begins of operations, begins of hours, ends put off by a crew, looks at work for crews, and what
        # stops being so: people who stay somewhere, benches that are down.
        "events": n + 3 * people + crews + len(floor.back) + 1,
        "tally": 6,
        "needs": n,
        "benches": stations,
        "queue": n + 1,
        "waiting": stations,
        "special": n + 1,
        "idle": people,
        "place": people,
        "free": people,
        "queued": people,
        "at": people,
        "walk": people,
        "open": stations,
        "doing": people,
        "stays": people,
    }
    return Run(**{name: np.zeros(size, np.int64) for name, size in sizes.items()})
