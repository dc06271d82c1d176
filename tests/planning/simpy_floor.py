"""The same floor once more, as processes in SimPy: an independent model to hold the planner's kernel to.

Written from the rule alone (the docstring of jobs/planning/floor.py): it shares the shop's dataclasses with the planner
and nothing else, works out calendars, gates and holds for itself, and is as slow as it is plain.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Generator, Iterable, Mapping
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import simpy

from jobs.planning import Nature, Operation, Person, Shop

HOLD = 14
LAST = 99  # A priority after every ordinary event of the same instant.

Seen = dict[int, tuple[int, int, tuple[int, ...]]]


def minutes_since_1970(at: datetime) -> int:
    return math.ceil(at.timestamp() / 60)


class Calendar:
    """One person's hours in minutes from the origin, found by asking each day."""

    def __init__(self, person: Person, shop: Shop, origin: int, first: date, days: int) -> None:
        zone = ZoneInfo(shop.zone)
        found = []
        for number in range(days):
            day = first + timedelta(days=number)
            hours = [(a, b) for d, a, b in person.extra if d == day]
            if day not in shop.closed and day not in person.days_off:
                hours += [(s.start, s.stop) for s in person.shifts if s.weekday == day.weekday()]
            for start, stop in hours:
                end = day if stop != time(0) else day + timedelta(days=1)
                found.append(
                    (
                        minutes_since_1970(datetime.combine(day, start, zone)) - origin,
                        minutes_since_1970(datetime.combine(end, stop, zone)) - origin,
                    )
                )
        self.hours = sorted((a, b) for a, b in found if a < b and b > 0)
        self.edges = sorted({edge for pair in self.hours for edge in pair})

    def on(self, now: int) -> bool:
        # Extra hours may overlap the weekly ones, so the last few that have begun are looked at, not the last alone.
        begun = bisect_right(self.hours, (now, 1 << 40))
        return any(now < b for _, b in self.hours[max(0, begun - 4) : begun])

    def next_change(self, now: int) -> int | None:
        """When this person's being on shift can next change."""
        k = bisect_right(self.edges, now)
        return self.edges[k] if k < len(self.edges) else None


class SimpyFloor:
    """One run; `minutes` by operation id. `seen`: operation id -> start, finish, people in the order of the crew.

    `days_of_gates`: by gate id, the day on which it opens, where that is not the day expected.
    """

    def __init__(
        self,
        shop: Shop,
        operations: Iterable[Operation],
        minutes: Mapping[int, int],
        now: datetime,
        days: int = 400,
        days_of_gates: Mapping[int, date] | None = None,
    ) -> None:
        self.shop, self.minutes = shop, minutes
        self.days_of_gates = days_of_gates or {}
        self.operations = list(operations)
        self.nature = {kind.id: kind.nature for kind in shop.kinds}
        self.jobs = {job.id: job for job in shop.jobs}
        self.origin = minutes_since_1970(now)
        self.today = datetime.fromtimestamp(self.origin * 60, UTC).astimezone(ZoneInfo(shop.zone)).date()
        self.people = {p.id: p for p in shop.people}
        self.calendars = {p.id: Calendar(p, shop, self.origin, self.today, days) for p in shop.people}
        self.next_day = self._next_working_day()
        self.env = simpy.Environment()
        self.done = {o.id: self.env.event() for o in self.operations}
        self.benches = {station.id: station.benches - len(station.back) for station in shop.stations}
        self.moved = {p.id: p.stays[0] for p in shop.people if p.stays and p.stays[1] > now}
        self.idle = set(self.people)
        self.alone: dict[int, simpy.Process] = {}
        self.ready: list[Operation] = []
        self.looking = False
        self.seen: Seen = {}

    def _next_working_day(self) -> date:
        for number in range(1, 366):
            day = self.today + timedelta(days=number)
            low = self._midnight(day)
            high = self._midnight(day + timedelta(days=1))
            for calendar in self.calendars.values():
                if any(low <= a < high for a, _ in calendar.hours):
                    return day
        return self.today + timedelta(days=1)

    def _midnight(self, day: date) -> int:
        return minutes_since_1970(datetime.combine(day, time(0), ZoneInfo(self.shop.zone))) - self.origin

    def _opens(self, day: date | None) -> int:
        if day is None:
            return self._midnight(self.today + timedelta(days=HOLD))
        return self._midnight(day if day > self.today else self.next_day)

    def _passive(self, operation: Operation) -> bool:
        return self.nature[operation.kind] is not Nature.ATTENDED

    def _key(self, operation: Operation) -> tuple[object, ...]:
        job = self.jobs[operation.job]
        on_bench = operation.keeper is not None
        return (
            0 if on_bench else 1,
            operation.crew if on_bench and operation.crew > 1 else 0,
            (0, operation.place) if operation.place is not None else (1, 0),
            job.due or date.max,
            -job.weight,
            job.id,
            operation.id,
        )

    def run(self) -> Seen:
        for operation in self.operations:
            if not self._passive(operation) and operation.keeper is not None:
                self.benches[operation.station or 0] -= 1
            self.env.process(self._route(operation))
        for number in self.people:
            self.env.process(self._shifts(number))
        for station in self.shop.stations:
            for at in station.back:
                self.env.process(self._back(station.id, at))
        for number in self.moved:
            self.env.process(self._free_to_go(number))
        self.env.run()
        return self.seen

    def _shifts(self, number: int) -> Generator[simpy.Event]:
        for start, _ in self.calendars[number].hours:
            if start > self.env.now:
                yield self.env.timeout(start - self.env.now)
            self._look()

    def _back(self, station: int, at: datetime) -> Generator[simpy.Event]:
        yield self.env.timeout(max(0, minutes_since_1970(at) - self.origin))
        self.benches[station] += 1
        self._look()

    def _free_to_go(self, number: int) -> Generator[simpy.Event]:
        stays = self.people[number].stays
        assert stays is not None
        yield self.env.timeout(minutes_since_1970(stays[1]) - self.origin)
        del self.moved[number]
        self._look()

    def _route(self, operation: Operation) -> Generator[simpy.Event]:
        passive = self._passive(operation)
        begun = operation.started is not None if passive else operation.keeper is not None
        hold = self._opens(operation.held_until) if operation.held else 0
        if not begun and not operation.early:
            yield self.env.all_of([self.done[i] for i in operation.after if i in self.done])
            gates = {gate.id: gate for gate in self.shop.gates}
            days = {i: self.days_of_gates.get(i, gates[i].expected) for i in operation.gates}
            opens = [self._opens(day) for i, day in days.items() if not gates[i].cleared]
            wait = max(opens, default=0) - self.env.now
            if wait > 0:
                yield self.env.timeout(wait)
        if passive and begun:
            yield self.env.timeout(max(self.minutes[operation.id], hold))
            self._finish(operation, 0, ())
            return
        if hold > self.env.now:
            yield self.env.timeout(hold - self.env.now)
        if passive:
            since = self.env.now
            yield self.env.timeout(self.minutes[operation.id])
            self._finish(operation, since, ())
        else:
            self.ready.append(operation)
            self._look()

    def _finish(self, operation: Operation, since: int, crew: tuple[int, ...]) -> None:
        self.seen[operation.id] = (since, self.env.now, crew)
        self.done[operation.id].succeed()

    def _look(self) -> None:
        """Dispatch once at the end of this instant."""
        if not self.looking:
            self.looking = True
            event = self.env.event()
            event._ok, event._value = True, None
            event.callbacks.append(self._dispatch)
            self.env.schedule(event, priority=LAST)

    def _dispatch(self, _: simpy.Event) -> None:
        self.looking = False
        for operation in sorted(self.ready, key=self._key):
            crew = self._crew(operation)
            if crew is not None:
                self.ready.remove(operation)
                called = {i: self.alone.pop(i) for i in crew if i in self.alone}
                back = self.env.event()
                for process in called.values():
                    process.interrupt(back)
                self.idle -= set(crew)
                if operation.keeper is None:
                    self.benches[operation.station or 0] -= 1
                process = self.env.process(self._work(operation, crew, called, back))
                if operation.crew == 1 and self.minutes[operation.id] > 0:
                    self.alone[crew[0]] = process

    def _crew(self, operation: Operation) -> tuple[int, ...] | None:
        station = operation.station or 0
        if operation.keeper is None and self.benches[station] <= 0:
            return None
        may_be_asked = self.idle | (set(self.alone) if operation.crew > 1 else set())
        may_be_asked = {i for i in may_be_asked if self.moved.get(i, station) == station}
        here = [self.people[i] for i in may_be_asked if self.calendars[i].on(self.env.now)]
        bound = operation.keeper if operation.keeper is not None else operation.pinned_person
        crew = [p.id for p in here if p.id == bound]
        if bound is not None and not crew:
            return None
        able = [p for p in here if station in p.skills and p.id != bound]
        able.sort(key=lambda p: (p.id not in self.idle, -p.skills[station], len(p.skills), p.id))
        crew += [p.id for p in able][: operation.crew - len(crew)]
        return tuple(crew) if len(crew) == operation.crew else None

    def _work(
        self,
        operation: Operation,
        crew: tuple[int, ...],
        called: dict[int, simpy.Process],
        back: simpy.Event,
    ) -> Generator[simpy.Event]:
        """Work until nothing is left; who is called away waits for the crew's end and goes on with what was left."""
        since = self.env.now
        pace = min(self.people[i].skills.get(operation.station or 0, 1.0) for i in crew)
        left = math.ceil(self.minutes[operation.id] / pace - 1e-9)
        while left > 0:
            now = self.env.now
            changes = [self.calendars[i].next_change(now) for i in crew]
            if None in changes:
                return
            step = min(c for c in changes if c is not None) - now
            at_work = all(self.calendars[i].on(now) for i in crew)
            if at_work:
                step = min(step, left)
            try:
                yield self.env.timeout(step)
            except simpy.Interrupt as call:
                left -= self.env.now - now if at_work else 0
                yield call.cause
            else:
                left -= step if at_work else 0
        for i in crew:
            self.alone.pop(i, None)
        self.alone |= called
        self.idle |= set(crew) - set(called)
        if called:
            back.succeed()
        self.benches[operation.station or 0] += 1
        self._finish(operation, since, crew)
        self._look()
