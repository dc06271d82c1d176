"""Carvings over one lite: reeds, cattails, water, a moon and a heron. Outlines in millimeters, invented."""

import math
from random import Random

from .geometry import Pane, Point, Polygon, rectangle


def smooth(points: list[Point], parts: int = 7, *, closed: bool = False) -> list[Point]:
    """A Catmull-Rom curve through the points, flattened to `parts` short lines between each two."""
    ends = [points[-1], *points, points[0], points[1]] if closed else [points[0], *points, points[-1]]
    curve: list[Point] = []
    for n in range(len(ends) - 3):
        a, b, c, d = ends[n : n + 4]
        for part in range(parts):
            t = part / parts
            curve.append((_between(a[0], b[0], c[0], d[0], t), _between(a[1], b[1], c[1], d[1], t)))
    return curve if closed else [*curve, points[-1]]


def _between(a: float, b: float, c: float, d: float, t: float) -> float:
    return b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)))


def ribbon(points: list[Point], widths: list[float]) -> Polygon:
    """A stroke along a smooth line, as wide at each given point as said."""
    line = smooth(points)
    left: Polygon = []
    right: Polygon = []
    for n, (x, y) in enumerate(line):
        before, after = line[max(n - 1, 0)], line[min(n + 1, len(line) - 1)]
        dx, dy = after[0] - before[0], after[1] - before[1]
        size = math.hypot(dx, dy) or 1
        share = n / (len(line) - 1) * (len(widths) - 1)
        low = min(int(share), len(widths) - 2)
        half = (widths[low] + (share - low) * (widths[low + 1] - widths[low])) / 2
        left.append((x - dy / size * half, y + dx / size * half))
        right.append((x + dy / size * half, y - dx / size * half))
    return left + right[::-1]


def oval(x: float, y: float, across: float, down: float, lean: float = 0.0) -> Polygon:
    points = []
    for n in range(32):
        u, v = across * math.cos(math.pi * n / 16), down * math.sin(math.pi * n / 16)
        points.append(
            (x + u * math.cos(lean) - v * math.sin(lean), y + u * math.sin(lean) + v * math.cos(lean))
        )
    return points


def _lite(width: float, height: float) -> list[Pane]:
    return [Pane(rectangle(0, 0, width, height), "clear plate")]


def _carved(shapes: list[Polygon], width: float, height: float) -> list[Pane]:
    edge = 0.02 * min(width, height)
    kept = [
        [(min(max(x, edge), width - edge), min(max(y, edge), height - edge)) for x, y in shape]
        for shape in shapes
    ]
    return [Pane(shape, "carved", carved=True) for shape in kept]


def _reeds(width: float, height: float, xs: list[float], rng: Random) -> list[Polygon]:
    """Blades that rise from the water and bend, and a cattail beside every other one."""
    shapes: list[Polygon] = []
    for n, share in enumerate(xs):
        x, foot = share * width, height * 0.97
        lean = rng.uniform(-0.16, 0.16) * width
        top = height * rng.uniform(0.2, 0.5)
        middle = (x + lean * 0.25, (foot + top) / 2)
        wide = width * 0.022
        shapes.append(ribbon([(x, foot), middle, (x + lean, top)], [wide * 0.7, wide, 1.0]))
        if n % 2 == 0:
            stem, head = x + width * 0.03, top + height * 0.04
            shapes.append(
                ribbon(
                    [(stem, foot), (stem + lean * 0.1, (foot + head) / 2), (stem + lean * 0.2, head)],
                    [5, 4, 4],
                )
            )
            shapes.append(
                oval(
                    stem + lean * 0.21,
                    head - height * 0.05,
                    width * 0.018,
                    height * 0.05,
                    lean / height * 0.3,
                )
            )
        else:
            bend = (x + lean * 1.7, top + height * 0.16)
            shapes.append(
                ribbon(
                    [(x, foot), (x + lean * 0.5, (foot + top) / 2), (x + lean, top + height * 0.05), bend],
                    [wide, wide, wide * 0.8, 1.0],
                )
            )
    return shapes


def _water(width: float, height: float, rng: Random) -> list[Polygon]:
    shapes: list[Polygon] = []
    for n in range(6):
        y = height * (0.85 + 0.022 * n)
        x = width * rng.uniform(0.2, 0.8)
        long = width * rng.uniform(0.14, 0.3)
        shapes.append(
            ribbon([(x - long, y), (x, y + height * 0.006), (x + long, y)], [0.5, height * 0.008, 0.5])
        )
    return shapes


def reed_screen(width: float, height: float, rng: Random) -> list[Pane]:
    """Reeds and cattails over still water."""
    xs = [0.08 + 0.84 * n / 8 + rng.uniform(-0.03, 0.03) for n in range(9)]
    return _lite(width, height) + _carved(
        _reeds(width, height, xs, rng) + _water(width, height, rng), width, height
    )


def heron(width: float, height: float, rng: Random) -> list[Pane]:
    """A heron that stands among reeds under the moon."""
    size = min(width * 1.25, height * 0.72)
    foot = (width * 0.52, height * 0.92)

    def at(points: list[Point]) -> list[Point]:
        return [(foot[0] + x * size, foot[1] - y * size) for x, y in points]

    def stroke(points: list[Point], widths: list[float]) -> Polygon:
        return ribbon(at(points), [w * size for w in widths])

    body = [
        (-0.1, 0.5),
        (-0.07, 0.6),
        (0.06, 0.6),
        (0.22, 0.5),
        (0.42, 0.33),
        (0.26, 0.37),
        (0.1, 0.38),
        (-0.04, 0.41),
    ]
    shapes = [
        oval(width * 0.7, height * 0.16, width * 0.13, width * 0.13),
        smooth(at(body), closed=True),
        stroke(
            [
                (-0.04, 0.53),
                (-0.13, 0.6),
                (-0.14, 0.69),
                (-0.05, 0.76),
                (0.0, 0.84),
                (-0.05, 0.91),
                (-0.12, 0.92),
            ],
            [0.09, 0.07, 0.05, 0.042, 0.036, 0.036, 0.04],
        ),
        oval(*at([(-0.13, 0.915)])[0], 0.04 * size, 0.026 * size, -0.1),
        at([(-0.16, 0.93), (-0.36, 0.895), (-0.16, 0.9)]),
        stroke([(-0.1, 0.935), (0.0, 0.955), (0.1, 0.93)], [0.02, 0.012, 0.001]),
        stroke([(0.02, 0.4), (0.0, 0.2), (0.03, 0.0)], [0.022, 0.014, 0.012]),
        stroke([(0.1, 0.4), (0.13, 0.2), (0.09, 0.01)], [0.022, 0.014, 0.012]),
        stroke([(0.03, 0.0), (-0.05, -0.008)], [0.012, 0.006]),
        stroke([(0.09, 0.01), (0.01, 0.004)], [0.012, 0.006]),
    ]
    for n in range(4):
        lift = 0.035 * n
        shapes.append(
            stroke(
                [(-0.03, 0.57 - lift), (0.12, 0.54 - lift), (0.36 - 0.03 * n, 0.4 - lift * 0.7)],
                [0.012, 0.034, 0.002],
            )
        )
    reeds = _reeds(width, height, [0.08, 0.17, 0.86, 0.94], rng)
    return _lite(width, height) + _carved(reeds + shapes + _water(width, height, rng), width, height)
