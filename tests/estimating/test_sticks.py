"""Lengths of came out of a takeoff. All values are reckoned by hand."""

from dataclasses import replace

import pytest

from jobs.estimating.sticks import came_lengths
from jobs.estimating.takeoff import Came, Glass, Takeoff, propose

INNER, BORDER = Came("H 6"), Came("U 10", face_mm=10)
# Two panes side by side: one line of 900 mm inside, 3,000 mm round it, and two joints beside the four corners.
PAIR = Takeoff(600, 900, pieces=2, came_mm={"H 6": 900, "U 10": 3000}, border_mm=3000, inner_mm=900, joints=6)
STICKS = {"H 6": 1829.0, "U 10": 1829.0}


def test_a_border_is_two_widths_and_two_heights() -> None:
    assert came_lengths(PAIR, STICKS) == {"H 6": [900], "U 10": [600, 600, 900, 900]}


def test_one_profile_for_both() -> None:
    one = replace(PAIR, came_mm={"H 6": 3900})
    assert came_lengths(one, STICKS) == {"H 6": [600, 600, 900, 900, 900]}


def test_longer_than_a_stick_is_joined() -> None:
    assert came_lengths(PAIR, {"U 10": 800.0}) == {"U 10": [600, 600, 800, 100, 800, 100]}


def test_no_came_no_lengths() -> None:
    assert came_lengths(Takeoff(600, 900), STICKS) == {}


@pytest.mark.parametrize("pieces", [2, 9, 60])
def test_no_length_is_lost(pieces: int) -> None:
    takeoff = propose(600, 900, pieces, glass=Glass("plate", 6), came=INNER, border=BORDER)
    found = came_lengths(takeoff, STICKS)
    for profile, length in takeoff.came_mm.items():
        assert sum(found[profile]) == pytest.approx(length)
    # Each line after the border's ends on two others, so there are as many lines as pieces after the first.
    assert len([mm for mm in found["H 6"] if mm < 1829]) >= pieces - 1
