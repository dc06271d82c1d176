"""A drawing between its upload and its acceptance: measured with the person's answers, and kept as plain JSON.

What is kept are our own lines and shapes in millimeters, never the markup of the file that they were read from.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from jobs.estimating.carving import carvings, split
from jobs.estimating.linework import DrawingRefused, Linework, Path
from jobs.estimating.pattern import Fault, Pattern, measure, scale_fault
from jobs.estimating.reading_dxf import read_dxf
from jobs.estimating.reading_svg import read_svg
from jobs.estimating.takeoff import Came

# These say what the drawing is; the others what is wrong in it, which a person may let pass.
QUESTIONS = ("units", "scale", "empty")


@dataclass(frozen=True, slots=True)
class Answers:
    """What the person said of a drawing, in millimeters; sizes of the panel are its stated ones.

    drawn_width_mm: how wide the drawing is, needed where its file does not say its units. scale: "panel" draws it to
    the panel's width, "drawing" lets the panel be as large as it is drawn, "" is no answer. carved: the fills that are
    carved and are no pieces.
    """

    panel_width_mm: float
    panel_height_mm: float
    close_below_mm: float = 0.0
    drawn_width_mm: float | None = None
    scale: str = ""
    carved: frozenset[str] = frozenset()


def read(data: bytes) -> Linework:
    """The lines of an SVG or DXF file, whichever it is; DrawingRefused where it is neither or cannot be read."""
    head = data[:2000].lstrip(b"\xef\xbb\xbf \t\r\n")
    if head.startswith(b"<") or data[:2] in (b"\x1f\x8b", b"\xff\xfe", b"\xfe\xff"):
        return read_svg(data)
    if b"SECTION" in data[:100_000] or data.startswith(b"AutoCAD Binary DXF"):
        return read_dxf(data)
    raise DrawingRefused("That is neither an SVG nor a DXF drawing.")


def measure_with(linework: Linework, came: Came, answers: Answers) -> tuple[Pattern, float]:
    """The pattern as the answers have it, and what the lines were scaled by for it.

    A question that is still open is a fault of kind units, scale or empty.
    """
    linework, carved = split(linework, answers.carved)
    pattern, scale = _measured(linework, came, answers)
    if carved and pattern.pieces:
        size = {"width_mm": pattern.width_mm, "height_mm": pattern.height_mm}
        shapes = carvings(carved, scale=scale, origin_mm=pattern.origin_mm, **size)
        pattern = replace(pattern, carved=shapes)
    return pattern, scale


def _measured(linework: Linework, came: Came, answers: Answers) -> tuple[Pattern, float]:
    scale = 1.0
    if not linework.units_known and answers.drawn_width_mm:
        scale = answers.drawn_width_mm / _breadth(linework)
        linework = linework.scaled(scale)
    pattern = measure(linework, came=came, close_below=answers.close_below_mm)
    if not pattern.pieces or not linework.units_known:
        return pattern, scale
    if answers.scale == "panel" and scale_fault(pattern, answers.panel_width_mm, answers.panel_height_mm):
        fit = answers.panel_width_mm / pattern.width_mm
        scale *= fit
        pattern = measure(linework.scaled(fit), came=came, close_below=answers.close_below_mm)
    if answers.scale != "drawing":
        off = scale_fault(pattern, answers.panel_width_mm, answers.panel_height_mm)
        pattern = replace(pattern, faults=((off,) if off else ()) + pattern.faults)
    return pattern, scale


def _breadth(linework: Linework) -> float:
    low = min(float(path.points[:, 0].min()) for path in linework.paths)
    high = max(float(path.points[:, 0].max()) for path in linework.paths)
    if high - low < 1e-6:
        raise DrawingRefused("The drawing has no width.")
    return high - low


def lines_json(linework: Linework) -> dict[str, Any]:
    """The lines as JSON holds them, to the ten-thousandth of a millimeter."""
    return {
        "units_known": linework.units_known,
        "left_out": list(linework.left_out),
        "paths": [
            {
                "points": np.round(path.points, 4).tolist(),
                "curve": path.curve.tolist(),
                "closed": path.closed,
                "fill": path.fill,
            }
            for path in linework.paths
        ],
    }


def lines_of(row: Mapping[str, Any]) -> Linework:
    """The lines that `lines_json` wrote."""
    paths = (
        Path(
            np.asarray(path["points"], np.float64).reshape(-1, 2),
            np.asarray(path["curve"], np.int64),
            bool(path["closed"]),
            str(path["fill"]),
        )
        for path in row["paths"]
    )
    return Linework(tuple(paths), bool(row["units_known"]), left_out=tuple(row["left_out"]))


def measured_json(pattern: Pattern, scale: float) -> dict[str, Any]:
    """Pieces, came and joints for the page: millimeters to the hundredth, areas in square millimeters."""
    return {
        "width": round(pattern.width_mm, 2),
        "height": round(pattern.height_mm, 2),
        "scale": scale,
        "origin": [round(n, 4) for n in pattern.origin_mm],
        "border_mm": round(pattern.border_mm, 1),
        "inner_mm": round(pattern.inner_mm, 1),
        "joints": pattern.joints,
        "fills": list(pattern.fills),
        "carved": {carving.fill: round(carving.area_mm2, 1) for carving in pattern.carved},
        "pieces": [
            {
                "number": piece.number,
                "fill": piece.fill,
                "x": round(piece.x, 2),
                "y": round(piece.y, 2),
                "area": round(piece.area_mm2, 1),
                "width": round(piece.width_mm, 2),
                "height": round(piece.height_mm, 2),
                "cut_width": round(piece.cut_width_mm, 2),
                "cut_height": round(piece.cut_height_mm, 2),
                "cut_area": round(piece.cut_area_mm2, 1),
                "perimeter": round(piece.perimeter_mm, 1),
                "straight": piece.straight_edges,
                "curved": piece.curved_edges,
                "inner": piece.inner_corners,
                "hard": list(piece.hard),
            }
            for piece in pattern.pieces
        ],
    }


def faults_json(faults: Iterable[Fault]) -> list[dict[str, Any]]:
    return [
        {"kind": f.kind, "words": f.words, "x": f.x, "y": f.y, "size": f.size_mm, "asks": f.kind in QUESTIONS}
        for f in faults
    ]
