"""What the work on a drawing goes by, counted from its panes: pieces, bevel, came, joints, areas, all of one copy.

Counted simply, for the demo's own law of durations: what the office measures is measured by jobs.estimating.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from .geometry import Pane, Point, area
from .records import Sheet

SHARP_DEGREES = 25.0
NARROW_MM = 9.0
SHADED_MM = 45.0  # What is carved is shaded out so far into the glass around it.
DEPTH_MM = {"Carved mural": 6.0}  # By route; what is not said is 3 mm deep.
BEVEL_MM = 25.4
_CORNER_DEGREES = 20.0
_INNER_DEGREES = 10.0

Quantities = dict[str, float]


class Counting:
    """Counts each drawing once."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, float], tuple[Sequence[Pane], Quantities]] = {}

    def __call__(self, sheet: Sheet) -> Quantities:
        key = id(sheet.panes), sheet.thickness
        if key not in self._known:
            # The panes are kept with it, so that no other drawing can come to have their id.
            self._known[key] = sheet.panes, _count(sheet)
        return self._known[key][1]


def _count(sheet: Sheet) -> Quantities:
    panes = [pane for pane in sheet.panes if not pane.carved]
    corners: set[Point] = set()
    inner = hard = 0
    around = beveled = 0.0
    for pane in panes:
        turns, length = _turns(pane.points)
        corners.update(at for at, turn in turns if abs(turn) > _CORNER_DEGREES)
        inner += sum(turn < -_INNER_DEGREES for _, turn in turns)
        sharp = any(180 - turn < SHARP_DEGREES for _, turn in turns)
        hard += sharp or 2 * area(pane.points) / length < NARROW_MM
        around += length
        beveled += length if pane.beveled else 0.0
    rim = 2 * (sheet.width + sheet.height)
    single = len(panes) == 1
    found: Quantities = {
        "piece": len(panes),
        "hard_piece": hard,
        "inner_corner": inner,
        "came_m": 0 if single else ((around - rim) / 2 + rim) / 1e3,
        "joint": 0 if single else len(corners),
        "glass_m2": sheet.width * sheet.height / 1e6,
    }
    thick = "plate" if sheet.thickness <= 7 else "thick"
    found[f"beveled_m:{thick}"] = beveled / 1e3 * BEVEL_MM / 25
    depth = DEPTH_MM.get(sheet.route, 3.0)
    found[f"carved_m2:{'deep' if depth > 4 else 'medium'}"] = carved_mm2(sheet) / 1e6
    return found


def _turns(points: Sequence[Point]) -> tuple[list[tuple[Point, float]], float]:
    """Each corner on a grid of half a millimeter with the degrees that the line turns there, a corner of the glass
    turning by more than nothing; and the length all around."""
    found, length, twice = [], 0.0, 0.0
    for n, (x, y) in enumerate(points):
        (px, py), (qx, qy) = points[n - 1], points[(n + 1) % len(points)]
        ax, ay, bx, by = x - px, y - py, qx - x, qy - y
        turn = math.degrees(math.atan2(ax * by - ay * bx, ax * bx + ay * by))
        found.append(((round(2 * x) / 2, round(2 * y) / 2), turn))
        length += math.hypot(bx, by)
        twice += x * qy - qx * y
    return (found if twice > 0 else [(at, -turn) for at, turn in found]), length


def carved_mm2(sheet: Sheet) -> float:
    """The area that is carved, with what is shaded out around it."""
    carved = [pane.points for pane in sheet.panes if pane.carved]
    if not carved:
        return 0.0
    import shapely

    shapes = [shapely.make_valid(shapely.polygons(points)) for points in carved]
    field = shapely.buffer(shapely.union_all(shapes), SHADED_MM)
    return float(shapely.area(shapely.intersection(field, shapely.box(0, 0, sheet.width, sheet.height))))
