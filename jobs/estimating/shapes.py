"""One piece of glass: its size, the size it is cut to, its edges and what makes it hard to cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from jobs.estimating.linework import Floats, Ints

# What makes a piece hard to cut. Common practice, no published source; the caller may set them otherwise.
NARROW_MM = 12.0
SHARP_DEGREES = 25.0
NOTCHED_SHARE = 0.75  # The share of its convex hull that a piece fills.
_CORNER_MM = 0.03


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Millimeters; outline n x 2, without its first point again. The cut size is inset by half the heart.

    `hard` says what makes it hard to cut, of: narrow, notched, sharp, pierced, vanishing (nothing is left of it).
    """

    number: int
    fill: str
    outline: Floats
    holes: tuple[Floats, ...]
    x: float
    y: float
    area_mm2: float
    perimeter_mm: float
    width_mm: float
    height_mm: float
    cut_area_mm2: float
    cut_perimeter_mm: float
    cut_width_mm: float
    cut_height_mm: float
    straight_edges: int
    curved_edges: int
    inner_corners: int
    hard: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """What the sides of each ring are: counted between corners, a smooth run of curves being one edge."""

    straight: Ints
    curved: Ints
    inner_corners: Ints
    sharpest: Floats  # The smallest angle of glass at a corner, degrees.


def edges_of(points: Floats, curve: Ints, ring: Ints, hole: NDArray[np.bool_]) -> Edges:
    """The edges of many rings at once, each without its first point again.

    `curve` is that of the side after each point, `ring` the ring of each point, counted from 0; `hole` says of each
    ring whether the glass lies outside it.
    """
    count = np.bincount(ring)
    first = np.cumsum(count) - count
    following = np.arange(1, len(points) + 1)
    following[first + count - 1] = first
    previous = np.empty_like(following)
    previous[following] = np.arange(len(points))
    after = points[following] - points
    before, was = after[previous], curve[previous]
    turn = np.degrees(np.arctan2(_cross(before, after), (before * after).sum(axis=1)))
    # How far the line leaves its course: the noise of the grid turns a short bit by a wide angle.
    lengths = np.hypot(*after.T)
    off = np.minimum(lengths, lengths[previous]) * np.sin(np.radians(np.minimum(np.abs(turn), 90.0)))
    limit = np.where((curve == 0) & (was == 0), 2.0, 10.0)
    bend = (np.abs(turn) > limit) & (off > _CORNER_MM) & ~((curve != 0) & (curve == was))
    breaks = bend | ((curve == 0) != (was == 0))
    clockwise = np.bincount(ring, _cross(points, points[following]), len(count)) < 0
    corner = np.where(clockwise != hole, -1.0, 1.0)[ring] * turn
    curved = np.bincount(ring, breaks & (curve != 0), len(count)).astype(np.int64)
    straight = np.bincount(ring, breaks, len(count)).astype(np.int64) - curved
    whole = straight + curved == 0
    curved[whole], straight[whole] = curve[first][whole] != 0, curve[first][whole] == 0
    sharpest = np.full(len(count), 180.0)
    np.minimum.at(sharpest, ring[bend], 180.0 - np.maximum(corner[bend], 0.0))
    inner = np.bincount(ring, bend & (corner < -10.0), len(count)).astype(np.int64)
    return Edges(straight, curved, inner, sharpest)


def _cross(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def hardships(polygons: NDArray[Any], sharpest: Floats, narrow_mm: float) -> list[tuple[str, ...]]:
    """What makes each of these pieces hard to cut."""
    import shapely

    worn = shapely.buffer(polygons, -narrow_mm / 2, join_style="mitre")
    parts = shapely.get_num_geometries(worn)
    narrow = shapely.is_empty(worn) | (parts > 1)
    filled = shapely.area(polygons) / np.maximum(shapely.area(shapely.convex_hull(polygons)), 1e-9)
    pierced = shapely.get_num_interior_rings(polygons) > 0
    marks = {
        "narrow": narrow,
        "notched": (filled < NOTCHED_SHARE) & ~pierced,
        "sharp": sharpest < SHARP_DEGREES,
        "pierced": pierced,
    }
    return [tuple(word for word, which in marks.items() if which[i]) for i in range(len(polygons))]


def reading_order(bounds: Floats) -> Ints:
    """The order in which pieces are numbered: rows from the top, each from the left. bounds: n x 4 mm."""
    middle_x, middle_y = (bounds[:, 0] + bounds[:, 2]) / 2, (bounds[:, 1] + bounds[:, 3]) / 2
    band = 0.5 * float(np.median(bounds[:, 3] - bounds[:, 1]))
    row = np.zeros(len(bounds), np.int64)
    down = np.lexsort([middle_x, np.round(middle_y, 3)])
    number, top = 0, -np.inf
    for i in down:
        # The tenth of a millimeter keeps the rounding of the grid from deciding a tie.
        if middle_y[i] > top + band + 0.1:
            number, top = number + 1, middle_y[i]
        row[i] = number
    # Of pieces with one middle, such as a pane and the disc in it, the larger comes first.
    height, across = bounds[:, 3] - bounds[:, 1], np.rint(middle_x - bounds[:, 0].min())
    return np.lexsort([-height, across, row])
