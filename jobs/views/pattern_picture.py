"""A pattern as it is shown: our own drawing of it, and each fault at its place."""

import re
from decimal import Decimal
from typing import Any

from jobs.estimating.lengths import format_length, format_size, in_units
from jobs.models import Glass, Pattern, Studio

MOST_LINES, MOST_MARKS = 20_000, 60
COLOR = re.compile(r"#[0-9a-f]{6}")


def picture_of(shown: Pattern, studio: Studio) -> dict[str, Any]:
    """Pieces, lines and marks of faults, in millimeters from the upper left corner of the pieces."""
    box = _box(shown)
    glasses = Glass.objects.in_bulk([said["glass"] for said in shown.fills.values() if "glass" in said])
    color = {
        fill: glasses[said["glass"]].color
        for fill, said in shown.fills.items()
        if said.get("glass") in glasses
    }
    measured = {piece["number"]: piece for piece in shown.measured["pieces"]}
    largest = 0.04 * max(box[2], box[3])
    drawn = shown.drawing["pieces"]
    pieces = [_piece(p, measured[p["number"]], color, largest) for p in drawn if not p.get("carved")]
    carved = [" ".join(f"{x:g},{y:g}" for x, y in p["points"]) for p in drawn if p.get("carved")]
    # Where nothing is wrong at a place, every line is the edge of a piece and drawn with it.
    placed = any(fault["x"] is not None for fault in shown.faults)
    return {
        "box": " ".join(f"{n:g}" for n in box),
        "pieces": pieces,
        "carved": carved,
        "lines": _lines(shown) if placed or not pieces else "",
        "marks": _marks(shown, box),
        "faults": [
            fault
            | {
                "words": in_units(fault["words"], studio.units),
                "place": _place(fault, studio),
                "number": number,
            }
            for number, fault in enumerate(shown.faults, 1)
        ],
        "asks": any(fault["asks"] for fault in shown.faults),
        "words": f"Pattern of {shown.panel.name}: {len(pieces)} pieces, {len(shown.faults)} faults",
        "colors": {
            fill: color.get(fill) or (fill if COLOR.fullmatch(fill) else "")
            for fill in shown.measured["fills"]
        },
    }


def sizes_of(shown: Pattern, studio: Studio) -> dict[str, str]:
    """How large the drawing is, and how large the panel is said to be."""
    return {
        "drawing": _size(shown.measured["width"], shown.measured["height"], studio),
        "panel": format_size(shown.panel.width_mm, shown.panel.height_mm, studio.units),
    }


def _box(shown: Pattern) -> tuple[float, float, float, float]:
    """The part of the drawing that is shown: its pieces and where its faults are."""
    xs, ys = [0.0, shown.measured["width"]], [0.0, shown.measured["height"]]
    if not shown.drawing["pieces"]:
        points = [point for path in shown.lines["paths"] for point in path["points"]]
        scale = float(shown.measured["scale"])
        xs, ys = [scale * x for x, _ in points], [scale * y for _, y in points]
    xs += [fault["x"] for fault in shown.faults if fault["x"] is not None]
    ys += [fault["y"] for fault in shown.faults if fault["y"] is not None]
    margin = max(max(xs) - min(xs), max(ys) - min(ys), 1.0) * 0.04
    return (
        round(min(xs) - margin, 1),
        round(min(ys) - margin, 1),
        round(max(xs) - min(xs) + 2 * margin, 1),
        round(max(ys) - min(ys) + 2 * margin, 1),
    )


def _piece(
    drawn: dict[str, Any], measured: dict[str, Any], color: dict[str, str], largest: float
) -> dict[str, Any]:
    fill = drawn["glass"]
    digits = len(str(drawn["number"]))
    return {
        "number": drawn["number"],
        "points": " ".join(f"{x:g},{y:g}" for x, y in drawn["points"]),
        "color": color.get(fill) or (fill if COLOR.fullmatch(fill) else ""),
        "hard": bool(measured["hard"]),
        "x": measured["x"],
        "y": measured["y"],
        # As large as the piece lets it be, and no larger than a number has to be.
        "size": round(min(measured["width"] / digits, 0.7 * measured["height"], largest), 1),
    }


def _lines(shown: Pattern) -> str:
    """The lines as they were drawn, so that an open end is seen; none where there are too many to be seen."""
    paths = shown.lines["paths"]
    if sum(len(path["points"]) for path in paths) > MOST_LINES:
        return ""
    scale = float(shown.measured["scale"])
    left, top = shown.measured["origin"]
    return "".join(
        "M" + "L".join(f"{x * scale - left:.1f} {y * scale - top:.1f}" for x, y in path["points"])
        for path in paths
    )


def _marks(shown: Pattern, box: tuple[float, float, float, float]) -> list[dict[str, Any]]:
    """A numbered badge beside the place of each fault, within the picture."""
    radius = max(box[2], box[3]) * 0.026
    marks = []
    for number, fault in enumerate(shown.faults[:MOST_MARKS], 1):
        if fault["x"] is None:
            continue
        x, y = fault["x"], fault["y"]
        right = x + 2 * radius <= box[0] + box[2] - radius
        up = y - 2 * radius >= box[1] + radius
        marks.append(
            {
                "number": number,
                "x": round(x, 1),
                "y": round(y, 1),
                "dot": round(radius * 0.3, 2),
                "radius": round(radius, 1),
                "badge_x": round(x + (2 if right else -2) * radius, 1),
                "badge_y": round(y + (-2 if up else 2) * radius, 1),
                "size": round(radius * 1.15, 1),
            }
        )
    return marks


def _place(fault: dict[str, Any], studio: Studio) -> str:
    if fault["x"] is None:
        return ""
    x, y = (format_length(abs(Decimal(str(fault[axis]))), studio.units) for axis in ("x", "y"))
    return f"{x} from the left, {y} from the top"


def _size(width: float, height: float, studio: Studio) -> str:
    return format_size(Decimal(str(width)), Decimal(str(height)), studio.units)
