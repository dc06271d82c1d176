"""The lines of a drawing in millimeters, whatever file they came from. y grows downwards, as on a screen.

Curves are flattened, and each flattened segment remembers the curve it came from, so that a curved edge of a piece
is still known to be one. Importing this module loads numpy only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_BYTES = 10_000_000
MOST_SEGMENTS = 100_000
MOST_DEPTH = 60
FARTHEST_MM = 200_000.0
FLATTENING_MM = 0.03  # The farthest that a flattened curve is from the curve itself.


class DrawingRefused(ValueError):
    """The file cannot be measured; its text is a sentence for the person."""


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """One line of the drawing. points: n x 2 mm; curve: n - 1 numbers, 0 for a straight segment, else its curve.

    A closed path ends where it begins. `fill` is the color it is filled with, or "" for none.
    """

    points: Floats
    curve: Ints
    closed: bool
    fill: str


@dataclass(frozen=True, slots=True, eq=False)
class Linework:
    """All lines of a drawing, in the order they are drawn. `width_mm` and `height_mm` are those of its page.

    Without `units_known` the millimeters are a guess that the person has to confirm: see `scaled`.
    """

    paths: tuple[Path, ...]
    units_known: bool
    width_mm: float | None = None
    height_mm: float | None = None
    left_out: tuple[str, ...] = ()

    @property
    def segments(self) -> int:
        return sum(len(path.curve) for path in self.paths)

    def scaled(self, factor: float) -> Linework:
        """The drawing with the person's word on its scale: every length times `factor`; its units are then known."""
        if not (math.isfinite(factor) and 1e-6 < factor < 1e6):
            raise DrawingRefused("That is no scale; say how wide the panel is.")
        paths = []
        for path in self.paths:
            points = path.points * factor
            if np.abs(points).max(initial=0.0) > FARTHEST_MM:
                raise DrawingRefused("At that scale the drawing is larger than a house; check the units.")
            paths.append(replace(path, points=points))
        return replace(
            self,
            paths=tuple(paths),
            units_known=True,
            width_mm=None if self.width_mm is None else self.width_mm * factor,
            height_mm=None if self.height_mm is None else self.height_mm * factor,
        )


class Drafting:
    """Collects paths while a file is read and refuses as soon as there are too many or they lie nowhere."""

    def __init__(self) -> None:
        self.paths: list[Path] = []
        self._segments = 0
        self._curves = 0

    def next_curve(self) -> int:
        self._curves += 1
        return self._curves

    def room(self, segments: int) -> None:
        """Counts segments that are about to be made; DrawingRefused when they would be too many."""
        if self._segments + segments > MOST_SEGMENTS:
            raise DrawingRefused(
                f"The drawing has more than {MOST_SEGMENTS:,} lines; draw the lead lines alone, without shading."
            )

    def add(self, points: Floats, curve: Ints, *, closed: bool, fill: str) -> None:
        """Keeps a path. Repeated points go; what is left of no length is dropped."""
        self.room(len(curve))
        if not np.isfinite(points).all() or np.abs(points).max(initial=0.0) > FARTHEST_MM:
            raise DrawingRefused(
                "The drawing has a point that is nowhere, or farther away than a house is long."
            )
        if closed and not np.array_equal(points[0], points[-1]):
            points, curve = np.vstack([points, points[:1]]), np.append(curve, 0)
        moved = np.abs(np.diff(points, axis=0)).max(axis=1, initial=0.0) > 1e-9
        if not moved.any():
            return
        points, curve = points[np.concatenate([[True], moved])], curve[moved]
        if closed:
            points[-1] = points[0]
        self._segments += len(curve)
        self.paths.append(Path(points, curve, closed and len(curve) > 1, fill if closed else ""))


class Pen:
    """Draws one path of lines and curves, given in millimeters as complex numbers."""

    def __init__(self, drafting: Drafting, fill: str, tolerance: float) -> None:
        self._drafting, self._fill, self._tolerance = drafting, fill, tolerance
        self._points: list[complex] = []
        self._curve: list[int] = []

    def move(self, to: complex) -> None:
        self.finish(closed=False)
        self._points = [to]

    def line(self, to: complex) -> None:
        self._drafting.room(len(self._curve) + 1)
        self._points.append(to)
        self._curve.append(0)

    def bezier(self, *controls: complex) -> None:
        """A quadratic or cubic curve from where the pen is; the last control is its end."""
        start = self._points[-1]
        nodes = np.array([start, *controls])
        if not np.isfinite(nodes).all():
            raise DrawingRefused("The drawing has a point that is nowhere.")
        degree = len(controls)
        bend = degree * (degree - 1) * np.abs(np.diff(nodes, 2)).max()
        steps = max(1, math.ceil(math.sqrt(min(bend / (8 * self._tolerance), 1e12))))
        if _is_straight(nodes, self._tolerance):
            self.line(controls[-1])
            return
        t = np.linspace(0, 1, self._steps(steps) + 1)[1:]
        weights = [math.comb(degree, i) * t**i * (1 - t) ** (degree - i) for i in range(degree + 1)]
        self._curved(sum(w * node for w, node in zip(weights, nodes, strict=True)), controls[-1])

    def ellipse(self, center: complex, u: complex, v: complex, start: float, sweep: float) -> None:
        """An arc center + u cos t + v sin t, t from start through sweep; the pen is at its beginning."""
        radius = math.hypot(abs(u), abs(v))
        if not all(math.isfinite(x) for x in (abs(center), start, sweep)) or not radius < 2 * FARTHEST_MM:
            raise DrawingRefused("The drawing has a curve that is nowhere, or larger than a house.")
        if radius <= self._tolerance:
            self.line(center + u * math.cos(start + sweep) + v * math.sin(start + sweep))
            return
        step = 2 * math.acos(max(0.0, 1 - self._tolerance / radius))
        t = start + sweep * np.linspace(0, 1, self._steps(math.ceil(abs(sweep) / step)) + 1)[1:]
        points = center + u * np.cos(t) + v * np.sin(t)
        self._curved(points, complex(points[-1]))

    def _steps(self, steps: int) -> int:
        self._drafting.room(len(self._curve) + steps)
        return max(1, steps)

    def _curved(self, points: NDArray[np.complex128], end: complex) -> None:
        number = self._drafting.next_curve()
        self._points.extend(points[:-1].tolist())
        self._points.append(end)
        self._curve.extend([number] * len(points))

    def finish(self, *, closed: bool) -> None:
        """Lifts the pen; a path that comes back to its beginning is closed, said or not."""
        if self._curve:
            z = np.array(self._points)
            back = len(self._curve) > 1 and abs(z[0] - z[-1]) < 1e-6
            if back:
                z[-1] = z[0]
            points = np.column_stack([z.real, z.imag])
            self._drafting.add(
                points, np.array(self._curve, np.int64), closed=bool(closed or back), fill=self._fill
            )
        self._points, self._curve = [], []


def _is_straight(nodes: NDArray[np.complex128], tolerance: float) -> bool:
    """Whether the control points lie on the chord between the ends, so that the curve is a line."""
    chord = nodes[-1] - nodes[0]
    length = abs(chord)
    if length < 1e-9:
        return bool(np.abs(nodes - nodes[0]).max() <= tolerance)
    along = (nodes - nodes[0]) * chord.conjugate() / length
    inside = along.real.min() >= -tolerance and along.real.max() <= length + tolerance
    return bool(inside and np.abs(along.imag).max() <= tolerance)
