"""Work for several people calls them away from what they do alone. Worked out by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime

from jobs.planning import OperationPlan, plan
from tests.planning.shops import (
    BEVEL,
    BEVELING,
    BUILD,
    BUILDING,
    CURE,
    CUT,
    CUTTING,
    MONDAY,
    job,
    person,
    shop,
    work,
)

# Two people from eight to four; Ann is asked first for building, and both can do it.
ANN = person(1, "Ann", {CUTTING: 1.0, BUILDING: 1.0})
BEN = person(2, "Ben", {BEVELING: 1.0, BUILDING: 1.0})


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


def planned(*operations: object, **more: object) -> dict[int, OperationPlan]:
    return plan(shop(*operations, people=(ANN, BEN), **more), now=MONDAY, futures=5).operations  # type: ignore[arg-type]


def test_two_people_leave_long_work_for_a_lift_and_come_back() -> None:
    """Ann cuts and Ben bevels seven hours each; a lift of one hour is ready as well, and both end an hour later."""
    rows = planned(
        work(1, 1, CUT, 420),
        work(2, 2, BEVEL, 420),
        work(3, 3, BUILD, 60, crew=2),
        jobs=(job(1, date(2026, 3, 3)), job(2, date(2026, 3, 3)), job(3, date(2026, 3, 20))),
    )
    assert (rows[3].start, rows[3].finish) == (at(2, 8), at(2, 9))
    assert (rows[1].start, rows[1].finish) == (at(2, 8), at(2, 16))
    assert (rows[2].start, rows[2].finish) == (at(2, 8), at(2, 16))


def test_who_is_free_is_asked_before_anybody_is_called_away() -> None:
    """Three could lift; Cleo is idle and Ann is asked before Ben, so that Ben's beveling goes on."""
    cleo = person(3, "Cleo", {BUILDING: 0.9})
    got = plan(
        shop(
            work(1, 1, CUT, 420),
            work(2, 2, BEVEL, 420),
            work(3, 3, BUILD, 54, crew=2),
            people=(ANN, BEN, cleo),
        ),
        now=MONDAY,
        futures=5,
    ).operations
    assert got[3].person == 3
    assert (got[3].start, got[3].finish) == (at(2, 8), at(2, 9))
    assert got[1].finish == at(2, 16)
    assert got[2].finish == at(2, 15)


def test_a_lift_that_becomes_ready_at_night_is_looked_at_in_the_morning() -> None:
    """It cures until two at night; both are at long work, and are called when their hours begin."""
    rows = planned(
        work(1, 1, CUT, 960),
        work(2, 2, BEVEL, 960),
        work(3, 3, CURE, 1080),
        work(4, 3, BUILD, 30, crew=2, after=(3,)),
    )
    assert (rows[4].start, rows[4].finish) == (at(3, 8), at(3, 8, 30))
    assert rows[1].finish == rows[2].finish == at(4, 8, 30)
