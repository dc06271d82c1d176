"""Each person's hours by week. Worked out by hand for two people who are there forty hours a week from Monday on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import pytest

from jobs.planning import Operation, PersonWeek, plan, planner
from jobs.planning.arrays import Small
from tests.planning.shops import (
    BEVEL,
    BEVELING,
    BUILD,
    BUILDING,
    CURE,
    CUT,
    CUTTING,
    MONDAY,
    generated,
    person,
    shop,
    work,
)

FIRST, SECOND = date(2026, 3, 2), date(2026, 3, 9)
ANN = person(1, "Ann", {CUTTING: 1.0, BUILDING: 1.0})
BEN = person(2, "Ben", {BEVELING: 1.0, BUILDING: 1.0})


def weeks(*operations: object, futures: int = 1, **more: object) -> dict[tuple[int, date], PersonWeek]:
    made = shop(*operations, people=(ANN, BEN), **more)  # type: ignore[arg-type]
    got = plan(made, now=MONDAY, futures=futures)
    return {(row.person, row.week): row for row in got.people}


def certain(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have every future take what was estimated, so that it can be worked out by hand."""

    def estimated(rows: Sequence[Operation], kinds: object, *, futures: int, **how: object) -> Small:
        return np.array([[o.minutes for o in rows]] * futures, np.int32)

    monkeypatch.setattr(planner, "sample", estimated)


def test_work_goes_on_in_the_next_week(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ann cuts fifty hours: forty this week, ten the next."""
    certain(monkeypatch)
    rows = weeks(work(1, 1, CUT, 3000))
    assert rows == {
        (1, FIRST): PersonWeek(1, FIRST, 2400, 2400, 2400),
        (1, SECOND): PersonWeek(1, SECOND, 600, 600, 2400),
    }


def test_a_lift_counts_for_both_and_not_at_what_rests_meanwhile(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ann cuts seven hours and Ben bevels seven; both are called to a lift of one hour."""
    certain(monkeypatch)
    rows = weeks(work(1, 1, CUT, 420), work(2, 2, BEVEL, 420), work(3, 3, BUILD, 60, crew=2))
    assert {key: row.work_minutes for key, row in rows.items()} == {(1, FIRST): 480, (2, FIRST): 480}


def test_a_lift_that_nobody_leaves_work_for_counts_for_both(monkeypatch: pytest.MonkeyPatch) -> None:
    certain(monkeypatch)
    rows = weeks(work(1, 1, BUILD, 60, crew=2), work(2, 1, CUT, 30, after=(1,)))
    assert {key: row.work_minutes for key, row in rows.items()} == {(1, FIRST): 90, (2, FIRST): 60}


def test_a_cure_is_nobodys_work(monkeypatch: pytest.MonkeyPatch) -> None:
    certain(monkeypatch)
    assert weeks(work(1, 1, CURE, 3000)) == {}


def test_the_spread_of_the_futures_shows() -> None:
    rows = weeks(work(1, 1, CUT, 1200), futures=200)
    assert 0 < rows[1, FIRST].work_minutes < rows[1, FIRST].work_minutes_80 <= 2400


@pytest.mark.parametrize("seed", range(12))
def test_nobody_works_more_than_they_are_there(seed: int) -> None:
    made, now = generated(seed)
    for row in plan(made, now=now, futures=20).people:
        assert 0 <= row.work_minutes <= row.work_minutes_80 <= row.there_minutes
