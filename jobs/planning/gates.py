"""On which day a gate opens, and how unsure that is.

The studio's history of each kind of gate is by how many days it was cleared after the day expected. A gate that is
still shut opens as much later (or sooner) than expected as one of those did; PRIOR of them are taken to have come on
the day, whatever the history. Two things are known beside: it is not open today, so that whatever would have opened
it by now is out; and where everything known is out, the next working day is the soonest there is.
The draws belong to the gates' ids (common random numbers): a gate opens no sooner in a future because another one is
there too, and a gate expected later opens later in every future.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, timedelta

import numpy as np

from jobs.planning.arrays import Small
from jobs.planning.durations import GATE, Streams
from jobs.planning.shop import Gate

HOLD_DAYS = 14  # From today, where nobody has said how long a hold lasts or when a gate opens.
PRIOR = 2  # So many cleared on the day, before there is any history. Practice, no published source.
LATEST = date(9990, 1, 1)


def possible_days(gate: Gate, past: Iterable[int], today: date, next_day: date) -> list[date] | None:
    """The days on which it could open, each as likely as the other, soonest first; None if it is open.

    `past`: the days by which gates of its kind were late. `next_day`: the next working day after today. Without a day
    expected it is taken to open HOLD_DAYS from today, which is an assumption and has no spread.
    """
    if gate.cleared:
        return None
    if gate.expected is None:
        return [today + timedelta(days=HOLD_DAYS)]
    days = [gate.expected if gate.expected > today else next_day] * PRIOR
    if gate.expected < LATEST:
        days += [day for late in past if (day := gate.expected + timedelta(days=late)) > today]
    return sorted(days)


def opens_on(gate: Gate, past: Iterable[int], today: date, next_day: date) -> date | None:
    """The day by which it is open with a chance of one half, None if it is open: that of the median run."""
    days = possible_days(gate, past, today, next_day)
    return None if days is None else days[(len(days) - 1) // 2]


def draw_openings(
    columns: Sequence[tuple[int, tuple[Gate, ...]]],
    past: Mapping[str, Sequence[int]],
    minute: Callable[[date], int],
    *,
    today: date,
    next_day: date,
    seed: int,
    futures: int,
) -> Small:
    """When what waits for gates is released in each future, futures x columns.

    Each column: a minute before which it is not released anyway, and the gates that it waits for. `minute`: that at
    which a day begins.
    """
    streams = Streams(seed)
    drawn: dict[int, Small] = {}
    found = np.empty((futures, len(columns)), np.int32)
    for number, (least, gates) in enumerate(columns):
        found[:, number] = least
        for gate in gates:
            if gate.id not in drawn:
                days = possible_days(gate, past.get(gate.kind, ()), today, next_day) or [today]
                pick = (streams.of(GATE, gate.id).random(futures) * len(days)).astype(np.int64)
                drawn[gate.id] = np.array([minute(day) for day in days], np.int32)[pick]
            np.maximum(found[:, number], drawn[gate.id], out=found[:, number])
    return found
