"""Window patterns with curves, flattened to polygons; of the demo studio's own invention.

Neighbors take the points of their common edge from the same samples, so the pieces still tile without gaps.
"""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from random import Random

from .geometry import Pane, Point, Polygon, border, rectangle, steps
from .windows import COLORS, band_of

Radius = Callable[[float], float]
Curve = Callable[[float], float]
GREENS = ("sea green antique", "pale moss cathedral", "seedy clear")


class Wheel:
    """Cells between rings about a center. Angles are counted in `parts` of a turn, clockwise from the right."""

    def __init__(self, middle: Point, radii: tuple[float, float], parts: int) -> None:
        self.middle, self.radii, self.parts = middle, radii, parts

    def at(self, part: int, radius: float) -> Point:
        angle = 2 * math.pi * part / self.parts
        return (
            self.middle[0] + self.radii[0] * radius * math.cos(angle),
            self.middle[1] + self.radii[1] * radius * math.sin(angle),
        )

    def arc(self, first: int, last: int, radius: Radius) -> Polygon:
        step = 1 if last >= first else -1
        return [
            self.at(part, radius(2 * math.pi * part / self.parts)) for part in range(first, last + step, step)
        ]

    def cell(self, first: int, last: int, inner: Radius | None, outer: Radius) -> Polygon:
        near = [self.middle] if inner is None else self.arc(last, first, inner)
        return self.arc(first, last, outer) + near

    def ring(self, rays: Sequence[int], inner: Radius | None, outer: Radius) -> list[Polygon]:
        return [self.cell(first, last, inner, outer) for first, last in pairwise(rays)]


def _round(radius: float) -> Radius:
    return lambda angle: radius


def fan(width: float, height: float, rng: Random) -> list[Pane]:
    """A half round light over a door: petals about a small sun, a beveled rim, a sill under it."""
    sill = band_of(width, height)
    wheel = Wheel((width / 2, height - sill), (width / 2, height - sill), 192)
    tints = rng.sample(COLORS, 2)
    petals = 7 if width / height > 1.7 else 6
    rays = [round(96 + 96 * n / petals) for n in range(petals + 1)]

    def petal(angle: float) -> float:
        return 0.6 + 0.16 * abs(math.sin(petals * (angle - math.pi)))

    panes = [Pane(cell, tints[0]) for cell in wheel.ring([96, 192], None, _round(0.2))]
    panes += [Pane(cell, "clear bevel", beveled=True) for cell in wheel.ring(rays, _round(0.2), petal)]
    panes += [Pane(cell, tints[1]) for cell in wheel.ring(rays, petal, _round(0.86))]
    rim = [96 + 8 * n for n in range(13)]
    panes += [
        Pane(cell, "clear bevel", beveled=True, border=True)
        for cell in wheel.ring(rim, _round(0.86), _round(1))
    ]
    panes.append(Pane([(0, 0), *wheel.arc(144, 96, _round(1))], "seedy clear"))
    panes.append(Pane([(width, 0), *wheel.arc(192, 144, _round(1))], "seedy clear"))
    panes += [
        Pane(rectangle(left, height - sill, right, height), "clear bevel", beveled=True, border=True)
        for left, right in pairwise(steps(0, width, 4))
    ]
    return panes


def rose(width: float, height: float, rng: Random) -> list[Pane]:
    """A flower of eight beveled petals in a beveled ring, in a beveled border."""
    band = band_of(width, height)
    panes = border(width, height, band, 3, 3, "clear bevel")
    left, top, right, bottom = band, band, width - band, height - band
    reach = min(right - left, bottom - top) / 2 * 0.93
    wheel = Wheel((width / 2, height / 2), (reach, reach), 192)
    tints = rng.sample(COLORS, 3)
    eighths, sixteenths = [24 * n for n in range(9)], [12 * n for n in range(17)]

    def petal(angle: float) -> float:
        return 0.44 + 0.26 * math.sqrt(abs(math.sin(4 * angle)))

    panes.append(Pane(wheel.arc(0, 191, _round(0.17)), tints[0]))
    panes += [Pane(cell, "clear bevel", beveled=True) for cell in wheel.ring(eighths, _round(0.17), petal)]
    between = [24 * n + 12 for n in range(-1, 8)]
    panes += [Pane(cell, tints[1 + n % 2]) for n, cell in enumerate(wheel.ring(between, petal, _round(0.8)))]
    panes += [
        Pane(cell, "clear bevel", beveled=True) for cell in wheel.ring(sixteenths, _round(0.8), _round(1))
    ]
    middle_x, middle_y = width / 2, height / 2
    corners = {
        0: [(right, middle_y), (right, bottom), (middle_x, bottom)],
        48: [(middle_x, bottom), (left, bottom), (left, middle_y)],
        96: [(left, middle_y), (left, top), (middle_x, top)],
        144: [(middle_x, top), (right, top), (right, middle_y)],
    }
    for first, outer in corners.items():
        panes.append(Pane(outer + wheel.arc(first + 48, first, _round(1)), "seedy clear"))
    return panes


def _strip(low: Curve, high: Curve, first: float, last: float, samples: list[float]) -> list[Point]:
    """Between two curves (as along, across), from first to last, over the samples that lie between."""
    along = [first, *(s for s in samples if first + 1e-6 < s < last - 1e-6), last]
    return [(s, low(s)) for s in along] + [(s, high(s)) for s in reversed(along)]


def river(width: float, height: float, rng: Random) -> list[Pane]:
    """Hills under a wide sky and a river in bends that grow toward the foot."""
    samples = steps(0, width, 48)
    phase, tints = rng.uniform(0, 6), ("cobalt antique", "sea green antique", "smoke grey")
    levels = [0.0, 0.13, 0.34, 0.43, 0.52, 0.62, 0.73, 0.86, 1.0]

    def curve(number: int) -> Curve:
        if number in (0, len(levels) - 1):
            return lambda x: levels[number] * height
        swing = height * (0.012 + 0.0042 * number) * (1 if number != 1 else 0.4)
        turns = 1.1 + 0.22 * number
        return lambda x: (
            levels[number] * height + swing * math.sin(turns * math.pi * x / width + phase + 1.15 * number)
        )

    panes: list[Pane] = []
    for number in range(len(levels) - 1):
        count = 2 + (number * 7 + 3) % 3
        shift = 0 if number in (0,) else (number % 2 - 0.5) * 3
        cuts = [0, *(round(48 * n / count + shift) for n in range(1, count)), 48]
        for part, (first, last) in enumerate(pairwise(cuts)):
            points = _strip(curve(number), curve(number + 1), samples[first], samples[last], samples)
            beveled = number in (0, 1) and width > 0
            glass = (
                "clear bevel" if beveled else tints[(number + part) % 3] if number > 3 else GREENS[part % 3]
            )
            panes.append(Pane(points, glass, beveled=beveled, border=number == 0))
    return panes


def leaves(width: float, height: float, rng: Random) -> list[Pane]:
    """Rows of hanging leaves, each of two halves with the vein between, every other row half a leaf lower."""
    columns = max(round(width / 170), 3)
    pitch = width / columns
    count = max(round(height / (pitch * 2.3)), 2)
    samples = steps(0, height, count * 24)
    tint = rng.choice(("amber cathedral", "pale rose antique"))

    def edge(number: int) -> Curve:
        if number in (0, columns):
            return lambda y: number * pitch
        turn = 1 if number % 2 else -1
        return lambda y: number * pitch + turn * pitch * 0.36 * math.cos(2 * math.pi * count * y / height)

    def vein(column: int) -> Curve:
        return lambda y: (column + 0.5) * pitch

    panes: list[Pane] = []
    for column in range(columns):
        offset = 0.0 if column % 2 else 0.5
        cuts = sorted(
            {0.0, *((n + offset) * height / count for n in range(count + 1) if n + offset < count), height}
        )
        for row, (first, last) in enumerate(pairwise(cuts)):
            for side, (low, high) in enumerate(
                ((edge(column), vein(column)), (vein(column), edge(column + 1)))
            ):
                points = [(x, y) for y, x in _strip(low, high, first, last, samples)]
                whole = last - first > height / count * 0.8
                glass = "clear bevel" if side and whole else GREENS[(row + column) % 2] if whole else tint
                panes.append(Pane(points, glass, beveled=side == 1 and whole))
    return panes


def sunrise(width: float, height: float, rng: Random) -> list[Pane]:
    """A low sun with beveled rays that reach the edge, over a field in long furrows."""
    horizon = height * rng.choice((0.62, 0.68))
    middle = (width * rng.choice((0.36, 0.5, 0.64)), horizon)
    sun = min(width, horizon) * 0.2
    wheel = Wheel(middle, (sun, sun), 192)
    count = 11
    rays = [96 + round(96 * n / count) for n in range(count + 1)]
    panes = [Pane([*wheel.arc(96, 192, _round(1))], "amber cathedral")]
    panes += [
        Pane(cell, "clear bevel" if n % 2 else "pale rose antique", beveled=n % 2 == 1)
        for n, cell in enumerate(wheel.ring([96, 112, 128, 144, 160, 176, 192], _round(1), _round(1.55)))
    ]
    for n, (first, last) in enumerate(pairwise(rays)):
        outer = _to_edge(middle, first, last, width)
        near = wheel.arc(last, first, _round(1.55))
        panes.append(Pane(outer + near, "clear bevel" if n % 2 == 0 else "seedy clear", beveled=n % 2 == 0))
    samples = steps(0, width, 48)
    levels = [0.0, 0.16, 0.38, 0.66, 1.0]
    for number, (low, high) in enumerate(pairwise(levels)):
        top, foot = _furrow(low, horizon, height, width), _furrow(high, horizon, height, width)
        count = 2 + number % 2
        cuts = [48 * n // count for n in range(count + 1)]
        for part, (first, last) in enumerate(pairwise(cuts)):
            points = _strip(top, foot, samples[first], samples[last], samples)
            panes.append(Pane(points, GREENS[(number + part) % 3]))
    return panes


def _furrow(level: float, horizon: float, height: float, width: float) -> Curve:
    rise = 0.0 if level in (0.0, 1.0) else (height - horizon) * 0.08
    return lambda x: (
        horizon + level * (height - horizon) + rise * math.sin(2 * math.pi * x / width + 9 * level)
    )


def _to_edge(middle: Point, first: int, last: int, width: float) -> Polygon:
    """The edge of the sky (left, top, right) between two rays of 192 a turn, with the corners between them."""

    def hit(part: int) -> Point:
        x, y = math.cos(2 * math.pi * part / 192), math.sin(2 * math.pi * part / 192)
        ways = [middle[1] / -y] if y < -1e-9 else []
        if x > 1e-9:
            ways.append((width - middle[0]) / x)
        elif x < -1e-9:
            ways.append(middle[0] / -x)
        far = min(ways)
        return middle[0] + far * x, middle[1] + far * y

    start, stop = hit(first), hit(last)
    corners = []
    if start[0] < 1e-6 < start[1] and stop[0] > 1e-6:
        corners.append((0.0, 0.0))
    if stop[0] > width - 1e-6 and stop[1] > 1e-6 and start[0] < width - 1e-6:
        corners.append((width, 0.0))
    return [start, *corners, stop]
