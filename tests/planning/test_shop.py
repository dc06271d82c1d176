"""Values that cannot be meant are refused where they are made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, time

import pytest

from jobs.planning import Job, Kind, Nature, Shift, Station
from tests.planning.shops import ANN, BEVEL, CUT, job, person, shop, work


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Station(1, "cutting", -1), "cutting cannot have -1 benches"),
        (lambda: Shift(7, time(8), time(16)), "Weekday 7"),
        (lambda: Shift(0, time(16), time(8)), "end before they begin"),
        (lambda: Shift(0, time(8), time(8)), "end before they begin"),
        (lambda: Shift(0, time(8, 0, 30), time(16)), "whole minutes"),
        (lambda: Shift(0, time(8, tzinfo=UTC), time(16)), "without a zone"),
        (lambda: person(1, "Ann", {1: 0.0}), "pace of Ann"),
        (lambda: person(1, "Ann", {1: float("nan")}), "pace of Ann"),
        (lambda: Kind(1, "cutting", Nature.ATTENDED, (float("inf"),)), "history of cutting"),
        (lambda: Job(1, "0401", None, -1.0), "Job 0401"),
        (lambda: work(1, 1, CUT, -1), "-1 minutes"),
        (lambda: work(1, 1, CUT, 1, spent=-1), "-1 minutes spent"),
        (lambda: work(1, 1, CUT, 1, crew=0), "crew of at least one"),
        (lambda: work(1, 1, CUT, 1, quantity=-1), "pieces below zero"),
        (lambda: work(1, 1, CUT, 1, started=datetime(2026, 3, 2)), "time zone"),  # noqa: DTZ001
        (lambda: shop(work(1, 1, CUT, 1), work(1, 1, BEVEL, 1)), "Two operations"),
        (lambda: shop(people=(ANN, ANN)), "Two people"),
        (lambda: shop(zone="Mars/Olympus"), "Mars/Olympus"),
        (lambda: shop(zone=""), "time zone"),
        (lambda: shop(work(1, 1, 77, 1, station=1)), "unknown kind 77"),
        (lambda: shop(work(1, 1, CUT, 1), jobs=(job(2),)), "unknown job 1"),
    ],
)
def test_refused(make: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        make()


def test_a_shop_does_not_change_with_what_it_was_made_from() -> None:
    skills = {1: 1.0}
    made = person(1, "Ann", skills)
    skills[2] = 5.0
    assert dict(made.skills) == {1: 1.0}
    with pytest.raises(TypeError):
        made.skills[2] = 5.0  # type: ignore[index]
    assert replace(made, name="Eve").skills == {1: 1.0}
