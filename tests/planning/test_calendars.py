"""Working time, against numpy's business days and zoneinfo's clock changes."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.planning import Shift
from jobs.planning.calendars import intervals, local_day, shift_end, to_minute, working_minutes

WEEK = tuple(Shift(day, time(8), time(16)) for day in range(5))
BROKEN = tuple(Shift(d, a, b) for d in range(5) for a, b in ((time(8), time(12)), (time(12, 30), time(17))))
NIGHT = tuple(Shift(day, time(0), time(6)) for day in range(7))
CHICAGO = ZoneInfo("America/Chicago")


@given(
    first=st.dates(date(2020, 1, 1), date(2035, 12, 31)),
    length=st.integers(0, 800),
    closed=st.frozensets(st.integers(0, 800), max_size=20),
)
@settings(deadline=None)
def test_whole_days_are_those_of_numpys_business_day_count(
    first: date, length: int, closed: frozenset[int]
) -> None:
    """numpy.busday_count is the outside value: 480 minutes for each of its days."""
    last = first + timedelta(days=length)
    holidays = frozenset(first + timedelta(days=k) for k in closed)
    start, stop = (datetime.combine(day, time(0), CHICAGO) for day in (first, last))
    got = working_minutes(WEEK, (), holidays, "America/Chicago", start, stop)
    assert got == 480 * np.busday_count(first, last, holidays=sorted(holidays))


@pytest.mark.parametrize(
    ("zone", "day", "minutes"),
    [
        # The night that clocks go forward has an hour less between 0:00 and 6:00, the night they go back one more.
        ("America/Chicago", date(2026, 3, 8), 300),
        ("America/Chicago", date(2026, 11, 1), 420),
        ("Europe/Vienna", date(2026, 3, 29), 300),
        ("Europe/Vienna", date(2026, 10, 25), 420),
        ("Australia/Lord_Howe", date(2026, 4, 5), 390),  # Half an hour.
        ("America/Chicago", date(2026, 3, 9), 360),
    ],
)
def test_the_minutes_of_a_night_with_a_clock_change_are_those_that_pass(
    zone: str, day: date, minutes: int
) -> None:
    start = datetime.combine(day, time(0), ZoneInfo(zone))
    stop = datetime.combine(day, time(6), ZoneInfo(zone))
    passed = (stop.astimezone(UTC) - start.astimezone(UTC)) // timedelta(minutes=1)
    assert working_minutes(NIGHT, (), (), zone, start, stop) == minutes == passed


def test_hours_that_a_clock_change_skips_do_not_exist() -> None:
    skipped = (Shift(6, time(2), time(3)),)
    day = date(2026, 3, 8)
    assert intervals(skipped, (), (), "America/Chicago", day, day) == ()


def test_a_day_from_midnight_to_midnight_is_the_days_own_length() -> None:
    whole = tuple(Shift(day, time(0), time(0)) for day in range(7))
    for day, minutes in ((date(2026, 3, 8), 1380), (date(2026, 11, 1), 1500), (date(2026, 5, 5), 1440)):
        ((start, stop),) = intervals(whole, (), (), "America/Chicago", day, day)
        assert stop - start == minutes


def test_breaks_days_off_and_closed_days_are_not_worked() -> None:
    monday, friday = datetime(2026, 3, 2, tzinfo=CHICAGO), datetime(2026, 3, 7, tzinfo=CHICAGO)
    full = working_minutes(BROKEN, (), (), "America/Chicago", monday, friday)
    assert full == 5 * (240 + 270)
    assert (
        working_minutes(BROKEN, {date(2026, 3, 3)}, {date(2026, 3, 4)}, "America/Chicago", monday, friday)
        == 3 * 510
    )


def test_extra_hours_count_on_closed_days_and_join_with_the_weekly_ones() -> None:
    saturday = date(2026, 3, 7)
    extra = ((saturday, time(9), time(13)), (date(2026, 3, 6), time(15), time(18)))
    start, stop = datetime(2026, 3, 6, tzinfo=CHICAGO), datetime(2026, 3, 8, tzinfo=CHICAGO)
    got = working_minutes(WEEK, {saturday}, {saturday}, "America/Chicago", start, stop, extra)
    assert got == 600 + 240  # Friday 8 to 18, Saturday 9 to 13.


def test_parts_of_a_shift_count_by_the_minute_and_backwards_is_nothing() -> None:
    start, stop = datetime(2026, 3, 2, 11, 45, tzinfo=CHICAGO), datetime(2026, 3, 2, 12, 45, tzinfo=CHICAGO)
    assert working_minutes(BROKEN, (), (), "America/Chicago", start, stop) == 30
    assert working_minutes(BROKEN, (), (), "America/Chicago", stop, start) == 0


def test_between_the_two_runs_of_the_hour_that_comes_twice() -> None:
    """In Chicago on 1 November 2026 the clock shows 1:50 half an hour before it shows 1:20 for the second time."""
    start, stop = (
        datetime(2026, 11, 1, 1, 50, tzinfo=CHICAGO),
        datetime(2026, 11, 1, 1, 20, tzinfo=CHICAGO, fold=1),
    )
    assert working_minutes(NIGHT, (), (), "America/Chicago", start, stop) == 30
    hour = (Shift(6, time(1, 30), time(1, 45)),)
    assert shift_end(hour, (), (), "America/Chicago", stop) is None


@given(
    edges=st.lists(st.datetimes(datetime(2026, 2, 1), datetime(2026, 12, 1)), min_size=3, max_size=3)  # noqa: DTZ001
)
@settings(deadline=None)
def test_time_adds_up(edges: list[datetime]) -> None:
    a, b, c = sorted(edge.replace(tzinfo=UTC, second=0, microsecond=0) for edge in edges)

    def minutes(start: datetime, stop: datetime) -> int:
        return working_minutes(BROKEN, (), (), "America/Chicago", start, stop)

    assert minutes(a, b) + minutes(b, c) == minutes(a, c)


@pytest.mark.parametrize(
    ("at", "end"),
    [
        (datetime(2026, 3, 2, 9, tzinfo=CHICAGO), datetime(2026, 3, 2, 17, tzinfo=CHICAGO)),
        (
            datetime(2026, 3, 2, 12, 10, tzinfo=CHICAGO),
            datetime(2026, 3, 2, 17, tzinfo=CHICAGO),
        ),  # In the break.
        (
            datetime(2026, 3, 2, 7, 50, tzinfo=CHICAGO),
            datetime(2026, 3, 2, 17, tzinfo=CHICAGO),
        ),  # Early bird.
        (datetime(2026, 3, 2, 17, tzinfo=CHICAGO), None),
        (datetime(2026, 3, 7, 9, tzinfo=CHICAGO), None),  # A Saturday.
        (datetime(2026, 3, 3, 9, tzinfo=CHICAGO), None),  # A day off.
        # The same Monday morning, told by a clock in Greenwich: 01:30 there is Sunday evening in Chicago.
        (datetime(2026, 3, 2, 1, 30, tzinfo=UTC), None),
    ],
)
def test_the_end_of_the_working_day(at: datetime, end: datetime | None) -> None:
    assert shift_end(BROKEN, {date(2026, 3, 3)}, (), "America/Chicago", at) == end


def test_now_is_rounded_up_so_that_nothing_is_planned_before_it() -> None:
    assert to_minute(datetime(1970, 1, 1, 0, 1, tzinfo=UTC)) == 1
    assert to_minute(datetime(1970, 1, 1, 0, 1, 1, tzinfo=UTC)) == 2
    assert local_day(0, "America/Chicago") == date(1969, 12, 31)
