"""What the kernel stands on: a heap in an array, and work over somebody's hours. Compiled with floor.py."""

from __future__ import annotations

from numba.extending import register_jitable

from jobs.planning.arrays import NEVER, Floor, Ints, Run, Small


@register_jitable(forceinline=True)
def push(heap: Ints, base: int, size: int, key: int) -> None:
    """Add a key to the binary heap heap[base:base + size]; the caller counts."""
    i = size
    while i > 0:
        parent = (i - 1) >> 1
        if heap[base + parent] <= key:
            break
        heap[base + i] = heap[base + parent]
        i = parent
    heap[base + i] = key


@register_jitable(forceinline=True)
def pop(heap: Ints, base: int, size: int) -> int:
    """Take the smallest key from heap[base:base + size]; the caller counts."""
    top = heap[base]
    last = heap[base + size - 1]
    size -= 1
    i = 0
    while True:
        child = 2 * i + 1
        if child >= size:
            break
        if child + 1 < size and heap[base + child + 1] < heap[base + child]:
            child += 1
        if heap[base + child] >= last:
            break
        heap[base + i] = heap[base + child]
        i = child
    heap[base + i] = last
    return int(top)


@register_jitable(forceinline=True)
def alone(floor: Floor, run: Run, person: int, now: int, minutes: int, load: Small) -> int:
    """When one person who begins now has worked so many minutes. `load`: the station's minutes by week, added to."""
    k = run.at[person]
    end = floor.hours_at[person + 1]
    while k < end and floor.closes[k] <= now:
        k += 1
    while k < end:
        begin = max(now, floor.opens[k])
        room = floor.closes[k] - begin
        if minutes <= room:
            load[floor.week[k]] += minutes
            return int(begin + minutes)
        load[floor.week[k]] += room
        minutes -= room
        k += 1
    return NEVER


@register_jitable(forceinline=True)
def together(floor: Floor, run: Run, people: Small, now: int, minutes: int, load: Small) -> int:
    """When several people, working only while all of them are on shift, have worked so many minutes."""
    for person in people:
        run.walk[person] = run.at[person]
    while True:
        begin = now
        stop = NEVER
        week = 0
        for person in people:
            k = run.walk[person]
            end = floor.hours_at[person + 1]
            while k < end and floor.closes[k] <= now:
                k += 1
            run.walk[person] = k
            if k == end:
                return NEVER
            begin = max(begin, floor.opens[k])
            stop = min(stop, floor.closes[k])
            week = floor.week[k]
        if begin >= stop:
            now = begin
            continue
        room = stop - begin
        load[week] += min(room, minutes)
        if minutes <= room:
            return int(begin + minutes)
        minutes -= room
        now = stop
