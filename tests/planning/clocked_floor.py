"""The same floor without any event: a clock that goes from minute to minute and looks at everything each time.

A second formulation to hold the planner's kernel to, beside the SimPy model and from the rule alone (the docstring of
jobs/planning/floor.py). Nothing is queued and nothing wakes up: of each minute is asked who is there, what has become
ready by then and who works on what. A wake-up that is forgotten, or comes in the wrong order, cannot hide here.
Only minutes in which nobody is there are left out, since nothing can be taken up or worked on in them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from jobs.planning import Nature, Operation, Person, Shop

_HOLD = timedelta(days=14)

Seen = dict[int, tuple[int, int, tuple[int, ...]]]


def _minute(at: datetime) -> int:
    return math.ceil(at.timestamp() / 60)


@dataclass(slots=True)
class _Going:
    """An operation that has been taken up: by whom, since when, and the minutes of work that are left of it."""

    operation: Operation
    crew: tuple[int, ...]
    since: int
    left: int


class ClockedFloor:
    """One run; `minutes` by operation id. `run`: operation id -> start, finish, people in the order of the crew."""

    def __init__(
        self,
        shop: Shop,
        operations: Iterable[Operation],
        minutes: Mapping[int, int],
        now: datetime,
    ) -> None:
        self.shop, self.minutes = shop, minutes
        self.zone, self.origin = ZoneInfo(shop.zone), _minute(now)
        self.today = datetime.fromtimestamp(self.origin * 60, UTC).astimezone(self.zone).date()
        self.nature = {kind.id: kind.nature for kind in shop.kinds}
        jobs = {job.id: job for job in shop.jobs}
        self.operations = {o.id: o for o in operations}
        # Everything in the order in which the floor goes through it.
        self.turn = sorted(
            self.operations.values(),
            key=lambda o: (
                o.keeper is None,
                o.keeper is not None and o.crew > 1,
                o.place is None,
                o.place if o.place is not None else 0,
                jobs[o.job].due or date.max,
                -jobs[o.job].weight,
                o.job,
                o.id,
            ),
        )
        self.people = {p.id: p for p in shop.people}
        # Who is there, by minute from now, for the days that the clock has come to.
        self.there: dict[int, list[int]] = {}
        self.next_day = self._next_day()
        self.down = {s.id: [_minute(at) - self.origin for at in s.back] for s in shop.stations}
        self.benches = {s.id: s.benches for s in shop.stations}
        self.stays = {p.id: (p.stays[0], _minute(p.stays[1]) - self.origin) for p in shop.people if p.stays}
        self.kept = {
            s.id: {o.id for o in self.turn if o.station == s.id and o.keeper is not None}
            for s in shop.stations
        }
        self.going: dict[int, _Going] = {}
        # From which minute work of people may be taken up, once that is known, until it is finished.
        self.ready: dict[int, int] = {}
        self.seen: Seen = {}

    def _hours(self, person: Person, day: date) -> list[tuple[int, int]]:
        """The first minute of each of somebody's hours on a day, and the one after the last."""
        hours = [(start, stop) for on, start, stop in person.extra if on == day]
        if day not in self.shop.closed | person.days_off:
            hours += [(s.start, s.stop) for s in person.shifts if s.weekday == day.weekday()]
        return [(self._at(day, start), self._at(day, stop, end=True)) for start, stop in hours]

    def _come_in(self, day: date) -> list[int]:
        """The minutes of a day's hours in which somebody is there, which `there` knows then."""
        found: dict[int, set[int]] = {}
        for person in self.people.values():
            for first, last in self._hours(person, day):
                for minute in range(max(0, first), last):
                    found.setdefault(minute, set()).add(person.id)
        self.there = {minute: sorted(people) for minute, people in sorted(found.items())}
        return list(self.there)

    def _at(self, day: date, clock: time, *, end: bool = False) -> int:
        day += timedelta(days=end and clock == time(0))
        return _minute(datetime.combine(day, clock, self.zone)) - self.origin

    def _next_day(self) -> date:
        """The first day after today on which somebody comes in."""
        for number in range(1, 366):
            day = self.today + timedelta(days=number)
            if any(self._hours(person, day) for person in self.people.values()):
                return day
        return self.today + timedelta(days=1)

    def _opens(self, day: date | None) -> int:
        """The minute from which something holds that is expected on a day."""
        if day is None:
            day = self.today + _HOLD
        elif day <= self.today:
            day = self.next_day
        return self._at(day, time(0))

    def _begun(self, o: Operation) -> bool:
        return (o.keeper if self.nature[o.kind] is Nature.ATTENDED else o.started) is not None

    def _ready(self, o: Operation) -> int | None:
        """From which minute it may be taken up; None while something before it is unfinished."""
        times = [0, self._opens(o.held_until) if o.held else 0]
        if not self._begun(o) and not o.early:
            before = [i for i in o.after if i in self.operations]
            if any(i not in self.seen for i in before):
                return None
            times += [self.seen[i][1] for i in before]
            times += [self._opens(g.expected) for g in self.shop.gates if g.id in o.gates and not g.cleared]
        return max(times)

    def run(self) -> Seen:
        self._look_ahead()
        for number in range(400):
            for now in self._come_in(self.today + timedelta(days=number)):
                while self._take_up(now):
                    pass
                self._work(now)
            if len(self.seen) == len(self.operations):
                break
        return self.seen

    def _look_ahead(self) -> None:
        """Note what is known now: when work may be taken up, and all of each cure and each supplier's work."""
        found = True
        while found:
            found = False
            for o in self.turn:
                if o.id in self.seen or o.id in self.ready:
                    continue
                ready = self._ready(o)
                if ready is None:
                    continue
                if self.nature[o.kind] is Nature.ATTENDED:
                    self.ready[o.id] = ready
                elif self._begun(o):
                    self.seen[o.id] = (0, max(self.minutes[o.id], ready), ())
                else:
                    self.seen[o.id] = (ready, ready + self.minutes[o.id], ())
                found = True

    def _take_up(self, now: int) -> bool:
        """Go through what is ready once; whether anything is finished by that, so that it is gone through again."""
        for o in self.turn:
            if self.ready.get(o.id, now + 1) > now or o.id in self.going or not self._has_bench(o, now):
                continue
            crew = self._crew(o, now)
            if crew:
                pace = min(self.people[i].skills.get(o.station or 0, 1.0) for i in crew)
                left = math.ceil(self.minutes[o.id] / pace - 1e-9)
                self.going[o.id] = _Going(o, crew, now, left)
        return self._finish(now)

    def _has_bench(self, o: Operation, now: int) -> bool:
        if o.keeper is not None:
            return True
        station = o.station or 0
        up = self.benches[station] - sum(back > now for back in self.down[station])
        going = {i for i, each in self.going.items() if each.operation.station == station}
        return len(going | (self.kept[station] - self.seen.keys())) < up

    def _crew(self, o: Operation, now: int) -> tuple[int, ...]:
        """Who does it from now on; nobody if there are too few."""
        station = o.station or 0
        busy = {i: each for each in self.going.values() for i in each.crew}
        together = {i for each in self.going.values() if each.operation.crew > 1 for i in each.crew}
        here = [
            p
            for p in (self.people[i] for i in self.there[now])
            if (p.id not in busy or (o.crew > 1 and p.id not in together and busy[p.id].left > 0))
            and (p.id not in self.stays or now >= self.stays[p.id][1] or self.stays[p.id][0] == station)
        ]
        bound = o.keeper if o.keeper is not None else o.pinned_person
        first = [p.id for p in here if p.id == bound]
        if bound is not None and not first:
            return ()
        able = [p for p in here if station in p.skills and p.id != bound]
        able.sort(key=lambda p: (p.id in busy, -p.skills[station], len(p.skills), p.id))
        crew = first + [p.id for p in able][: o.crew - len(first)]
        return tuple(crew) if len(crew) == o.crew else ()

    def _work(self, now: int) -> None:
        """One minute of work on everything that has its whole crew, and nobody of it away with another crew."""
        together = {i for each in self.going.values() if each.operation.crew > 1 for i in each.crew}
        for each in self.going.values():
            alone = each.operation.crew == 1
            if all(i in self.there[now] and not (alone and i in together) for i in each.crew):
                each.left -= 1
        self._finish(now + 1)

    def _finish(self, now: int) -> bool:
        done = [number for number, each in self.going.items() if each.left <= 0]
        for number in done:
            each = self.going.pop(number)
            del self.ready[number]
            self.seen[number] = (each.since, now, each.crew)
        if done:
            self._look_ahead()
        return bool(done)
