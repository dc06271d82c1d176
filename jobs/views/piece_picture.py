"""The pieces of a panel as they are drawn: each with its shape, its number and how far it is."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _

from jobs.models import Panel
from jobs.models.shipped import named
from jobs.snapshot.pieces import Key, Pieces

PARTS = 5  # So many hatches there are, from a piece just begun to one that is done.
LARGEST, LEAST = 0.03, 0.008  # Of the panel's larger side: a number is no larger, and no smaller.


def level_words(steps: Sequence[str]) -> list[str]:
    """What is said of a piece by how many of its steps are done, from none to all."""
    if len(steps) == 1:
        return [_("open"), _("done")]
    some = [
        _("%(step)s done, %(done)d of %(all)d") % {"step": named(step), "done": number, "all": len(steps)}
        for number, step in enumerate(steps[:-1], 1)
    ]
    return [_("not begun"), *some, _("done, all %(all)d") % {"all": len(steps)}]


def level_signs(steps: Sequence[str]) -> list[str]:
    """The same as a sign on the piece itself."""
    return ["", *(f"{number}/{len(steps)}" for number in range(1, len(steps))), "✓"]


def part_of(level: int, steps: int) -> int:
    """Which hatch shows so many of the steps done: 0 for none, PARTS for all and for these only."""
    if level >= steps:
        return PARTS
    return math.ceil(level * (PARTS - 1) / steps) if level else 0


def shapes(panel: Panel) -> tuple[list[dict[str, Any]], list[str]]:
    """The numbered pieces of the panel's drawing with their shape and where their number stands; and what is carved."""
    largest = float(max(panel.width_mm, panel.height_mm))
    drawn = (panel.drawing or {}).get("pieces", [])
    pieces = [_shape(piece, largest) for piece in drawn if "number" in piece]
    carved = [_points(piece["points"]) for piece in drawn if piece.get("carved")]
    return pieces, carved


def _points(points: Sequence[Sequence[float]]) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in points)


def _shape(piece: Mapping[str, Any], largest: float) -> dict[str, Any]:
    xs, ys = zip(*piece["points"], strict=True)
    digits = len(str(piece["number"]))
    room = min((max(xs) - min(xs)) / (0.7 * digits + 1), (max(ys) - min(ys)) / 3)
    size = min(max(room, LEAST * largest), LARGEST * largest)
    x, y = piece["at"]
    return {
        "number": piece["number"],
        "glass": piece["glass"],
        "points": _points(piece["points"]),
        "x": f"{x:g}",
        "y": f"{y - 0.1 * size:.1f}",
        "sign_y": f"{y + 0.95 * size:.1f}",
        "size": f"{size:.1f}",
        "sign_size": f"{0.8 * size:.1f}",
    }


def box_of(panel: Panel) -> dict[str, Any]:
    """The panel's edge with a margin round it, as an SVG has them, and how far the lines of each hatch are apart."""
    width, height = float(panel.width_mm), float(panel.height_mm)
    margin = max(width, height) * 0.015
    return {
        "box": f"{-margin:g} {-margin:g} {width + 2 * margin:g} {height + 2 * margin:g}",
        "width": f"{width:g}",
        "height": f"{height:g}",
        "hatches": [(part, f"{max(width, height) / 36 / part:.1f}") for part in range(1, PARTS + 1)],
    }


def drawn_pieces(known: Pieces, panel: Panel, copy: int, level: Mapping[Key, int]) -> dict[str, Any]:
    """The drawing of one copy for the bench: `pieces` in the order of their shapes, `carved`, and the box."""
    found, carved = shapes(panel)
    words, signs = level_words(known.steps), level_signs(known.steps)
    for piece in found:
        number = piece["number"]
        at = min(level.get((copy, number), 0), len(known.steps))
        # Of a pattern whose numbers the drawing does not have, nothing can be told.
        piece["here"] = known.has(copy, number)
        piece["name"] = _("Piece %(number)d, %(glass)s") % {"number": number, "glass": named(piece["glass"])}
        piece |= {"level": at, "words": words[at], "sign": signs[at], "part": part_of(at, len(known.steps))}
        if (copy, number) in known.broken:
            piece |= {"words": broken_words(known.broken[copy, number]), "sign": "✕", "part": "broken"}
        elif (copy, number) in known.elsewhere:
            piece |= {
                "words": elsewhere_words(known.elsewhere[copy, number]),
                "sign": "·",
                "part": "elsewhere",
            }
    return {
        "pieces": found,
        "carved": carved,
        "listed": sorted((piece for piece in found if piece["here"]), key=lambda piece: piece["number"]),
        **box_of(panel),
    }


def broken_words(again: str) -> str:
    return _("broken, made again: %(work)s") % {"work": named(again)}


def elsewhere_words(work: str) -> str:
    return _("marked at %(work)s") % {"work": named(work)}
