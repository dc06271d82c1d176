"""The floor, simulated: one event loop over whole minutes, compiled by numba and callable as plain Python.

The rule. At each instant everything that happens then (work finished, gates opened, shifts begun) happens first. Then
the ready operations are gone through in order of priority, their index; each takes a free bench of its station and its
crew from the people who are free and on shift, or is passed over: nobody and no bench waits for work that cannot start.
- A crew is the pinned person, if one is pinned, filled up from the station's own list (fastest first, see layout.py).
- Work for several people calls them away from work that they do alone: who is free comes first, then who is on shift
  at such work, in the order of the same list. What they leave keeps its bench and goes on when they come back. Without
  this rule a lift for two would wait until two people happen to end long work in the same minute.
- The crew and the bench stay with an operation until it is finished. It rests while any of the crew is off shift.
  A crew goes at the pace of its slowest member.
- Work that is on a bench already (`kept`) has its bench and waits for its keeper alone, before anything else.
- Passive work, a cure or a supplier, starts the minute it is ready and takes elapsed minutes.
- A bench that is down takes no work until it is back. So that none is done on it meanwhile, no more operations may lie
  on benches of a station at the start than there are benches up (check.py sets the others down).
- Who is moved to a station takes up work there alone until that is over, and is called to no crew elsewhere. What they
  keep on a bench elsewhere waits for them; what they have begun at the station they finish.
The functions are plain Python; futures.py compiles them.
"""

from __future__ import annotations

import numpy as np
from numba.extending import register_jitable

from jobs.planning.arrays import NEVER, Floor, Run, Small
from jobs.planning.borrowing import borrowed
from jobs.planning.footing import alone, pop, push, together

# What a person does, beside the number of an operation that they do alone: nothing, or something with a crew. Who was
# called away from operation i has AWAY - i, and comes back to it.
FREE, ALONG, AWAY = -1, -2, -3


@register_jitable(forceinline=True)
def _happens(run: Run, time: int, code: int, bits: int) -> None:
    if time < NEVER:
        push(run.events, 0, run.tally[0], (time << bits) | code)
        run.tally[0] += 1


@register_jitable(forceinline=True)
def _await_shift(floor: Floor, run: Run, person: int, now: int, bits: int) -> None:
    """Have the next begin of this idle person's hours among the events, once."""
    if run.queued[person]:
        return
    k = run.at[person]
    end = floor.hours_at[person + 1]
    while k < end and floor.closes[k] <= now:
        k += 1
    run.at[person] = k
    if k < end and floor.opens[k] <= now:
        k += 1
    if k < end:
        run.queued[person] = 1
        _happens(run, floor.opens[k], 2 * len(floor.station) + person, bits)


@register_jitable(forceinline=True)
def _busy(run: Run, person: int) -> None:
    """Take a person from the list of the idle; the last of the list takes the place."""
    run.tally[3] -= 1
    other = run.idle[run.tally[3]]
    run.idle[run.place[person]] = other
    run.place[other] = run.place[person]
    run.place[person] = -1
    run.free[person] = 0


@register_jitable(forceinline=True)
def _called_away(
    floor: Floor, run: Run, person: int, now: int, until: int, bits: int, out: Small, load: Small
) -> None:
    """A person is with a crew until then; the work that they leave, if any, ends as much later as it rests."""
    i = run.doing[person]
    run.doing[person] = ALONG if i < 0 else AWAY - i
    if i < 0 or out[1, i] >= NEVER:
        return
    week = load[floor.station[i]]
    left = 0
    k = run.at[person]
    while k < floor.hours_at[person + 1] and floor.opens[k] < out[1, i]:
        span = min(floor.closes[k], out[1, i]) - max(now, floor.opens[k])
        if span > 0:
            left += span
            week[floor.week[k]] -= span
        k += 1
    end = alone(floor, run, person, until, left, week)
    if end != out[1, i]:
        out[1, i] = end
        _happens(run, end, i, bits)


@register_jitable(forceinline=True)
def _begin(
    floor: Floor, run: Run, i: int, now: int, bits: int, minutes: Small, out: Small, load: Small
) -> None:
    """Operation i starts with the crew that stands in its place of out[2]."""
    station = floor.station[i]
    people = out[2, floor.crew_at[i] : floor.crew_at[i] + floor.crew[i]]
    slowest = np.inf
    for person in people:
        if run.doing[person] < 0:
            _busy(run, person)
        pace = floor.pace[person, station]
        slowest = min(slowest, pace if pace > 0 else 1.0)
    # Without the tolerance 110 minutes at a pace of 1.1 could come to 101.
    work = int(np.ceil(minutes[i] / slowest - 1e-9))
    if floor.crew[i] == 1:
        end = alone(floor, run, people[0], now, work, load[station])
        run.doing[people[0]] = i
    else:
        end = together(floor, run, people, now, work, load[station])
        for person in people:
            _called_away(floor, run, person, now, end, bits, out, load)
    if not floor.kept[i]:
        run.benches[station] -= 1
    out[0, i] = now
    out[1, i] = end
    _happens(run, end, i, bits)


@register_jitable(forceinline=True)
def _ready(floor: Floor, run: Run, i: int, now: int, bits: int, minutes: Small, out: Small) -> None:
    """Nothing hinders operation i any more: passive work starts, the rest queues."""
    station = floor.station[i]
    if station < 0:
        out[0, i] = now
        out[1, i] = now + minutes[i]
        _happens(run, now + minutes[i], i, bits)
    elif floor.pinned[i] < 0 and floor.crew[i] == 1:
        push(run.queue, floor.queue_at[station], run.waiting[station], i)
        run.waiting[station] += 1
    else:
        j = run.tally[2]
        while j > 0 and run.special[j - 1] > i:
            run.special[j] = run.special[j - 1]
            j -= 1
        run.special[j] = i
        run.tally[2] += 1


@register_jitable(forceinline=True)
def _released(floor: Floor, opens: Small, i: int) -> int:
    """The minute before which operation i is not ready: as drawn for this future if it is, otherwise in the middle."""
    if floor.gated[i] >= 0 and len(opens) > 0:
        return int(opens[floor.gated[i]])
    return int(floor.release[i])


@register_jitable(forceinline=True)
def _freed(
    floor: Floor, run: Run, i: int, now: int, bits: int, minutes: Small, opens: Small, out: Small
) -> None:
    """Nothing that comes first is left of operation i: it is ready now, or when its gates and holds let it."""
    released = _released(floor, opens, i)
    if released <= now:
        _ready(floor, run, i, now, bits, minutes, out)
    else:
        _happens(run, released, len(floor.station) + i, bits)


@register_jitable(forceinline=True)
def _finished(
    floor: Floor, run: Run, i: int, now: int, bits: int, minutes: Small, opens: Small, out: Small
) -> None:
    """Operation i leaves its bench and people, and lets what waits for it go on."""
    run.tally[1] -= 1
    if floor.station[i] >= 0:
        run.benches[floor.station[i]] += 1
        for slot in range(floor.crew_at[i], floor.crew_at[i] + floor.crew[i]):
            person = out[2, slot]
            if run.doing[person] <= AWAY:
                run.doing[person] = AWAY - run.doing[person]
                continue
            run.doing[person] = FREE
            run.idle[run.tally[3]] = person
            run.place[person] = run.tally[3]
            run.tally[3] += 1
            _await_shift(floor, run, person, now, bits)
    for slot in range(floor.then_at[i], floor.then_at[i + 1]):
        j = floor.then[slot]
        run.needs[j] -= 1
        if run.needs[j] == 0:
            _freed(floor, run, j, now, bits, minutes, opens, out)


@register_jitable(forceinline=True)
def _can_be_called(floor: Floor, run: Run, person: int, now: int, out: Small) -> bool:
    """Whether this person is on shift at work that they do alone, and that does not end this very minute."""
    if run.doing[person] < 0 or out[1, run.doing[person]] <= now:
        return False
    k = run.at[person]
    while k < floor.hours_at[person + 1] and floor.closes[k] <= now:
        k += 1
    run.at[person] = k
    return bool(k < floor.hours_at[person + 1] and floor.opens[k] <= now)


@register_jitable(forceinline=True)
def _may(run: Run, person: int, station: int) -> bool:
    """Whether this person may take up work at the station now, or was moved to another."""
    return bool(run.stays[person] < 0 or run.stays[person] == station)


@register_jitable(forceinline=True)
def _special(floor: Floor, run: Run, i: int, now: int, out: Small) -> bool:
    """Find bench and crew for an operation with a pin or a crew; the crew is put in its place of out[2]."""
    station = floor.station[i]
    if not floor.kept[i] and run.benches[station] <= 0:
        return False
    slot = floor.crew_at[i]
    full = slot + floor.crew[i]
    pinned = floor.pinned[i]
    if pinned >= 0:
        if not _may(run, pinned, station):
            return False
        if not run.free[pinned] and (floor.crew[i] == 1 or not _can_be_called(floor, run, pinned, now, out)):
            return False
        out[2, slot] = pinned
        slot += 1
    for called in range(2 if floor.crew[i] > 1 else 1):
        for k in range(floor.able_at[station], floor.able_at[station + 1]):
            person = floor.able[k]
            if slot == full:
                break
            if person == pinned or not _may(run, person, station):
                continue
            if _can_be_called(floor, run, person, now, out) if called else run.free[person]:
                out[2, slot] = person
                slot += 1
    return bool(slot == full)


@register_jitable(forceinline=True)
def _look_again(floor: Floor, run: Run, i: int, now: int, bits: int) -> None:
    """Look again at work for a crew when the hours of somebody who could be called begin; free people have such an
    event anyway."""
    station = floor.station[i]
    first = NEVER
    for slot in range(floor.able_at[station], floor.able_at[station + 1]):
        person = floor.able[slot]
        k = run.at[person]
        while k < floor.hours_at[person + 1] and floor.opens[k] <= now:
            k += 1
        if k < floor.hours_at[person + 1]:
            first = min(first, floor.opens[k])
    if first < NEVER and (run.tally[4] <= now or first < run.tally[4]) and run.tally[5] < len(run.place):
        run.tally[4] = first
        run.tally[5] += 1
        _happens(run, first, 2 * len(floor.station) + len(run.place), bits)


@register_jitable(forceinline=True)
def _look_round(floor: Floor, run: Run, now: int) -> bool:
    """See who is free and which stations have work and a bench; False if there is nothing to dispatch."""
    anybody = False
    for slot in range(run.tally[3]):
        person = run.idle[slot]
        run.free[person] = 0
        k = run.at[person]
        end = floor.hours_at[person + 1]
        while k < end and floor.closes[k] <= now:
            k += 1
        run.at[person] = k
        if k < end and floor.opens[k] <= now:
            run.free[person] = 1
            anybody = True
    for station in range(len(run.open)):
        waiting = anybody and run.waiting[station] > 0 and run.benches[station] > 0
        run.open[station] = 1 if waiting else 0
    return anybody or run.tally[2] > 0


@register_jitable(forceinline=True)
def _first_free(floor: Floor, run: Run, station: int) -> int:
    for k in range(floor.able_at[station], floor.able_at[station + 1]):
        if run.free[floor.able[k]] and _may(run, floor.able[k], station):
            return int(floor.able[k])
    return -1


@register_jitable(forceinline=True)
def _dispatch(floor: Floor, run: Run, now: int, bits: int, minutes: Small, out: Small, load: Small) -> None:
    """Start whatever can start now, in order of priority over all stations."""
    if not _look_round(floor, run, now):
        return
    j = 0
    while True:
        i = len(floor.station)
        station = -1
        for s in range(len(run.open)):
            if run.open[s] and run.queue[floor.queue_at[s]] < i:
                i = run.queue[floor.queue_at[s]]
                station = s
        if j < run.tally[2] and run.special[j] < i:
            i = run.special[j]
            if not _special(floor, run, i, now, out):
                if floor.crew[i] > 1:
                    _look_again(floor, run, i, now, bits)
                j += 1
                continue
            run.tally[2] -= 1
            for k in range(j, run.tally[2]):
                run.special[k] = run.special[k + 1]
            station = floor.station[i]
        elif station < 0:
            return
        else:
            person = _first_free(floor, run, station)
            if person < 0:
                run.open[station] = 0
                continue
            out[2, floor.crew_at[i]] = person
            pop(run.queue, floor.queue_at[station], run.waiting[station])
            run.waiting[station] -= 1
        _begin(floor, run, i, now, bits, minutes, out, load)
        if run.waiting[station] == 0 or run.benches[station] <= 0:
            run.open[station] = 0


@register_jitable(forceinline=True)
def _reset(floor: Floor, run: Run, bits: int, minutes: Small, opens: Small, out: Small) -> None:
    run.tally[0] = 0
    run.tally[1] = len(floor.station)
    run.tally[2] = 0
    run.needs[:] = floor.needs
    run.benches[:] = floor.benches
    run.waiting[:] = 0
    run.tally[3] = len(run.idle)
    run.free[:] = 0
    run.queued[:] = 0
    run.doing[:] = FREE
    run.tally[4] = -1
    # What is ready at once is looked at when everything else of the first minute has happened.
    run.tally[5] = 1
    _happens(run, 0, 2 * len(floor.station) + len(run.place), bits)
    out[0, :] = NEVER
    out[1, :] = NEVER
    out[2, :] = -1
    for person in range(len(run.idle)):
        run.idle[person] = person
        run.place[person] = person
        run.at[person] = floor.hours_at[person]
        _await_shift(floor, run, person, 0, bits)
    for i in range(len(floor.station)):
        if floor.needs[i] == 0:
            _freed(floor, run, i, 0, bits, minutes, opens, out)
    over = 2 * len(floor.station) + len(run.idle) + 1
    run.stays[:] = floor.stays
    for person in range(len(floor.stays)):
        if floor.stays[person] >= 0:
            _happens(run, floor.stays_until[person], over + person, bits)
    for k in range(len(floor.back)):
        _happens(run, floor.back[k], over + len(floor.stays) + floor.back_at[k], bits)


@register_jitable(forceinline=True)
def _is_over(run: Run, code: int) -> None:
    """Somebody who stayed at a station may go anywhere, or a bench that was down is back."""
    if code < len(run.stays):
        run.stays[code] = -1
    else:
        run.benches[code - len(run.stays)] += 1


@register_jitable(forceinline=True)
def _one(floor: Floor, run: Run, bits: int, minutes: Small, opens: Small, out: Small, load: Small) -> None:
    """One future, from the first instant until everything is done or nothing can happen any more."""
    n = len(floor.station)
    _reset(floor, run, bits, minutes, opens, out)
    while run.tally[0] > 0 and run.tally[1] > 0:
        now = run.events[0] >> bits
        while run.tally[0] > 0 and run.events[0] >> bits == now:
            code = pop(run.events, 0, run.tally[0]) & ((1 << bits) - 1)
            run.tally[0] -= 1
            if code < n:
                # Somebody who was called away meanwhile ends later; that end has an event of its own.
                if out[1, code] == now:
                    _finished(floor, run, code, now, bits, minutes, opens, out)
            elif code < 2 * n:
                _ready(floor, run, code - n, now, bits, minutes, out)
            elif code < 2 * n + len(run.place):
                run.queued[code - 2 * n] = 0
                if run.place[code - 2 * n] >= 0:
                    _await_shift(floor, run, code - 2 * n, now, bits)
            elif code == 2 * n + len(run.place):
                run.tally[5] -= 1
            else:
                _is_over(run, code - 2 * n - len(run.place) - 1)
        _dispatch(floor, run, now, bits, minutes, out, load)


def run_futures(
    floor: Floor, run: Run, minutes: Small, opens: Small, first: int, last: int, out: Small, load: Small
) -> None:
    """Run the futures first to last - 1. See futures.simulate for the shapes."""
    bits = 1
    while 1 << bits <= 2 * (len(floor.station) + len(run.idle)) + 1 + len(floor.benches):
        bits += 1
    floor, run, minutes, opens, out, load = (
        borrowed(floor),
        borrowed(run),
        borrowed(minutes),
        borrowed(opens),
        borrowed(out),
        borrowed(load),
    )
    for future in range(first, last):
        _one(floor, run, bits, minutes[future], opens[future], out[future], load[future])
