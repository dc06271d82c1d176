"""All patterns by name, and a drawing as a panel keeps it."""

from collections.abc import Callable, Sequence
from functools import cache
from random import Random
from typing import Any

from .carving import heron, reed_screen
from .curves import fan, leaves, river, rose, sunrise
from .geometry import Pane, center
from .windows import (
    diamond_center,
    honeycomb,
    meadow_grid,
    pinwheels,
    quarry_lattice,
    sidelight,
    single_lite,
)

Pattern = Callable[[float, float, Random], list[Pane]]
PATTERNS: dict[str, Pattern] = {
    "diamond": diamond_center,
    "lattice": quarry_lattice,
    "honeycomb": honeycomb,
    "meadow": meadow_grid,
    "pinwheels": pinwheels,
    "sidelight": sidelight,
    "lite": single_lite,
    "fan": fan,
    "rose": rose,
    "river": river,
    "leaves": leaves,
    "sunrise": sunrise,
    "reeds": reed_screen,
    "heron": heron,
}


@cache
def drawn(pattern: str, width: float, height: float, turn: int) -> tuple[Pane, ...]:
    """One of the drawings that there are of a pattern in a size; drawn once."""
    return tuple(draw(pattern, width, height, Random(turn)))  # noqa: S311  # nosec B311  # Of a drawing, not of a secret.


def draw(pattern: str, width: float, height: float, rng: Random) -> list[Pane]:
    """The panes of a pattern in a width and height (mm), in the order in which they are worked.

    Beveled ones come first, from the center outwards: a picture that fills in as pieces are done grows like a flower.
    """
    panes = PATTERNS[pattern](width, height, rng)

    def turn(pane: Pane) -> tuple[bool, bool, float]:
        x, y = center(pane.points)
        return not pane.beveled, pane.border, (x - width / 2) ** 2 + (y - height / 2) ** 2

    # What is carved lies on its lite, so it is drawn after it.
    return sorted((p for p in panes if not p.carved), key=turn) + [pane for pane in panes if pane.carved]


def as_json(width: float, height: float, panes: Sequence[Pane]) -> dict[str, Any]:
    return {
        "width": round(width, 1),
        "height": round(height, 1),
        "pieces": [pane.as_json() for pane in panes],
    }
