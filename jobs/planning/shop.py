"""What the planner is told: the studio's benches, people, hours and open work, as plain checked values.

Everything is frozen and checks itself; a value that cannot be meant raises ValueError. Work that is well formed but
cannot be planned (a station without a bench, a circle of predecessors) is no error here: see check.py.
Times of day are the studio's own; aware datetimes elsewhere; durations are whole minutes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from enum import StrEnum
from types import MappingProxyType
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

MIDNIGHT = time(0)
LATEST = 3653  # Days; a gate later than that was not late but forgotten.


class Nature(StrEnum):
    """How an operation takes its time."""

    ATTENDED = "attended"  # minutes of work: needs a bench and its crew
    CURE = "cure"  # elapsed minutes on a rack: needs neither
    OUTSIDE = "outside"  # elapsed minutes at a supplier: needs neither


def _require(fine: bool, sentence: str) -> None:
    if not fine:
        raise ValueError(sentence)


def _aware(at: datetime | None, what: str) -> None:
    _require(at is None or at.utcoffset() is not None, f"{what} needs a time zone")


def _hours(start: time, stop: time) -> None:
    _require(
        start.tzinfo is None and stop.tzinfo is None,
        "Hours are the studio's own times of day, without a zone",
    )
    for moment in (start, stop):
        _require(moment.second == 0 and moment.microsecond == 0, f"Hours are whole minutes, not {moment}")
    _require(
        stop == MIDNIGHT or start < stop, f"Hours from {start:%H:%M} to {stop:%H:%M} end before they begin"
    )


@dataclass(frozen=True, slots=True)
class Station:
    """Benches that do the same work. No bench at all is allowed: its work is reported as impossible to plan.

    `back`: of the benches that are down now, when each can be used again.
    """

    id: int
    name: str
    benches: int
    back: tuple[datetime, ...] = ()

    def __post_init__(self) -> None:
        _require(self.benches >= 0, f"{self.name} cannot have {self.benches} benches")
        _require(len(self.back) <= self.benches, f"{self.name} cannot have more benches down than it has")
        for at in self.back:
            _aware(at, f"The day a bench of {self.name} is back")


@dataclass(frozen=True, slots=True)
class Shift:
    """Hours on one weekday, 0 = Monday. Several a day leave breaks between them. A stop at 00:00 is the day's end."""

    weekday: int
    start: time
    stop: time

    def __post_init__(self) -> None:
        _require(0 <= self.weekday <= 6, f"Weekday {self.weekday} is not one of 0 (Monday) to 6 (Sunday)")
        _hours(self.start, self.stop)


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody on the floor.

    `skills`: station id -> pace; work takes ceil(minutes / pace), so a pace over 1 is faster.
    `extra`: hours on one date besides the weekly ones, such as a Saturday; they hold on a closed day and a day off too.
    `stays`: the station at which they take up work only, and until when, if they were moved there.
    """

    id: int
    name: str
    skills: Mapping[int, float]
    shifts: tuple[Shift, ...]
    days_off: frozenset[date] = frozenset()
    extra: tuple[tuple[date, time, time], ...] = ()
    stays: tuple[int, datetime] | None = None

    def __post_init__(self) -> None:
        _aware(self.stays[1] if self.stays else None, f"Until when {self.name} stays")
        for pace in self.skills.values():
            _require(
                math.isfinite(pace) and pace > 0, f"The pace of {self.name} has to be above zero, not {pace}"
            )
        for _, start, stop in self.extra:
            _hours(start, stop)
        object.__setattr__(self, "skills", MappingProxyType(dict(self.skills)))


@dataclass(frozen=True, slots=True)
class Gate:
    """Something a job waits for: an approval, a deposit, a measuring, glass. `expected`: the day it should be there."""

    id: int
    kind: str
    job: int
    expected: date | None
    cleared: bool


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of operation and the studio's history of it: ln(actual / estimate) of finished work, oldest first."""

    id: int
    name: str
    nature: Nature
    log_ratios: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        _require(
            all(math.isfinite(y) for y in self.log_ratios), f"The history of {self.name} holds a non-number"
        )


@dataclass(frozen=True, slots=True)
class Operation:
    """One kind of work on one panel (or on the job as a whole, `panel` None).

    `minutes`: the whole estimate; working minutes at pace 1 for attended work, elapsed calendar minutes for a cure and
    for outside work (a supplier's days x 1440).
    `crew`: so many people work on it at once, all of them for all of its minutes; `minutes` and `spent` are time at the
    bench, not the sum over the crew.
    `after`: the operations that have to be done first. `gates`: what has to be there first.
    `spent`: working minutes logged so far. `quantity`, `quantity_done`: pieces, 0 where they are not counted.
    `worked`: how many pieces' worth of the work is done, where pieces differ or are half done; None: `quantity_done`.
    `keeper`: who has it on the bench now. `started`: since when (a cure or outside work in progress ends at
    started + minutes).
    `held`: not to be worked, until `held_until` if that day is known. `pinned_person`: only by them.
    `place`: pinned in its station's order, lower first, before everything without a place.
    `early`: allowed to start before its predecessors are done and its gates are open.
    """

    id: int
    job: int
    panel: int | None
    kind: int
    station: int | None
    minutes: int
    crew: int = 1
    after: tuple[int, ...] = ()
    gates: tuple[int, ...] = ()
    spent: int = 0
    quantity: int = 0
    quantity_done: int = 0
    worked: float | None = None
    keeper: int | None = None
    started: datetime | None = None
    done: bool = False
    held_until: date | None = None
    held: bool = False
    pinned_person: int | None = None
    place: int | None = None
    early: bool = False

    def __post_init__(self) -> None:
        _require(self.minutes >= 0, f"Operation {self.id} cannot take {self.minutes} minutes")
        _require(self.spent >= 0, f"Operation {self.id} cannot have {self.spent} minutes spent")
        _require(self.crew >= 1, f"Operation {self.id} needs a crew of at least one, not {self.crew}")
        _require(
            self.quantity >= 0 and self.quantity_done >= 0, f"Operation {self.id} counts pieces below zero"
        )
        _require(
            self.worked is None or 0 <= self.worked <= self.quantity,
            f"Operation {self.id} cannot have {self.worked} pieces' worth of work done",
        )
        _aware(self.started, f"The start of operation {self.id}")

    @property
    def finished_pieces(self) -> float:
        """How many pieces' worth of work is done, at most as many as there are."""
        return min(self.quantity_done if self.worked is None else self.worked, self.quantity)


@dataclass(frozen=True, slots=True)
class Job:
    """A commission. `due`: the day promised. `weight`: how much a day of lateness matters next to other jobs."""

    id: int
    number: str
    due: date | None
    weight: float = 1.0

    def __post_init__(self) -> None:
        _require(
            math.isfinite(self.weight) and self.weight >= 0, f"Job {self.number} cannot weigh {self.weight}"
        )


def _unique(rows: Iterable[Station | Person | Kind | Gate | Job | Operation], noun: str) -> set[int]:
    ids = [row.id for row in rows]
    _require(len(ids) == len(set(ids)), f"Two {noun} have the same id")
    return set(ids)


@dataclass(frozen=True, slots=True)
class Shop:
    """The whole floor at one instant. `closed`: days nobody works, save for somebody's extra hours.

    `gate_days`: by kind of gate, by how many days cleared gates were later than expected, below zero for sooner.
    """

    zone: str
    stations: tuple[Station, ...]
    people: tuple[Person, ...]
    kinds: tuple[Kind, ...]
    gates: tuple[Gate, ...]
    jobs: tuple[Job, ...]
    operations: tuple[Operation, ...]
    closed: frozenset[date] = field(default=frozenset())
    gate_days: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        try:
            ZoneInfo(self.zone)
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise ValueError(f"There is no time zone called {self.zone!r}") from error
        object.__setattr__(self, "gate_days", MappingProxyType(dict(self.gate_days)))
        for kind, days in self.gate_days.items():
            _require(
                all(abs(day) <= LATEST for day in days), f"“{kind}” cannot have been {max(days)} days late"
            )
        _unique(self.stations, "stations")
        _unique(self.people, "people")
        _unique(self.gates, "gates")
        _unique(self.operations, "operations")
        kinds, jobs = _unique(self.kinds, "kinds"), _unique(self.jobs, "jobs")
        for operation in self.operations:
            _require(
                operation.kind in kinds, f"Operation {operation.id} is of an unknown kind {operation.kind}"
            )
            _require(
                operation.job in jobs, f"Operation {operation.id} belongs to an unknown job {operation.job}"
            )
