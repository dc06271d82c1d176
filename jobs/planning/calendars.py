"""Working time: local shifts, days off, closed days and clock changes, as minutes since 1970 in UTC.

A shift is turned into two instants, so that one over a clock change has the minutes that really pass. Hours that a
clock change skips do not exist. A person's day of work ends at midnight: hours are never carried over it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from jobs.planning.shop import MIDNIGHT, Shift

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
DAY = 1440
Extra = Sequence[tuple[date, time, time]]


def to_minute(at: datetime) -> int:
    """Whole minutes since 1970 of an aware datetime, rounded up, so that nothing is planned before it."""
    return -((EPOCH - at) // timedelta(minutes=1))


def from_minute(minute: int, zone: str) -> datetime:
    """The same instant in a zone."""
    return (EPOCH + timedelta(minutes=int(minute))).astimezone(ZoneInfo(zone))


def local_day(minute: int, zone: str) -> date:
    """The local date of an instant."""
    return from_minute(minute, zone).date()


@lru_cache(maxsize=16384)
def midnight(day: date, zone: str) -> int:
    """The instant at which a local day begins."""
    return to_minute(datetime.combine(day, MIDNIGHT, ZoneInfo(zone)))


def day_end(day: date, zone: str) -> datetime:
    """When a local day is over."""
    return from_minute(midnight(day + timedelta(days=1), zone), zone)


def _instant(day: date, moment: time, zone: str) -> int:
    return to_minute(datetime.combine(day, moment, ZoneInfo(zone)))


def _hours_of(day: date, shifts: Iterable[Shift], extra: Extra, free: bool) -> list[tuple[time, time]]:
    weekly = [] if free else [(s.start, s.stop) for s in shifts if s.weekday == day.weekday()]
    return weekly + [(start, stop) for on, start, stop in extra if on == day]


def _minutes_of(moment: time, stops: bool) -> int:
    return DAY if stops and moment == MIDNIGHT else moment.hour * 60 + moment.minute


def _day_intervals(day: date, hours: list[tuple[time, time]], zone: str) -> list[tuple[int, int]]:
    """The day's hours as instants, overlapping ones joined."""
    begin, after = midnight(day, zone), midnight(day + timedelta(days=1), zone)
    found: list[tuple[int, int]] = []
    for start, stop in hours:
        if after - begin == DAY:
            found.append((begin + _minutes_of(start, False), begin + _minutes_of(stop, True)))
        else:
            found.append(
                (_instant(day, start, zone), after if stop == MIDNIGHT else _instant(day, stop, zone))
            )
    found.sort()
    joined: list[tuple[int, int]] = []
    for start_at, stop_at in found:
        if joined and start_at <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], stop_at))
        elif start_at < stop_at:
            joined.append((start_at, stop_at))
    return joined


@lru_cache(maxsize=512)
def _intervals(
    shifts: tuple[Shift, ...],
    days_off: frozenset[date],
    closed: frozenset[date],
    zone: str,
    first: date,
    last: date,
    extra: tuple[tuple[date, time, time], ...],
) -> tuple[tuple[int, int], ...]:
    found: list[tuple[int, int]] = []
    weekdays = {shift.weekday for shift in shifts}
    on_top = {on for on, _, _ in extra}
    for number in range((last - first).days + 1):
        day = first + timedelta(days=number)
        free = day in days_off or day in closed
        if day in on_top or (not free and day.weekday() in weekdays):
            found.extend(_day_intervals(day, _hours_of(day, shifts, extra, free), zone))
    return tuple(found)


def intervals(
    shifts: Iterable[Shift],
    days_off: Iterable[date],
    closed: Iterable[date],
    zone: str,
    first: date,
    last: date,
    extra: Extra = (),
) -> tuple[tuple[int, int], ...]:
    """When somebody works from the local day `first` to `last`, both included: (start, stop) in order, not touching
    within a day. Extra hours count on closed days and days off too."""
    return _intervals(tuple(shifts), frozenset(days_off), frozenset(closed), zone, first, last, tuple(extra))


def working_minutes(
    shifts: Iterable[Shift],
    days_off: Iterable[date],
    closed: Iterable[date],
    zone: str,
    start: datetime,
    stop: datetime,
    extra: Extra = (),
) -> int:
    """How many minutes somebody works between two aware instants; 0 if stop is not after start."""
    # In minutes, because datetimes of one zone are compared by the clock on the wall, which runs twice over an hour.
    low, high = (start - EPOCH) // timedelta(minutes=1), (stop - EPOCH) // timedelta(minutes=1)
    if high <= low:
        return 0
    first, last = start.astimezone(ZoneInfo(zone)).date(), stop.astimezone(ZoneInfo(zone)).date()
    hours = intervals(shifts, days_off, closed, zone, first, last, extra)
    return sum(max(0, min(stop_at, high) - max(start_at, low)) for start_at, stop_at in hours)


def shift_end(
    shifts: Iterable[Shift],
    days_off: Iterable[date],
    closed: Iterable[date],
    zone: str,
    at: datetime,
    extra: Extra = (),
) -> datetime | None:
    """When the working day that contains `at` ends for somebody: the last of that local day's hours.

    None if there are no hours on that day, or if they are over. Before the first hour and in a break it is the end of
    the same day.
    """
    day = at.astimezone(ZoneInfo(zone)).date()
    hours = intervals(shifts, days_off, closed, zone, day, day, extra)
    if not hours:
        return None
    end = hours[-1][1]
    return from_minute(end, zone) if (at - EPOCH) // timedelta(minutes=1) < end else None
