"""Days against their hours, and rounding that does not drift against the worker."""

from datetime import UTC, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.planning.sheets import STEPS, beyond, gaps, minutes_of, overlaps, rounded

ZONE = ZoneInfo("Europe/Vienna")


def span(start: str, stop: str, day: int = 2) -> tuple[datetime, datetime]:
    one, two = (datetime(2026, 3, day, *map(int, clock.split(":")), tzinfo=ZONE) for clock in (start, stop))
    return one, two


DUE = [span("8:00", "12:00"), span("12:30", "16:30")]
EVENING = datetime(2026, 3, 2, 20, tzinfo=ZONE)


def clocks(spans: list[tuple[datetime, datetime]]) -> list[str]:
    return [f"{a.astimezone(ZONE):%H:%M}-{b.astimezone(ZONE):%H:%M}" for a, b in spans]


def test_what_is_not_written_down_is_a_gap() -> None:
    worked = [span("8:00", "10:00"), span("10:45", "16:30")]
    assert clocks(gaps(worked, DUE, EVENING)) == ["10:00-10:45"]


def test_a_walk_to_the_rack_and_a_break_are_no_gaps() -> None:
    assert gaps([span("8:05", "12:00"), span("12:30", "16:30")], DUE, EVENING) == []


def test_what_is_still_to_come_is_no_gap() -> None:
    noon = datetime(2026, 3, 2, 12, tzinfo=ZONE)
    assert gaps([span("8:00", "12:00")], DUE, noon) == []
    assert clocks(gaps([], DUE, noon)) == ["08:00-12:00"]


def test_before_and_after_the_day_is_beyond_it_and_a_break_worked_through_is_not() -> None:
    worked = [span("7:00", "13:00"), span("13:00", "17:15")]
    assert clocks(beyond(worked, DUE)) == ["07:00-08:00", "16:30-17:15"]
    assert clocks(beyond([span("9:00", "11:00")], [])) == ["09:00-11:00"]


def test_two_entries_at_once_are_told() -> None:
    worked = [span("8:00", "10:00"), span("9:00", "9:30"), span("9:45", "11:00"), span("11:00", "12:00")]
    assert clocks(overlaps(worked)) == ["09:00-09:30", "09:45-10:00"]


def test_the_night_the_clocks_change_has_an_hour_less() -> None:
    # 29 March 2026, 02:00 to 03:00 does not exist in Vienna (Directive 2000/84/EC, last Sunday of March).
    start, stop = datetime(2026, 3, 29, 1, tzinfo=ZONE), datetime(2026, 3, 29, 4, tzinfo=ZONE)
    assert minutes_of([(start, stop)]) == 120


@given(st.lists(st.tuples(st.integers(0, 900), st.integers(1, 200)), max_size=8))
def test_gaps_and_work_fill_the_day(pieces: list[tuple[int, int]]) -> None:
    """Every minute due is worked, a gap, or a moment shorter than a gap."""
    base = datetime(2026, 3, 2, 5, tzinfo=UTC)
    worked = [
        (base + timedelta(minutes=start), base + timedelta(minutes=start + length))
        for start, length in pieces
    ]
    taken = {minute for start, length in pieces for minute in range(start, start + length)}
    due = {
        int((at - base) // timedelta(minutes=1)) + n
        for at, until in DUE
        for n in range(int((until - at) // timedelta(minutes=1)))
    }
    told = {
        int((start - base) // timedelta(minutes=1)) + n
        for start, stop in gaps(worked, DUE, EVENING)
        for n in range(int((stop - start) // timedelta(minutes=1)))
    }
    assert told <= due - taken
    assert len(due - taken - told) < 15 * (len(pieces) + 2)


@pytest.mark.parametrize(
    ("minutes", "step", "stands"),
    [(7, 15, 0), (8, 15, 15), (482, 5, 480), (483, 5, 485), (483, 6, 486), (482, 6, 480), (481, 1, 481)],
)
def test_rounding_is_to_the_nearest(minutes: int, step: int, stands: int) -> None:
    """29 CFR 785.48(b): to the nearest 5 minutes, or the nearest one-tenth or quarter of an hour."""
    assert rounded(minutes, step) == stands


@pytest.mark.parametrize("step", STEPS)
def test_over_all_lengths_of_a_day_rounding_gives_as_much_as_it_takes(step: int) -> None:
    """29 CFR 785.48(b) asks that the practice does not, over a period of time, fail to pay for the time worked."""
    drift = sum(rounded(minutes, step) - minutes for minutes in range(480, 480 + 60))
    assert 0 <= drift <= 60 / step * (step / 2)


@pytest.mark.parametrize("step", STEPS)
def test_over_a_generated_year_rounding_does_not_drift_against_the_worker(step: int) -> None:
    """Forty people, 230 days each: nobody is off by more than chance, and all together lose nothing beyond chance."""
    random = Random(785)
    drifts = []
    for _ in range(40):
        days = [round(random.gauss(478, 22)) for _ in range(230)]
        drifts.append(sum(rounded(day, step) - day for day in days))
    # An error is spread evenly over a step: its standard deviation is step / sqrt(12) a day.
    one_year = step / 12**0.5 * 230**0.5
    assert max(abs(drift) for drift in drifts) < 4 * one_year + 230 * 0.5
    assert sum(drifts) / 40 > -3 * one_year / 40**0.5


@pytest.mark.parametrize(("minutes", "step"), [(-1, 5), (10, 0)])
def test_what_cannot_be_rounded_is_refused(minutes: int, step: int) -> None:
    with pytest.raises(ValueError, match="minutes from 0"):
        rounded(minutes, step)
