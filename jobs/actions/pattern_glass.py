"""The thickness that a panel gets with its pattern: that of most of its glass, by which its papers and weight go."""

from collections.abc import Iterable
from decimal import Decimal

from jobs.models import Glass, Pattern


def most_of(pieces: Iterable[tuple[Decimal, float]]) -> Decimal:
    """The thickness of the largest area, the greater of two equal ones: pieces as (thickness in mm, area)."""
    areas: dict[Decimal, float] = {}
    for thickness, area in pieces:
        areas[thickness] = areas.get(thickness, 0.0) + area
    return max(areas, key=lambda thickness: (areas[thickness], thickness))


def thickness_to_come(pattern: Pattern) -> Decimal | None:
    """What the panel gets when the pattern is accepted as it stands; nothing while that is not said of all glass."""
    said = {color: fill["glass"] for color, fill in pattern.fills.items() if "glass" in fill}
    known = dict(Glass.objects.filter(pk__in=said.values()).values_list("pk", "thickness_mm"))
    pieces = [piece for piece in pattern.measured["pieces"] if not _carved(pattern, piece["fill"])]
    if not pieces or any(said.get(piece["fill"]) not in known for piece in pieces):
        return None
    return most_of((known[said[piece["fill"]]], piece["area"]) for piece in pieces)


def _carved(pattern: Pattern, color: str) -> bool:
    return bool(pattern.fills.get(color, {}).get("carved_mm"))
