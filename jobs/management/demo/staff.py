"""Who works in the demo studio, when, and on which days nobody does. All names are invented."""

from __future__ import annotations

from datetime import date, time, timedelta
from random import Random

import holidays

from .records import Worker

COUNTRY, REGION, ZONE = "US", "IL", "America/Chicago"
ILL = "Anders Okafor"  # Who is ill today.
KEPT = (
    "New Year's Day",
    "Memorial Day",
    "Independence Day",
    "Labor Day",
    "Thanksgiving Day",
    "Christmas Day",
)


def _week(days: str, *spans: tuple[str, str]) -> dict[int, list[tuple[time, time]]]:
    hours = [(time.fromisoformat(start), time.fromisoformat(stop)) for start, stop in spans]
    return {int(day): list(hours) for day in days}


EARLY = (("07:00", "11:30"), ("12:00", "15:30"))
USUAL = (("08:00", "12:00"), ("12:30", "16:30"))


def workers() -> list[Worker]:
    """The eight of them, each with the stations in the order in which they look for work there."""
    return [
        Worker("Marisol Quiroga", 34, {"Beveling": 1.15, "Cutting": 1.0}, _week("01234", *EARLY)),
        Worker("Anders Okafor", 31, {"Beveling": 1.0, "Packing": 0.95}, _week("01234", *EARLY)),
        Worker(
            "Leocadia Marsh",
            22,
            {"Beveling": 0.7, "Cutting": 0.8, "Packing": 0.9},
            _week("01234", *USUAL),
            True,
        ),
        Worker(
            "Wanda Petroszek", 30, {"Cutting": 1.1, "Drawing": 1.0, "Assembly": 0.85}, _week("01234", *USUAL)
        ),
        Worker(
            "Kenji Barlow",
            32,
            {"Delivery": 1.0, "Blasting": 1.1, "Stencil": 0.95, "Packing": 1.0},
            _week("01234", *USUAL),
        ),
        Worker(
            "Ines Achterhof",
            31,
            {"Drawing": 1.1, "Stencil": 1.1, "Blasting": 0.9},
            _week("0123", ("08:00", "12:00"), ("12:30", "15:30")),
        ),
        Worker(
            "Samuel Tettey",
            33,
            {"Delivery": 1.0, "Cementing": 1.05, "Assembly": 1.1, "Packing": 0.9},
            _week("01234", *EARLY),
        ),
        Worker(
            "Priya Vasantham",
            29,
            {"Packing": 1.05, "Cementing": 1.0, "Assembly": 1.0, "Cutting": 0.9},
            _week("1234", ("08:30", "12:30"), ("13:00", "17:00")),
        ),
    ]


def closed_days(first: date, last: date) -> dict[date, str]:
    """The days the studio is closed: the public holidays that it keeps, the day after Thanksgiving, year's end."""
    public = holidays.country_holidays(COUNTRY, subdiv=REGION, years=range(first.year, last.year + 1))
    closed: dict[date, str] = {}
    for day, name in sorted(public.items()):
        if any(kept in name for kept in KEPT):
            closed[day] = name
        if name.startswith("Thanksgiving"):
            closed[day + timedelta(days=1)] = "Day after Thanksgiving"
    for year in range(first.year, last.year + 1):
        for number in range(24, 32):
            closed.setdefault(date(year, 12, number), "Closed at the year's end")
    return {day: closed[day] for day in sorted(closed) if first <= day <= last}


def is_working_day(day: date, closed: dict[date, str]) -> bool:
    return day.weekday() < 5 and day not in closed


def working_days_before(day: date, count: int, closed: dict[date, str]) -> date:
    """The working day `count` working days before this day."""
    while count:
        day -= timedelta(days=1)
        count -= is_working_day(day, closed)
    return day


def working_days_after(day: date, count: int, closed: dict[date, str]) -> date:
    while count:
        day += timedelta(days=1)
        count -= is_working_day(day, closed)
    return day


def plan_absences(
    people: list[Worker], first: date, today: date, rng: Random, closed: dict[date, str]
) -> None:
    """Summer and winter weeks off, days of illness, a course, and Saturdays at the wheels in busy autumns.

    Today one of the bevelers is ill and will be back on the second working day from now.
    """
    for number, person in enumerate(people):
        for year in range(first.year, today.year + 2):
            monday = date(year, 6, 8) + timedelta(days=7 * (number * 9 // 8 + rng.randrange(2)))
            monday -= timedelta(days=monday.weekday())
            person.away.append((monday, monday + timedelta(days=11), "vacation"))
            winter = date(year, 2, 2) + timedelta(days=7 * rng.randrange(7))
            winter -= timedelta(days=winter.weekday())
            person.away.append((winter, winter + timedelta(days=4), "vacation"))
        day = first + timedelta(days=rng.randrange(90))
        while day < today - timedelta(days=12):
            person.away.append((day, day + timedelta(days=rng.choice((0, 0, 1, 2))), "ill"))
            day += timedelta(days=rng.randrange(60, 200))
    near = today - timedelta(days=10), today + timedelta(days=9)
    for person in people:
        # The weeks about today stay as the stories need them.
        person.away = [span for span in person.away if span[1] < near[0] or span[0] > near[1]]
        person.away = [span for span in person.away if span[0] <= today + timedelta(days=150)]
    ill, course = next(person for person in people if person.name == ILL), people[5]
    ill.away.append((today, working_days_after(today, 1, closed), "ill"))
    start = working_days_after(today, 11, closed)
    course.away.append((start, start + timedelta(days=1), "course on carving in layers"))
    for person in people[:2]:
        for year in range(first.year, today.year + 1):
            saturday = date(year, 10, 4)
            saturday += timedelta(days=(5 - saturday.weekday()) % 7)
            for week in range(4):
                when = saturday + timedelta(days=7 * week)
                if first <= when < today and not person.is_away(when):
                    person.extra.append((when, time(8), time(12)))
    saturday = today + timedelta(days=(5 - today.weekday()) % 7 or 7)
    if saturday not in closed:
        people[0].extra.append((saturday, time(8), time(12)))
