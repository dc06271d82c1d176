"""A shop as the arrays that the kernel walks through."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np

from jobs.planning.arrays import NEVER, Floor, Ints, Small
from jobs.planning.calendars import intervals, midnight, to_minute
from jobs.planning.check import begun, released_on, waits_for, works
from jobs.planning.gates import draw_openings, opens_on
from jobs.planning.order import priority
from jobs.planning.readiness import waits
from jobs.planning.shop import Gate, Nature, Operation, Person, Shop


@dataclass(frozen=True, slots=True)
class Layout:
    """The arrays, and what their indexes mean. `origin`: the minute since 1970 at which the floor's minute 0 lies.
    `columns`: for each of floor.gated, the minute at which the hold ends and the gates that are waited for."""

    floor: Floor
    operations: tuple[Operation, ...]
    people: tuple[Person, ...]
    stations: tuple[int, ...]
    origin: int
    monday: date
    weeks: int
    attended: tuple[bool, ...]
    held_for: Ints
    columns: tuple[tuple[int, tuple[Gate, ...]], ...]
    today: date
    next_day: date


def next_working_day(shop: Shop, today: date) -> date:
    """The first day after today on which anybody has hours; tomorrow if there is none within a year."""
    for number in range(1, 366):
        day = today + timedelta(days=number)
        if any(
            intervals(p.shifts, p.days_off, shop.closed, shop.zone, day, day, p.extra) for p in shop.people
        ):
            return day
    return today + timedelta(days=1)


def asked_first(people: Sequence[Person], station: int) -> list[int]:
    """Who is asked for work at a station, as indexes: the fastest, of equals who can do least else, then by id."""
    able = [i for i, person in enumerate(people) if station in person.skills]
    return sorted(able, key=lambda i: (-people[i].skills[station], len(people[i].skills), people[i].id))


def _slices(rows: Sequence[Sequence[int]]) -> tuple[Ints, Ints]:
    """Rows of unequal length as one array, and where each begins."""
    at = np.zeros(len(rows) + 1, np.int64)
    np.cumsum([len(row) for row in rows], out=at[1:])
    return at, np.array([value for row in rows for value in row], np.int64)


def _hours(
    shop: Shop, people: Sequence[Person], origin: int, first: date, days: int
) -> tuple[Ints, Ints, Ints, Ints]:
    """Where each person's hours begin in the arrays; opening and closing minutes; the week of each."""
    monday = first - timedelta(days=first.weekday())
    last = first + timedelta(days=days)
    mondays = np.array([midnight(monday + timedelta(days=7 * k), shop.zone) for k in range(days // 7 + 3)])
    rows = []
    for person in people:
        found = intervals(person.shifts, person.days_off, shop.closed, shop.zone, first, last, person.extra)
        pairs = np.array(found, np.int64).reshape(-1, 2)
        rows.append(pairs[pairs[:, 1] > origin])
    at = np.zeros(len(rows) + 1, np.int64)
    np.cumsum([len(row) for row in rows], out=at[1:])
    pairs = np.concatenate([*rows, np.empty((0, 2), np.int64)])
    week = np.searchsorted(mondays, pairs[:, 0], "right") - 1
    opens = np.maximum(pairs[:, 0] - origin, 0)
    return at, opens, np.ascontiguousarray(pairs[:, 1] - origin), week.astype(np.int64)


def _releases(
    shop: Shop,
    operations: Sequence[Operation],
    natures: Sequence[Nature],
    origin: int,
    today: date,
    next_day: date,
) -> tuple[Ints, Ints, Ints, tuple[tuple[int, tuple[Gate, ...]], ...]]:
    """When each may start at the earliest for its hold and gates, these in the middle of what is possible; until when
    its hold lasts; and which column of drawn openings holds for it, -1 without a shut gate, with what columns stand
    for."""
    gates = {gate.id: gate for gate in shop.gates if not gate.cleared}
    release, held_for = np.zeros(len(operations), np.int64), np.zeros(len(operations), np.int64)
    gated = np.full(len(operations), -1, np.int64)
    waiting: dict[int, tuple[int, tuple[int, ...]]] = {}
    middle = {
        number: opens_on(gate, shop.gate_days.get(gate.kind, ()), today, next_day)
        for number, gate in gates.items()
    }
    for i, operation in enumerate(operations):
        hold = released_on(operation, today, next_day)
        if hold is not None:
            held_for[i] = _minute(hold, shop.zone, origin)
        if begun(operation, natures[i]) and natures[i] is not Nature.ATTENDED:
            continue  # It goes on curing; only what comes after waits for the end of the hold.
        release[i] = held_for[i]
        if waits(operation.early) and not begun(operation, natures[i]):
            shut = tuple(sorted(number for number in set(operation.gates) if number in gates))
            if shut:
                waiting[i] = int(held_for[i]), shut
            for number in shut:
                release[i] = max(release[i], _minute(middle[number] or today, shop.zone, origin))
    keys = sorted(set(waiting.values()))
    turn = {key: number for number, key in enumerate(keys)}
    for i, key in waiting.items():
        gated[i] = turn[key]
    found = tuple((hold, tuple(gates[number] for number in shut)) for hold, shut in keys)
    return release, held_for, gated, found


def openings(shop: Shop, layout: Layout, *, seed: int, futures: int) -> Small:
    """When what waits for gates is released in each future, futures x columns of layout.floor.gated."""
    return draw_openings(
        layout.columns,
        shop.gate_days,
        lambda day: _minute(day, shop.zone, layout.origin),
        today=layout.today,
        next_day=layout.next_day,
        seed=seed,
        futures=futures,
    )


def _minute(day: date, zone: str, origin: int) -> int:
    # A day beyond the calendar that zones are worked out for is as good as never.
    if day.year >= 9999:
        return NEVER
    return max(0, midnight(day, zone) - origin)


def lay_out(
    shop: Shop,
    operations: Sequence[Operation],
    *,
    origin: int,
    today: date,
    next_day: date,
    days: int,
    rank: Mapping[int, float] | None = None,
) -> Layout:
    """Arrays for these operations of the shop, all of which can be planned, with calendars for so many days."""
    jobs = {job.id: job for job in shop.jobs}
    nature = {kind.id: kind.nature for kind in shop.kinds}
    ordered = tuple(sorted(operations, key=lambda o: priority(o, jobs[o.job], rank)))
    natures = [nature[operation.kind] for operation in ordered]
    people = tuple(sorted((p for p in shop.people if works(p, today)), key=lambda p: p.id))
    stations = tuple(sorted(station.id for station in shop.stations))
    release, held_for, gated, columns = _releases(shop, ordered, natures, origin, today, next_day)
    needs, then_at, then = _links(ordered, natures)
    hours_at, opens, closes, week = _hours(shop, people, origin, today, days)
    floor = Floor(
        **_operations(ordered, natures, people, stations),
        **_stations(shop, ordered, natures, people, stations),
        **_for_a_while(shop, people, stations, origin),
        needs=needs,
        then_at=then_at,
        then=then,
        release=release,
        gated=gated,
        hours_at=hours_at,
        opens=opens,
        closes=closes,
        week=week,
    )
    attended = tuple(kind is Nature.ATTENDED for kind in natures)
    monday = today - timedelta(days=today.weekday())
    weeks = days // 7 + 3
    return Layout(
        floor, ordered, people, stations, origin, monday, weeks, attended, held_for, columns, today, next_day
    )


def _operations(
    operations: Sequence[Operation],
    natures: Sequence[Nature],
    people: Sequence[Person],
    stations: Sequence[int],
) -> dict[str, Any]:
    """Where each is done and by whom. Passive work has no station, no person, and a crew of one."""
    person_at = {person.id: i for i, person in enumerate(people)}
    station_at = {number: i for i, number in enumerate(stations)}
    rows = []
    for operation, nature in zip(operations, natures, strict=True):
        if nature is not Nature.ATTENDED or operation.station is None:
            rows.append((-1, 1, -1, 0))
            continue
        bound = operation.keeper if operation.keeper is not None else operation.pinned_person
        pinned = -1 if bound is None else person_at[bound]
        rows.append(
            (station_at[operation.station], operation.crew, pinned, int(operation.keeper is not None))
        )
    table = np.ascontiguousarray(np.array(rows, np.int64).reshape(-1, 4).T)
    crew_at = np.concatenate([[0], np.cumsum(table[1])]).astype(np.int64)
    return {"station": table[0], "crew": table[1], "pinned": table[2], "kept": table[3], "crew_at": crew_at}


def _stations(
    shop: Shop,
    operations: Sequence[Operation],
    natures: Sequence[Nature],
    people: Sequence[Person],
    stations: Sequence[int],
) -> dict[str, Any]:
    """Free benches, room for a queue, and who is asked at each station; and everybody's pace."""
    at_bench = [o for o, nature in zip(operations, natures, strict=True) if nature is Nature.ATTENDED]
    kept = Counter(o.station for o in at_bench if o.keeper is not None)
    most = Counter(o.station for o in at_bench)
    benches = {station.id: station.benches - len(station.back) for station in shop.stations}
    able_at, able = _slices([asked_first(people, number) for number in stations])
    pace = np.array([[p.skills.get(number, 0.0) for number in stations] for p in people], np.float64)
    return {
        "benches": np.array([benches[number] - kept[number] for number in stations], np.int64),
        "queue_at": np.cumsum([0, *(most[number] for number in stations)]).astype(np.int64),
        "able_at": able_at,
        "able": able,
        "pace": pace.reshape(len(people), len(stations)),
    }


def _for_a_while(
    shop: Shop, people: Sequence[Person], stations: Sequence[int], origin: int
) -> dict[str, Any]:
    """Who stays at which station and until when, and when which benches are back."""
    station_at = {number: i for i, number in enumerate(stations)}
    stays = [p.stays if p.stays and to_minute(p.stays[1]) > origin else None for p in people]
    back = sorted(
        (max(0, to_minute(at) - origin), station_at[station.id])
        for station in shop.stations
        for at in station.back
    )
    return {
        "stays": np.array([station_at.get(s[0], -1) if s else -1 for s in stays], np.int64),
        "stays_until": np.array([to_minute(s[1]) - origin if s else 0 for s in stays], np.int64),
        "back": np.array([minute for minute, _ in back], np.int64),
        "back_at": np.array([station for _, station in back], np.int64),
    }


def _links(operations: Sequence[Operation], natures: Sequence[Nature]) -> tuple[Ints, Ints, Ints]:
    """How many unfinished operations each waits for, and which wait for it."""
    index = {operation.id: i for i, operation in enumerate(operations)}
    needs = np.zeros(len(operations), np.int64)
    rows: list[list[int]] = [[] for _ in operations]
    for i, operation in enumerate(operations):
        for number in set(waits_for(operation, natures[i])):
            if number in index:
                needs[i] += 1
                rows[index[number]].append(i)
    then_at, then = _slices(rows)
    return needs, then_at, then
