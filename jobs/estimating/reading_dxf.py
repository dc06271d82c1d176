"""Reads a DXF drawing into lines, with `ezdxf`, in the units that its header says.

Lines, polylines with bulges, arcs, circles, ellipses, splines and inserted blocks are read; y is turned downwards.
A closed line's layer stands for its color, unless it is the layer "0" that everything lies on by default; a hatch
is a filled shape, by its layer or, on the layer "0", by its own color.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np

from jobs.estimating.linework import (
    FLATTENING_MM,
    MOST_BYTES,
    MOST_SEGMENTS,
    Drafting,
    DrawingRefused,
    Floats,
    Linework,
)

# $INSUNITS of the DXF reference: inches, feet, millimeters, centimeters, meters.
MM_PER_UNIT = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}
MOST_VISITS = 200_000
MOST_LINES = 800_000  # Of the file; reading time goes with them.
DEEPEST_BLOCK = 12
MOST_BOUNDARIES = 5_000  # Of one hatch.
_CURVES = {"ARC", "CIRCLE", "ELLIPSE", "SPLINE"}
_LEFT_OUT = {
    "TEXT": "text",
    "MTEXT": "text",
    "IMAGE": "pictures",
    "DIMENSION": "dimensions",
}


def read_dxf(data: bytes, *, tolerance: float = FLATTENING_MM) -> Linework:
    """The lines of a DXF file in millimeters; curves flattened to within `tolerance` mm.

    A file that does not say its units is read as millimeters and `units_known` is False. DrawingRefused says in a
    sentence why a file is not read; time and memory are bounded whatever the bytes are.
    """
    if len(data) > MOST_BYTES:
        raise DrawingRefused(
            f"The file is larger than {MOST_BYTES // 1_000_000} MB; export the lead lines alone."
        )
    if data.count(b"\n") + data.count(b"\r") > 2 * MOST_LINES or data.count(b"\n") > MOST_LINES:
        raise DrawingRefused("The drawing has too many parts; save the lead lines alone.")
    if b"SECTION" not in data[:100_000]:
        raise DrawingRefused("That is not a DXF drawing.")
    document = _document(data)
    unit = MM_PER_UNIT.get(int(document.header.get("$INSUNITS", 0) or 0))
    reader = _Reader(unit or 1.0, tolerance)
    try:
        reader.walk(document.modelspace(), None, 0)
    except DrawingRefused:
        raise
    except Exception as error:
        # ezdxf raises whatever its data led it to; a damaged file is refused, not reported as our fault.
        raise DrawingRefused("The DXF drawing is damaged; save it again as DXF.") from error
    if not reader.drafting.paths:
        raise DrawingRefused("There is no line in the drawing.")
    return Linework(tuple(reader.drafting.paths), unit is not None, left_out=tuple(sorted(reader.left_out)))


def _document(data: bytes) -> Any:
    # Loaded here because nothing but a drawing needs it.
    from ezdxf import filemanagement, recover

    try:
        if data.startswith(b"AutoCAD Binary DXF"):
            raise DrawingRefused("The file is binary DXF; save it as text DXF.")
        try:
            return filemanagement.read(io.StringIO(data.decode("utf-8")))
        except UnicodeDecodeError:
            document, _ = recover.read(io.BytesIO(data), errors="ignore")
            return document
    except DrawingRefused:
        raise
    except Exception as error:
        raise DrawingRefused("That is not a DXF drawing, or it is damaged.") from error


class _Reader:
    def __init__(self, unit: float, tolerance: float) -> None:
        self.drafting, self.left_out = Drafting(), set[str]()
        self._unit, self._sagitta, self._visits = unit, tolerance / unit, 0

    def walk(self, entities: Iterable[Any], matrix: Any, depth: int) -> None:
        if depth > DEEPEST_BLOCK:
            raise DrawingRefused(
                "The drawing's blocks lie too deep in one another; explode them and save it again."
            )
        for entity in entities:
            self._visits += 1
            if self._visits > MOST_VISITS:
                raise DrawingRefused(
                    "The drawing repeats its blocks too often; explode them and save it again."
                )
            kind = entity.dxftype()
            if kind == "INSERT":
                self._insert(entity, matrix, depth)
            elif kind in ("HATCH", "MPOLYGON"):
                self._hatch(entity, matrix)
            elif kind in _LEFT_OUT:
                self.left_out.add(_LEFT_OUT[kind])
            else:
                self._line(entity, kind, matrix)

    def _insert(self, insert: Any, matrix: Any, depth: int) -> None:
        block = insert.block()
        if block is None:
            self.left_out.add("blocks that lie elsewhere")
            return
        if insert.mcount > MOST_VISITS:
            raise DrawingRefused("The drawing repeats its blocks too often; explode them and save it again.")
        for one in insert.multi_insert() if insert.mcount > 1 else [insert]:
            placed = one.matrix44()
            self.walk(block, placed if matrix is None else placed * matrix, depth + 1)

    def _hatch(self, entity: Any, matrix: Any) -> None:
        """Each boundary of a hatch as a filled shape of its own."""
        from ezdxf import path

        if len(entity.paths) > MOST_BOUNDARIES:
            raise DrawingRefused(
                "A hatch of the drawing has too many boundaries; explode it and save it again."
            )
        layer, color = str(entity.dxf.layer), int(entity.dxf.color)
        fill = layer if layer != "0" else f"color {color}" if 0 < color < 256 else "hatched"
        for boundary in path.from_hatch(entity):
            self._add(self._boundary(boundary), True, fill, matrix)

    def _boundary(self, boundary: Any) -> Iterator[tuple[Any, bool]]:
        """Its runs; curves that go on from one another are one."""
        from ezdxf.math import Bezier3P, Bezier4P
        from ezdxf.path import Command

        curved: list[Any] = []
        at = boundary.start
        for step in boundary.commands():
            if step.type == Command.LINE_TO:
                if curved:
                    yield curved, True
                    curved = []
                yield [at, step.end], False
            else:
                given = [at, step.ctrl, step.end] if step.type == Command.CURVE3_TO else []
                bend = Bezier3P(given) if given else Bezier4P([at, step.ctrl1, step.ctrl2, step.end])
                curved += list(bend.flattening(self._sagitta))[1 if curved else 0 :]
                self.drafting.room(len(curved))
            at = step.end
        if curved:
            yield curved, True

    def _line(self, entity: Any, kind: str, matrix: Any) -> None:
        if kind == "LINE":
            runs: Iterator[tuple[Any, bool]] = iter([([entity.dxf.start, entity.dxf.end], False)])
            closed = False
        elif kind in _CURVES:
            runs, closed = iter([(self._flat(entity, kind), True)]), kind == "CIRCLE"
        elif kind in ("LWPOLYLINE", "POLYLINE"):
            if kind == "POLYLINE" and not (entity.is_2d_polyline or entity.is_3d_polyline):
                self.left_out.add("meshes")
                return
            runs, closed = self._polyline(entity), bool(entity.is_closed)
        else:
            return
        self._add(runs, closed, str(entity.dxf.layer), matrix)

    def _flat(self, entity: Any, kind: str) -> list[Any]:
        """Points of one curve, after their number has been bounded."""
        if kind == "SPLINE":
            # A spline through given points is solved for, which takes time with the cube of their number.
            if entity.control_point_count() > 20_000 or entity.fit_point_count() > 500:
                raise DrawingRefused("A spline of the drawing has too many points; turn it into a polyline.")
        elif kind == "ELLIPSE":
            self._bounded(entity.dxf.major_axis.magnitude)
        else:
            self._bounded(entity.dxf.radius)
        points = []
        for point in entity.flattening(self._sagitta):
            points.append(point)
            if len(points) > MOST_SEGMENTS:
                self.drafting.room(len(points))
        return points

    def _bounded(self, radius: float) -> None:
        if not (math.isfinite(radius) and 0 < abs(radius) * self._unit < 1e7):
            raise DrawingRefused("The drawing has a curve that is nowhere, or as large as a town.")

    def _polyline(self, entity: Any) -> Iterator[tuple[Any, bool]]:
        for part in entity.virtual_entities():
            if part.dxftype() == "ARC":
                points = self._flat(part, "ARC")
                # An arc runs anticlockwise; the polyline may run along it the other way.
                yield points, True
            else:
                yield [part.dxf.start, part.dxf.end], False

    def _add(self, runs: Iterator[tuple[Any, bool]], closed: bool, layer: str, matrix: Any) -> None:
        points: list[Floats] = []
        curve: list[int] = []
        for run, bent in runs:
            self.drafting.room(len(curve) + len(run))
            placed = run if matrix is None else list(matrix.transform_vertices(run))
            part = np.array([[p.x, -p.y] for p in placed], np.float64) * self._unit
            if points:
                part = _onward(points, part)
            points.append(part if not points else part[1:])
            curve.extend([self.drafting.next_curve() if bent else 0] * (len(part) - 1))
        if not curve:
            return
        joined = np.vstack(points)
        closed = closed or (len(curve) > 1 and bool(np.abs(joined[0] - joined[-1]).max() < 1e-6))
        if closed and np.abs(joined[0] - joined[-1]).max() < 1e-6:
            joined[-1] = joined[0]
        self.drafting.add(
            joined, np.array(curve, np.int64), closed=closed, fill="" if layer == "0" else layer
        )


def _onward(points: list[Floats], part: Floats) -> Floats:
    """The part turned so that it goes on from what there is; the first part may have to be turned for it too."""
    last = points[-1][-1]
    if np.hypot(*(part[-1] - last)) < np.hypot(*(part[0] - last)):
        part = part[::-1]
    if len(points) == 1 and np.hypot(*(part[0] - last)) > 1e-6:
        first = points[0][0]
        ends = [np.hypot(*(end - first)) for end in (part[0], part[-1])]
        if min(ends) < 1e-6:
            points[0] = points[0][::-1]
            part = part if ends[0] <= ends[1] else part[::-1]
    return part
