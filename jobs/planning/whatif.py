"""What if: a change of the shop, and which jobs it moves.

A change makes a new shop of a shop; nothing is written anywhere. Both are planned with the same seed and so with the
same draws for the same work (see durations.py), so that a difference is the change's own and not chance's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Protocol

import numpy as np

from jobs.planning.calendars import DAY, day_end, local_day, to_minute
from jobs.planning.result import Plan
from jobs.planning.shop import Gate, Job, Operation, Person, Shop


class Change(Protocol):
    """Something that could be different."""

    def applied(self, shop: Shop, now: datetime) -> Shop:
        """The shop with the change. ValueError if it names something that is not there."""
        ...


def apply(shop: Shop, *changes: Change, now: datetime) -> Shop:
    """The shop with all of the changes, one after the other."""
    for change in changes:
        shop = change.applied(shop, now)
    return shop


def _changed[T: (Person, Gate, Operation)](
    rows: tuple[T, ...], number: int, noun: str, change: Callable[[T], T]
) -> tuple[T, ...]:
    if all(row.id != number for row in rows):
        raise ValueError(f"There is no {noun} {number}")
    return tuple(change(row) if row.id == number else row for row in rows)


def _has_station(shop: Shop, number: int) -> None:
    if all(station.id != number for station in shop.stations):
        raise ValueError(f"There is no station {number}")


@dataclass(frozen=True, slots=True)
class PersonAway:
    """Somebody is off from `since` (today if it is None) to `until`, both included."""

    person: int
    until: date
    since: date | None = None

    def applied(self, shop: Shop, now: datetime) -> Shop:
        first = self.since or local_day(to_minute(now), shop.zone)
        if self.until < first:
            raise ValueError("An absence cannot end before it begins")
        off = frozenset(first + timedelta(days=k) for k in range((self.until - first).days + 1))

        def away(person: Person) -> Person:
            extra = tuple(hours for hours in person.extra if hours[0] not in off)
            return replace(person, days_off=person.days_off | off, extra=extra)

        return replace(shop, people=_changed(shop.people, self.person, "person", away))


@dataclass(frozen=True, slots=True)
class PersonMoved:
    """Somebody works at one station only, from now to the end of a day; they can do its work already."""

    person: int
    station: int
    until: date

    def applied(self, shop: Shop, now: datetime) -> Shop:
        _has_station(shop, self.station)
        stays = self.station, day_end(self.until, shop.zone)
        if stays[1] <= now:
            raise ValueError("A day that is over is no day to stay until")

        def moved(person: Person) -> Person:
            if self.station not in person.skills:
                raise ValueError(f"{person.name} does not work at station {self.station}")
            return replace(person, stays=stays)

        return replace(shop, people=_changed(shop.people, self.person, "person", moved))


@dataclass(frozen=True, slots=True)
class BenchesDown:
    """So many more benches of a station cannot be used, from now to the end of a day."""

    station: int
    until: date
    count: int = 1

    def applied(self, shop: Shop, now: datetime) -> Shop:
        back = day_end(self.until, shop.zone)
        if back <= now:
            raise ValueError("A day that is over is no day to be down until")
        _has_station(shop, self.station)
        rows = tuple(
            replace(s, back=s.back + (back,) * self.count) if s.id == self.station else s
            for s in shop.stations
        )
        return replace(shop, stations=rows)


@dataclass(frozen=True, slots=True)
class NewJob:
    """A job that is not there yet, a rush job if it is due soon, with its operations and gates; all ids are new."""

    job: Job
    operations: tuple[Operation, ...]
    gates: tuple[Gate, ...] = ()

    def applied(self, shop: Shop, now: datetime) -> Shop:
        return replace(
            shop,
            jobs=(*shop.jobs, self.job),
            operations=(*shop.operations, *self.operations),
            gates=(*shop.gates, *self.gates),
        )


@dataclass(frozen=True, slots=True)
class GateLater:
    """A gate is expected on another day, and then comes as late as others of its kind."""

    gate: int
    day: date

    def applied(self, shop: Shop, now: datetime) -> Shop:
        moved = _changed(
            shop.gates, self.gate, "gate", lambda gate: replace(gate, expected=self.day, cleared=False)
        )
        return replace(shop, gates=moved)


@dataclass(frozen=True, slots=True)
class GateCleared:
    """A gate is open from now on."""

    gate: int

    def applied(self, shop: Shop, now: datetime) -> Shop:
        return replace(
            shop, gates=_changed(shop.gates, self.gate, "gate", lambda gate: replace(gate, cleared=True))
        )


@dataclass(frozen=True, slots=True)
class OutsideLater:
    """A supplier takes so many calendar days longer for one operation."""

    operation: int
    days: int

    def applied(self, shop: Shop, now: datetime) -> Shop:
        def later(operation: Operation) -> Operation:
            return replace(operation, minutes=max(0, operation.minutes + self.days * DAY))

        return replace(shop, operations=_changed(shop.operations, self.operation, "operation", later))


@dataclass(frozen=True, slots=True)
class ExtraHours:
    """These people work from `start` to `stop` on these days too."""

    days: tuple[date, ...]
    people: tuple[int, ...]
    start: time = time(8)
    stop: time = time(12)

    def applied(self, shop: Shop, now: datetime) -> Shop:
        hours = tuple((day, self.start, self.stop) for day in self.days)
        people = shop.people
        for number in self.people:
            people = _changed(people, number, "person", lambda p: replace(p, extra=(*p.extra, *hours)))
        return replace(shop, people=people)


@dataclass(frozen=True, slots=True)
class Trained:
    """Somebody can work at a station from now on."""

    person: int
    station: int
    pace: float = 1.0

    def applied(self, shop: Shop, now: datetime) -> Shop:
        _has_station(shop, self.station)
        learned = {self.station: self.pace}
        people = _changed(
            shop.people, self.person, "person", lambda p: replace(p, skills={**p.skills, **learned})
        )
        return replace(shop, people=people)


@dataclass(frozen=True, slots=True)
class JobFirst:
    """One job's work goes before all other at every station."""

    job: int

    def applied(self, shop: Shop, now: datetime) -> Shop:
        if all(job.id != self.job for job in shop.jobs):
            raise ValueError(f"There is no job {self.job}")
        first = min((o.place for o in shop.operations if o.place is not None), default=0) - 1
        rows = tuple(replace(o, place=first) if o.job == self.job else o for o in shop.operations)
        return replace(shop, operations=rows)


@dataclass(frozen=True, slots=True)
class MorePeople:
    """So many more people who work at one station alone, with the hours of the first who works there now."""

    station: int
    count: int = 1

    def applied(self, shop: Shop, now: datetime) -> Shop:
        _has_station(shop, self.station)
        able = sorted((p for p in shop.people if self.station in p.skills), key=lambda p: p.id)
        if not able:
            raise ValueError(f"Nobody works at station {self.station} whose hours more people could have")
        after = max(p.id for p in shop.people)
        more = tuple(
            Person(after + k, f"one more, {k}", {self.station: 1.0}, able[0].shifts)
            for k in range(1, self.count + 1)
        )
        return replace(shop, people=shop.people + more)


@dataclass(frozen=True, slots=True)
class MoreBenches:
    """So many more benches at one station."""

    station: int
    count: int = 1

    def applied(self, shop: Shop, now: datetime) -> Shop:
        _has_station(shop, self.station)
        rows = tuple(
            replace(s, benches=s.benches + self.count) if s.id == self.station else s for s in shop.stations
        )
        return replace(shop, stations=rows)


@dataclass(frozen=True, slots=True)
class Moved:
    """How a change moves one job.

    `before`, `after`: the day by which it is ready with the asked confidence. `days`: between them, later is above
    zero. `later`: the share of futures in which it is finished on a later minute than it would have been.
    """

    job: int
    before: date
    after: date
    days: int
    later: float


def compare(before: Plan, after: Plan, *, confidence: float = 0.8) -> tuple[Moved, ...]:
    """The jobs that a change moves, the most delayed first and the most helped last; unmoved ones are left out.

    Jobs with dates in only one of the plans are left out too. ValueError for plans that are not made from the same
    instant with the same seed and number of futures: their difference would be chance's too.
    """
    if (before.now, before.seed, before.futures, before.zone) != (
        after.now,
        after.seed,
        after.futures,
        after.zone,
    ):
        raise ValueError("Only plans of the same instant, seed and number of futures can be compared")
    found = []
    for number in sorted(before.samples.keys() & after.samples.keys()):
        old, new = before.samples[number], after.samples[number]
        if np.array_equal(old, new):
            continue
        first, second = before.day_for(number, confidence), after.day_for(number, confidence)
        later = float(np.count_nonzero(new > old)) / len(old)
        found.append(Moved(number, first, second, (second - first).days, later))
    return tuple(sorted(found, key=lambda moved: (-moved.days, -moved.later, moved.job)))
