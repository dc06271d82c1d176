"""What the planner answers. Datetimes are aware, in the studio's zone; days are the studio's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

EPOCH = datetime.fromisoformat("1970-01-01T00:00:00+00:00")


@dataclass(frozen=True, slots=True)
class Window:
    """Ready by these instants with a chance of 50, 80 and 95 %."""

    p50: datetime
    p80: datetime
    p95: datetime


@dataclass(frozen=True, slots=True)
class OperationPlan:
    """One operation in the run of the floor at median durations.

    `person`: who does it (the first of a crew), None for a cure and outside work.
    `rank`: its position in its station's order of starting, from 0; 0 without a station.
    """

    id: int
    start: datetime
    finish: datetime
    person: int | None
    rank: int
    start_window: Window | None = None
    finish_window: Window | None = None


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that could not be planned, or was only assumed, in one sentence for the person who runs the floor."""

    sentence: str
    job: int | None = None
    operation: int | None = None


@dataclass(frozen=True, slots=True)
class LoadWeek:
    """A station's work in the week that begins on the Monday `week`."""

    station: int
    week: date
    work_minutes: int
    work_minutes_80: int
    capacity_minutes: int


@dataclass(frozen=True, slots=True)
class PersonWeek:
    """A person's work in the week that begins on the Monday `week`, and the minutes that they are there."""

    person: int
    week: date
    work_minutes: int
    work_minutes_80: int
    there_minutes: int


@dataclass(frozen=True, slots=True)
class Plan:
    """Dates for everything that could be planned.

    `jobs`, `panels`, `operations`: by id. What is finished already, or could not be planned, is not among them.
    `samples`: job id -> the minute (since 1970, UTC) at which it is finished in each future, in the futures' order.
    """

    now: datetime
    seed: int
    futures: int
    jobs: Mapping[int, Window]
    panels: Mapping[int, Window]
    operations: Mapping[int, OperationPlan]
    load: tuple[LoadWeek, ...]
    tightest: int | None
    problems: tuple[Problem, ...]
    zone: str = "UTC"
    samples: Mapping[int, NDArray[np.int64]] = field(default_factory=dict, repr=False)
    people: tuple[PersonWeek, ...] = ()

    def chance(self, job: int, day: date) -> float:
        """The share of futures in which the job is finished by the end of that day. KeyError if it has no window."""
        midnight = datetime.combine(day + timedelta(days=1), time(0), ZoneInfo(self.zone))
        end = int((midnight - EPOCH).total_seconds()) // 60
        return float(np.count_nonzero(self.samples[job] <= end)) / len(self.samples[job])

    def day_for(self, job: int, confidence: float) -> date:
        """The first day with chance(job, day) >= confidence, 0 < confidence <= 1. KeyError if it has no window."""
        if not 0 < confidence <= 1:
            raise ValueError(f"A confidence lies above 0 and up to 1, not at {confidence}")
        finishes = np.sort(self.samples[job])
        index = max(int(np.ceil(confidence * len(finishes) - 1e-9)) - 1, 0)
        # A finish at midnight sharp belongs to the day that ends there, as in chance().
        last = EPOCH + timedelta(minutes=int(finishes[index]) - 1)
        return last.astimezone(ZoneInfo(self.zone)).date()
