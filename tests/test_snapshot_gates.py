"""What the studio's gates teach: how many days after the day expected they were cleared."""

from datetime import date, timedelta

import pytest

from jobs.models import Job
from jobs.snapshot import read_shop
from jobs.snapshot.history import MOST_GATES, gate_days
from tests import cast
from tests.test_snapshot import at

TODAY = date(2026, 3, 2)


@pytest.fixture
def job(shop: None) -> Job:
    return cast.make_job("0412")


def cleared(job: Job, kind: str, expected: date | None, days: int) -> None:
    cast.make_gate(job, kind, expected=expected, cleared=(expected or TODAY) + timedelta(days=days))


def test_days_by_kind_oldest_first(job: Job) -> None:
    cleared(cast.make_job("0409"), "drawing", date(2026, 2, 20), -2)
    cleared(job, "drawing", date(2026, 2, 10), 6)
    cleared(job, "deposit", date(2026, 2, 1), 0)
    assert gate_days(TODAY) == {"drawing approved": (6, -2), "deposit in": (0,)}
    assert read_shop(at(2)).gate_days == gate_days(TODAY)


def test_gates_without_a_day_shut_ones_and_later_ones_teach_nothing(job: Job) -> None:
    cast.make_gate(job, "drawing", expected=date(2026, 2, 1))
    cleared(job, "deposit", None, -9)
    cleared(job, "glass", date(2026, 2, 20), 11)
    assert gate_days(TODAY) == {}
    assert gate_days(date(2026, 3, 3)) == {"glass in": (11,)}


def test_a_gate_forgotten_for_years_was_not_late(job: Job) -> None:
    cleared(job, "glass", date(2023, 2, 20), 1000)
    assert gate_days(TODAY) == {}


def test_only_the_newest_of_a_kind_count(shop: None) -> None:
    for number in range(MOST_GATES + 2):
        job = cast.make_job(f"{number:04}")
        cleared(job, "drawing", date(2025, 1, 1), number)
    assert gate_days(TODAY)["drawing approved"] == tuple(range(2, MOST_GATES + 2))
