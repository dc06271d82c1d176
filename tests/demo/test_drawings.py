"""Drawings of the demo: they tile their rectangle, whatever the size and the seed."""

from random import Random

import pytest

from jobs.management.demo.drawings import PATTERNS, as_json, draw
from jobs.management.demo.geometry import area, cut, rectangle

SIZES = [(560.0, 890.0), (762.0, 1117.6), (1117.6, 482.6), (279.4, 1676.4), (812.8, 812.8)]
SPOTS = 41


def _inside(x: float, y: float, polygon: list[tuple[float, float]]) -> bool:
    """Even-odd rule (Shimrat 1962)."""
    found = False
    for (ax, ay), (bx, by) in zip(polygon, polygon[1:] + polygon[:1], strict=True):
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            found = not found
    return found


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("pattern", PATTERNS)
def test_pieces_tile_the_panel(pattern: str, size: tuple[float, float]) -> None:
    width, height = size
    for seed in range(3):
        panes = [pane for pane in draw(pattern, width, height, Random(seed)) if not pane.carved]
        assert sum(area(pane.points) for pane in panes) == pytest.approx(width * height, rel=0.01)
        assert all(-0.01 <= x <= width + 0.01 for pane in panes for x, _ in pane.points)
        assert all(-0.01 <= y <= height + 0.01 for pane in panes for _, y in pane.points)
    # Equal areas could still hide a gap under an overlap: spots that are off every line lie in one piece each.
    spots = [
        ((column + 0.437) / SPOTS * width, (row + 0.571) / SPOTS * height)
        for column in range(SPOTS)
        for row in range(SPOTS)
    ]
    wrong = [spot for spot in spots if sum(_inside(*spot, pane.points) for pane in panes) != 1]
    assert len(wrong) <= 0.002 * len(spots)


@pytest.mark.parametrize("pattern", ["heron", "reeds"])
def test_carvings_stay_on_their_one_lite(pattern: str) -> None:
    panes = draw(pattern, 914.4, 2032.0, Random(1))
    assert not panes[0].carved
    assert sum(not pane.carved for pane in panes) == 1
    assert sum(pane.carved for pane in panes) > 20
    assert all(0 <= x <= 914.4 and 0 <= y <= 2032.0 for pane in panes for x, y in pane.points)


def test_the_same_seed_draws_the_same() -> None:
    for pattern in PATTERNS:
        one, two = (as_json(700, 900, draw(pattern, 700, 900, Random(4))) for _ in range(2))
        assert one == two


def test_beveled_pieces_come_first() -> None:
    panes = draw("rose", 762, 762, Random(1))
    beveled = [pane.beveled for pane in panes]
    assert beveled == sorted(beveled, reverse=True)
    assert 0 < sum(beveled) < len(beveled)


def test_a_line_cuts_a_square_in_two() -> None:
    parts = cut(rectangle(0, 0, 10, 10), (0, 0), (10, 10))
    assert [area(part) for part in parts] == [50, 50]
    assert cut(rectangle(0, 0, 10, 10), (20, 0), (20, 10)) == [rectangle(0, 0, 10, 10)]
