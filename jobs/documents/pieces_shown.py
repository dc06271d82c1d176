"""The pieces of a pattern as pages and papers list them."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from jobs.estimating.lengths import format_size
from jobs.models import Glass, Operation, Panel, Pattern, Studio

MOST_PIECES = 200
HARD = {
    "narrow": "narrow",
    "notched": "deeply notched",
    "sharp": "sharp",
    "pierced": "with a hole",
    "vanishing": "smaller than its came",
}


def accepted_pattern(panel: Panel) -> Pattern | None:
    """The last pattern of the panel that was accepted, if one was."""
    return panel.patterns.filter(accepted_at__isnull=False).last()


def cut_pieces(
    shown: Pattern, studio: Studio, work: Iterable[Operation]
) -> tuple[list[dict[str, Any]], list[Operation]]:
    """The pieces of a pattern as its page shows them, and the work on single pieces among the panel's."""
    cutting = [operation for operation in work if operation.kind.counts_pieces and not operation.skipped]
    return piece_rows(shown, studio, whole=True)["pieces"], cutting


def piece_rows(shown: Pattern, studio: Studio, *, whole: bool) -> dict[str, Any]:
    """The pieces with their cut sizes, in reading order: all of them, or as many as a page can bear."""
    names = Glass.objects.in_bulk([said["glass"] for said in shown.fills.values() if "glass" in said])
    glass = {
        fill: names[said["glass"]].name for fill, said in shown.fills.items() if said.get("glass") in names
    }
    measured = shown.measured["pieces"]
    rows = [
        {
            "number": piece["number"],
            "glass": glass.get(piece["fill"], piece["fill"] or "no color"),
            "cut": _size(piece, studio),
            "curved": piece["curved"],
            "inner": piece["inner"],
            "hard": ", ".join(HARD[word] for word in piece["hard"]),
        }
        for piece in (measured if whole else measured[:MOST_PIECES])
    ]
    hard = sum(bool(piece["hard"]) for piece in measured)
    return {"pieces": rows, "more_pieces": len(measured) > len(rows), "hard_count": hard}


def _size(piece: dict[str, Any], studio: Studio) -> str:
    width, height = (Decimal(str(piece[side])) for side in ("cut_width", "cut_height"))
    return format_size(width, height, studio.units)
