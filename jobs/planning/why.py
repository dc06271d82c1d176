"""Why this date: the chain back from a finish, in the run of the floor at median durations.

From the operation that finishes last back to now: its work, its cure or its time at a supplier, before that what it
waited for, and so on with whatever let it become ready. The pieces follow each other without gap or overlap.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from jobs.planning.arrays import NEVER
from jobs.planning.calendars import from_minute, local_day, to_minute
from jobs.planning.check import check, listed
from jobs.planning.durations import medians
from jobs.planning.gates import opens_on
from jobs.planning.layout import next_working_day
from jobs.planning.middle import middle_run
from jobs.planning.readiness import waits
from jobs.planning.shop import Nature, Operation, Shop

NAMED = 3  # How many other jobs a sentence names.


class Cause(StrEnum):
    """What a stretch of time went to."""

    WORK = "work"
    CURE = "cure"
    SUPPLIER = "supplier"
    STATION = "station"  # Every bench of the station was taken.
    PERSON = "person"  # A bench was free, whoever can do it was not.
    GATE = "gate"
    HOLD = "hold"
    CLOSED = "closed"  # Nobody was at work.


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of the chain.

    `minutes`: elapsed. `open_minutes`: those of them in which anybody was at work. `days`: working days that
    begin in it. `behind`: jobs whose work stood in the way, the one that stood longest first; `works`: that work, in
    the same way. `person`: who worked, or was waited for if only one person would do. `gate`: the gate that was waited
    for.
    """

    cause: Cause
    operation: int
    station: int | None
    start: datetime
    stop: datetime
    minutes: int
    open_minutes: int
    days: int
    behind: tuple[int, ...] = ()
    person: int | None = None
    gate: int | None = None
    works: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Why:
    """The chain, earliest first, and what most of it was in one sentence. Empty where there is nothing to explain."""

    segments: tuple[Segment, ...]
    sentence: str


def why(shop: Shop, *, now: datetime, job: int | None = None, panel: int | None = None) -> Why | None:
    """The chain back from the finish of a job or of a panel; give one of them. None if it has no date in the plan.

    ValueError unless just one of job and panel is given.
    """
    return Reasons(shop, now=now).of(job=job, panel=panel)


class Reasons:
    """The same for as many jobs and panels as one likes, from one run of the floor."""

    def __init__(self, shop: Shop, *, now: datetime) -> None:
        today = local_day(to_minute(now), shop.zone)
        self.shop = shop
        self.checked = check(shop, today, next_working_day(shop, today))
        self.chain = _Chain(shop, self.checked.operations, now)

    def of(self, *, job: int | None = None, panel: int | None = None) -> Why | None:
        """As why()."""
        if (job is None) == (panel is None):
            raise ValueError("Ask for one job or for one panel")
        wanted = {
            o.id
            for o in self.shop.operations
            if (o.job == job if panel is None else o.panel == panel) and not o.done
        }
        if not wanted or wanted & self.checked.left_out:
            return None
        ends = {i: self.chain.finish[i] for i in wanted}
        if max(ends.values()) >= NEVER:
            return None
        return self.chain.back_from(max(ends, key=lambda i: (ends[i], i)))


class _Chain:
    """The run at median durations, by operation id."""

    def __init__(self, shop: Shop, operations: Iterable[Operation], now: datetime) -> None:
        self.shop = shop
        rows = list(operations)
        layout, start, finish, people = middle_run(shop, rows, medians(rows, shop.kinds, now=now), now=now)
        self.layout = layout
        self.index = {o.id: i for i, o in enumerate(layout.operations)}
        self.start = {o.id: int(start[i]) for i, o in enumerate(layout.operations)}
        self.finish = {o.id: int(finish[i]) for i, o in enumerate(layout.operations)}
        self.nature = {kind.id: kind.nature for kind in shop.kinds}
        self.crews: dict[int, list[int]] = {}
        for i, o in enumerate(layout.operations):
            at = layout.floor.crew_at[i]
            self.crews[o.id] = [int(p) for p in people[at : at + o.crew]] if layout.attended[i] else []
        self.before = self._predecessors()
        self.segments: list[Segment] = []

    def _predecessors(self) -> dict[int, list[int]]:
        floor, before = self.layout.floor, defaultdict(list)
        for i, operation in enumerate(self.layout.operations):
            for slot in range(floor.then_at[i], floor.then_at[i + 1]):
                before[self.layout.operations[floor.then[slot]].id].append(operation.id)
        return before

    def back_from(self, last: int) -> Why:
        self.segments = []
        number: int | None = last
        while number is not None:
            i = self.index[number]
            operation = self.layout.operations[i]
            begin = max(0, self.start[number])
            self._done(operation, begin)
            ready = max(
                [0, int(self.layout.floor.release[i]), *(self.finish[j] for j in self.before[number])]
            )
            self._waited(operation, ready, begin)
            last_before = max(self.before[number], key=lambda j: (self.finish[j], j), default=None)
            since = self.finish[last_before] if last_before is not None else 0
            if ready > since:
                self._released(operation, since, ready)
            number = last_before if since > 0 else None
        segments = tuple(self.segments[::-1])
        return Why(segments, self._sentence(segments))

    def _add(self, cause: Cause, operation: Operation, start: int, stop: int, **more: object) -> None:
        if start >= stop:
            return
        zone, origin = self.shop.zone, self.layout.origin
        self.segments.append(
            Segment(
                cause,
                operation.id,
                operation.station,
                from_minute(origin + start, zone),
                from_minute(origin + stop, zone),
                stop - start,
                self._open(start, stop),
                self._days(start, stop),
                **more,  # type: ignore[arg-type]
            )
        )

    def _open(self, start: int, stop: int) -> int:
        """Minutes in which anybody is at work."""
        spans = sorted(self._hours(range(len(self.layout.people)), start, stop))
        total, upto = 0, start
        for a, b in spans:
            total += max(0, b - max(a, upto))
            upto = max(upto, b)
        return total

    def _hours(self, people: Iterable[int], start: int, stop: int) -> list[tuple[int, int]]:
        """Their hours, cut to a stretch."""
        floor, found = self.layout.floor, []
        for person in people:
            for k in range(floor.hours_at[person], floor.hours_at[person + 1]):
                a, b = max(int(floor.opens[k]), start), min(int(floor.closes[k]), stop)
                if a < b:
                    found.append((a, b))
        return found

    def _days(self, start: int, stop: int) -> int:
        zone, origin = self.shop.zone, self.layout.origin
        first, last = local_day(origin + start, zone), local_day(origin + stop, zone)
        days = (first + timedelta(days=k) for k in range(1, (last - first).days + 1))
        return sum(day not in self.shop.closed and day.weekday() in self._weekdays() for day in days)

    def _weekdays(self) -> set[int]:
        return {shift.weekday for person in self.layout.people for shift in person.shifts}

    def _done(self, operation: Operation, begin: int) -> None:
        nature = self.nature[operation.kind]
        cause = {Nature.ATTENDED: Cause.WORK, Nature.CURE: Cause.CURE, Nature.OUTSIDE: Cause.SUPPLIER}[nature]
        crew = self.crews[operation.id]
        who = self.layout.people[crew[0]].id if crew else None
        self._add(cause, operation, begin, self.finish[operation.id], person=who)

    def _released(self, operation: Operation, since: int, ready: int) -> None:
        """The stretch up to the day on which a gate opens or a hold ends."""
        today = local_day(self.layout.origin, self.shop.zone)
        next_day = next_working_day(self.shop, today)
        if operation.held and self.layout.held_for[self.index[operation.id]] >= ready:
            self._add(Cause.HOLD, operation, since, ready)
            return
        days = {}
        for gate in self.shop.gates:
            day = (
                opens_on(gate, self.shop.gate_days.get(gate.kind, ()), today, next_day)
                if gate.id in operation.gates and waits(operation.early)
                else None
            )
            if day is not None:
                days[gate.id] = day
        last = max(days, key=lambda g: (days[g], g), default=None)
        self._add(Cause.GATE, operation, since, ready, gate=last)

    def _waited(self, operation: Operation, ready: int, begin: int) -> None:
        """Split the stretch between ready and begun by what stood in the way, latest first.

        While nobody who could do it is at work, it waits for whatever it waits for when they are.
        """
        if ready >= begin:
            return
        able = self._able(operation)
        hours = self._hours(able, ready, begin)
        if not hours:
            absent = Cause.PERSON if self._open(ready, begin) else Cause.CLOSED
            self._add(absent, operation, ready, begin, person=self._only(able))
            return
        others = [o for o in self.layout.operations if o.id != operation.id and self._meets(o, ready, begin)]
        edges = {ready, begin}
        for a, b in hours:
            edges |= {a, b}
        edges |= {min(max(int(back), ready), begin) for back in self.layout.floor.back}
        for o in others:
            edges |= {min(max(self.start[o.id], ready), begin), min(self.finish[o.id], begin)}
        stop = edge = begin
        cause: Cause | None = None
        for a in sorted(edges - {begin}, reverse=True):
            if not any(x <= a < y for x, y in hours):
                continue
            found = self._cause_at(operation, others, a)
            if cause is not None and found is not cause:
                self._stretch(cause, operation, others, edge, stop)
                stop = edge
            cause, edge = found, a
        if cause is not None:
            self._stretch(cause, operation, others, ready, stop)

    def _meets(self, o: Operation, start: int, stop: int) -> bool:
        attended = self.layout.attended[self.index[o.id]]
        return attended and self._taken_from(o) < stop and self.finish[o.id] > start

    def _taken_from(self, o: Operation) -> int:
        """When its bench was taken: work that lay on one has it from the start."""
        return 0 if o.keeper is not None else self.start[o.id]

    def _able(self, operation: Operation) -> list[int]:
        floor, i = self.layout.floor, self.index[operation.id]
        if floor.pinned[i] >= 0:
            return [int(floor.pinned[i])]
        station = floor.station[i]
        return [int(p) for p in floor.able[floor.able_at[station] : floor.able_at[station + 1]]]

    def _only(self, able: list[int]) -> int | None:
        return self.layout.people[able[0]].id if len(able) == 1 else None

    def _cause_at(self, operation: Operation, others: Iterable[Operation], at: int) -> Cause:
        benches = self._benches_up(operation.station, at)
        taken = sum(
            o.station == operation.station and self._taken_from(o) <= at < self.finish[o.id] for o in others
        )
        full = taken >= benches and operation.keeper is None
        return Cause.STATION if full else Cause.PERSON

    def _benches_up(self, number: int | None, at: int) -> int:
        station = next(s for s in self.shop.stations if s.id == number)
        return station.benches - sum(to_minute(back) - self.layout.origin > at for back in station.back)

    def _stretch(
        self, cause: Cause, operation: Operation, others: Iterable[Operation], start: int, stop: int
    ) -> None:
        able = set(self._able(operation))
        length: dict[int, int] = defaultdict(int)
        length_of: dict[int, int] = {}
        for o in others:
            in_the_way = (
                o.station == operation.station if cause is Cause.STATION else able & set(self.crews[o.id])
            )
            since = self._taken_from(o) if cause is Cause.STATION else self.start[o.id]
            stood = min(self.finish[o.id], stop) - max(since, start)
            if in_the_way and stood > 0:
                length[o.job] += stood
                length_of[o.id] = stood
        behind, works = (_longest(each) for each in (length, length_of))
        only = self._only(sorted(able)) if cause is Cause.PERSON else None
        self._add(cause, operation, start, stop, behind=behind, works=works, person=only)

    def _sentence(self, segments: tuple[Segment, ...]) -> str:
        """What most of the time went to, by the minutes in which anybody was at work."""
        total: dict[tuple[object, ...], list[Segment]] = defaultdict(list)
        for s in segments:
            where = (s.station, s.gate) if s.cause in (Cause.STATION, Cause.PERSON, Cause.GATE) else ()
            total[(s.cause, *where)].append(s)
        if not total:
            return "It is finished now."
        most = max(
            total.values(), key=lambda rows: (sum(s.open_minutes for s in rows), sum(s.minutes for s in rows))
        )
        return f"Mostly {self._phrase(most)}."

    def _phrase(self, rows: list[Segment]) -> str:
        first = rows[0]
        names = {kind.id: kind.name for kind in self.shop.kinds}
        kinds = listed(names[self.layout.operations[self.index[s.operation]].kind] for s in rows)
        station = next((s.name for s in self.shop.stations if s.id == first.station), "")
        who = next((p.name for p in self.layout.people if p.id == first.person), "somebody")
        gate = next((g.kind for g in self.shop.gates if g.id == first.gate), "")
        return {
            Cause.WORK: f"its own work: {kinds}",
            Cause.CURE: f"{kinds}",
            Cause.SUPPLIER: f"{kinds} at the supplier's",
            Cause.STATION: f"waiting for {station}{self._behind(rows)}",
            Cause.PERSON: f"waiting for {who} at {station}{self._behind(rows)}",
            Cause.GATE: f"waiting for “{gate}”",
            Cause.HOLD: "on hold",
            Cause.CLOSED: "outside working hours",
        }[first.cause]

    def _behind(self, rows: list[Segment]) -> str:
        own = self.layout.operations[self.index[rows[0].operation]].job
        number = {job.id: job.number for job in self.shop.jobs}
        others = list(dict.fromkeys(j for s in rows for j in s.behind if j != own))
        if not others:
            return ""
        names = [number[j] for j in others[:NAMED]]
        if len(others) > NAMED:
            names.append(f"{len(others) - NAMED} more")
        return f" behind {listed(names)}"


def _longest(length: Mapping[int, int]) -> tuple[int, ...]:
    """What has a length, the longest first."""
    return tuple(sorted(length, key=lambda number: (-length[number], number)))
