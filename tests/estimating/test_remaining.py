"""What of an estimate is left. Checked by hand; there is no outside source for it."""

import pytest

from jobs.estimating.remaining import minutes_left, worked


@pytest.mark.parametrize(
    ("estimate", "spent", "quantity", "done", "left"),
    [
        (90, 0, 0, 0, 90),
        (90, 30, 0, 0, 60),
        (90, 90, 0, 0, 0),
        (90, 200, 0, 0, 0),  # Over: nothing of the estimate is left.
        (90, 30, 10, 0, 60),  # Counted, and none done yet: the clock.
        (90, 10, 10, 4, 54),  # Six tenths, whatever the clock says.
        (90, 300, 10, 4, 54),
        (100, 0, 3, 1, 67),  # Rounded up.
        (90, 10, 10, 10, 0),
        (0, 10, 0, 0, 0),
    ],
)
def test_minutes_left(estimate: int, spent: int, quantity: int, done: int, left: int) -> None:
    assert minutes_left(estimate, spent, quantity, done) == left


@pytest.mark.parametrize(
    ("quantity", "done", "beyond", "pieces"),
    [
        (10, 4, 0.0, 4.0),
        (10, 4, 1.5, 5.5),  # Large ones are done, or others are begun.
        (10, 4, -1.5, 2.5),  # Small ones are done.
        (10, 4, -9.0, 0.0),
        (10, 9, 4.0, 10.0),
        (10, 10, -3.0, 10.0),  # All are counted as done: nothing is left.
        (0, 0, 0.0, 0.0),
    ],
)
def test_worked(quantity: int, done: int, beyond: float, pieces: float) -> None:
    assert worked(quantity, done, beyond) == pieces


def test_half_a_piece_is_half_of_its_minutes() -> None:
    assert minutes_left(90, 10, 10, 4.5) == 50  # 49.5, rounded up.
