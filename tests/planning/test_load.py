"""Hours of work against hours there are, worked out by hand for a shop of two people."""

from __future__ import annotations

from datetime import date

from jobs.planning import plan
from tests.planning.shops import BUILD, BUILDING, CUT, CUTTING, MONDAY, person, shop, work

# Ann cuts and builds, eight hours a day from eight; Ben does neither.
FIRST_WEEK = date(2026, 3, 2)


def weeks(station: int, *operations: object) -> list[tuple[date, int]]:
    got = plan(shop(*operations), now=MONDAY, futures=20)  # type: ignore[arg-type]
    return [(week.week, week.capacity_minutes) for week in got.load if week.station == station]


def test_an_hour_of_a_person_is_there_for_one_station_only() -> None:
    """Ann has 2,400 minutes; 600 of cutting leave 1,800 for building, and 900 of building 1,500 for cutting."""
    operations = work(1, 1, CUT, 600), work(2, 2, BUILD, 900)
    assert weeks(BUILDING, *operations)[0] == (FIRST_WEEK, 1800)
    assert weeks(CUTTING, *operations)[0] == (FIRST_WEEK, 1500)


def test_the_tightest_station_is_the_one_that_work_waits_for() -> None:
    """Three panels wait at building for Ann, who cuts the first one before."""
    operations = [work(n, n, BUILD, 600) for n in (2, 3, 4)]
    got = plan(shop(work(1, 1, CUT, 60), *operations), now=MONDAY, futures=5)
    assert got.tightest == BUILDING


def test_where_nothing_waits_the_fullest_is_the_tightest() -> None:
    got = plan(shop(work(1, 1, CUT, 60)), now=MONDAY, futures=5)
    assert got.tightest == CUTTING


def test_time_with_a_crew_is_not_counted_at_what_rests_meanwhile() -> None:
    """Both have 2,400 minutes; a lift of 60 takes Ann from her cutting, and no minute of hers counts twice."""
    both = (person(1, "Ann", {CUTTING: 1.0, BUILDING: 1.0}), person(2, "Ben", {BUILDING: 1.0}))
    rows = work(1, 1, CUT, 600), work(2, 2, BUILD, 60, crew=2)
    got = plan(shop(*rows, people=both), now=MONDAY, futures=20)
    could = {week.station: week.capacity_minutes for week in got.load if week.week == FIRST_WEEK}
    # Building: Ann's 1,800 beside her cutting and Ben's 2,400, for crews of two. Cutting: all of Ann's but the lift.
    assert could == {BUILDING: 2100, CUTTING: 2340}
