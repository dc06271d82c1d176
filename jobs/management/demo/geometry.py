"""Polygons in millimeters that tile a rectangle exactly because they come from cutting it. Origin top left, y down."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise

Point = tuple[float, float]
Polygon = list[Point]
NEAR = 1e-6
# The color that each glass of the drawings is shown in.
COLORS = {
    "clear bevel": "#dcebe6",
    "clear plate": "#e6f0ed",
    "clear": "#eef4f2",
    "seedy clear": "#d3dedb",
    "reeded clear": "#d9e6e2",
    "carved": "#b9c4c6",
    "sea green antique": "#8fc1a9",
    "pale moss cathedral": "#b9c98d",
    "amber cathedral": "#e3b05c",
    "cobalt antique": "#4f78b5",
    "pale rose antique": "#e2b3ae",
    "smoke grey": "#a3a9ac",
}


@dataclass(slots=True)
class Pane:
    """A piece of glass of a drawing. `border`: it belongs to the border; `carved`: carved into the lite under it."""

    points: Polygon
    glass: str = "clear"
    beveled: bool = False
    border: bool = False
    carved: bool = False

    def as_json(self) -> dict[str, object]:
        shown: dict[str, object] = {
            "points": [[round(x, 1), round(y, 1)] for x, y in self.points],
            "glass": self.glass,
            "color": COLORS[self.glass],
            "beveled": self.beveled,
        }
        return shown | {"carved": True} if self.carved else shown


def area(polygon: Iterable[Point]) -> float:
    """Square millimeters inside a simple polygon (the shoelace formula), whichever way it runs."""
    points = list(polygon)
    pairs = zip(points, points[1:] + points[:1], strict=True)
    return abs(sum(x * v - u * y for (x, y), (u, v) in pairs)) / 2


def center(polygon: Polygon) -> Point:
    return sum(x for x, _ in polygon) / len(polygon), sum(y for _, y in polygon) / len(polygon)


def rectangle(left: float, top: float, right: float, bottom: float) -> Polygon:
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


def cut(polygon: Polygon, start: Point, stop: Point) -> list[Polygon]:
    """The one or two parts of a convex polygon on either side of the line through two points."""
    (ax, ay), (bx, by) = start, stop
    sides = [(bx - ax) * (y - ay) - (by - ay) * (x - ax) for x, y in polygon]
    size = max(abs(bx - ax) + abs(by - ay), NEAR)
    if all(side <= NEAR * size for side in sides) or all(side >= -NEAR * size for side in sides):
        return [polygon]
    left: Polygon = []
    right: Polygon = []
    for index, (point, side) in enumerate(zip(polygon, sides, strict=True)):
        after = (index + 1) % len(polygon)
        if side >= -NEAR * size:
            left.append(point)
        if side <= NEAR * size:
            right.append(point)
        if side * sides[after] < 0 and min(abs(side), abs(sides[after])) > NEAR * size:
            share = side / (side - sides[after])
            (x, y), (u, v) = point, polygon[after]
            crossing = (x + share * (u - x), y + share * (v - y))
            left.append(crossing)
            right.append(crossing)
    return [part for part in (left, right) if len(part) > 2 and area(part) > 1]


def cut_all(
    polygons: list[Polygon],
    lines: Iterable[tuple[Point, Point]],
    where: Callable[[Point], bool] = lambda _: True,
) -> list[Polygon]:
    """Cut every polygon whose center is `where` by each of the lines, one after another."""
    for start, stop in lines:
        polygons = [
            part
            for polygon in polygons
            for part in (cut(polygon, start, stop) if where(center(polygon)) else [polygon])
        ]
    return polygons


def clip(polygon: Polygon, left: float, top: float, right: float, bottom: float) -> Polygon:
    """The part of a convex polygon inside a rectangle; empty where there is none."""
    for axis, limit, sign in ((0, left, 1), (0, right, -1), (1, top, 1), (1, bottom, -1)):
        kept: Polygon = []
        for index, point in enumerate(polygon):
            after = polygon[(index + 1) % len(polygon)]
            here, there = sign * (point[axis] - limit), sign * (after[axis] - limit)
            if here >= 0:
                kept.append(point)
            if here * there < 0:
                share = here / (here - there)
                kept.append(
                    (point[0] + share * (after[0] - point[0]), point[1] + share * (after[1] - point[1]))
                )
        polygon = kept
        if len(polygon) < 3:
            return []
    return polygon


def steps(start: float, stop: float, count: int) -> list[float]:
    """`count` equal steps from start to stop, both ends included."""
    return [start + (stop - start) * n / count for n in range(count + 1)]


def border(width: float, height: float, band: float, across: int, down: int, glass: str) -> list[Pane]:
    """A frame of beveled strips with a square at each corner, `across` strips on top and `down` on each side."""
    xs, ys = steps(band, width - band, across), steps(band, height - band, down)
    cells = [
        rectangle(x, y, x + band, y + band)
        for x, y in ((0.0, 0.0), (width - band, 0.0), (0.0, height - band), (width - band, height - band))
    ]
    for left, right in pairwise(xs):
        cells += [rectangle(left, 0, right, band), rectangle(left, height - band, right, height)]
    for top, bottom in pairwise(ys):
        cells += [rectangle(0, top, band, bottom), rectangle(width - band, top, width, bottom)]
    return [Pane(cell, glass, beveled=True, border=True) for cell in cells]
