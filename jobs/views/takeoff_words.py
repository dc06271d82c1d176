"""A takeoff in words and the studio's units."""

from decimal import Decimal

from jobs.estimating.areas import MM_PER_FOOT, format_area
from jobs.estimating.glass import pounds
from jobs.estimating.lengths import format_length
from jobs.estimating.takeoff import Takeoff, with_waste
from jobs.models import Glass, Studio


def takeoff_words(takeoff: Takeoff, studio: Studio) -> list[tuple[str, str]]:
    """What to call each quantity that there is, and how much of it."""
    units = studio.units
    waste = dict(Glass.objects.filter(name__in=list(takeoff.glass_mm2)).values_list("name", "waste"))
    rows = [("Pieces", f"{takeoff.pieces}")]
    if takeoff.hard_pieces:
        rows.append(("Hard to cut", f"{takeoff.hard_pieces}"))
    for name, mm2 in takeoff.glass_mm2.items():
        bought = with_waste(mm2, float(waste.get(name, 0)))
        more = f", {format_area(bought, units)} with waste" if bought > mm2 else ""
        rows.append((f"Glass: {name}", f"{format_area(mm2, units)}{more}"))
    for (thick, wide), length in sorted(takeoff.beveled_mm.items()):
        of = f"{_length(wide, units)} wide on {_length(thick, units)}"
        rows.append((f"Bevel, {of}", run(length, units)))
    if takeoff.came_mm:
        split = f"{run(takeoff.inner_mm, units)} inside, {run(takeoff.border_mm, units)} border"
        profiles = (f"{name} {run(length, units)}" for name, length in takeoff.came_mm.items())
        rows.append(("Came", split if len(takeoff.came_mm) == 0 else f"{split} ({', '.join(profiles)})"))
        rows.append(("Joints", f"{takeoff.joints} on each face"))
    for deep, mm2 in sorted(takeoff.carved_mm2.items()):
        rows.append((f"Carved, {_length(deep, units)} deep", format_area(mm2, units)))
    if takeoff.curved_edges or takeoff.inner_corners:
        rows.append(("Curved edges", f"{takeoff.curved_edges}"))
        rows.append(("Inner corners", f"{takeoff.inner_corners}"))
    kg = Decimal(takeoff.mass_kg)
    rows.append(("Mass", f"{pounds(kg):.1f} lb" if units == Studio.Units.INCH else f"{kg:.1f} kg"))
    return rows


def run(mm: float, units: str) -> str:
    """A long run: feet or meters."""
    return f"{mm / float(MM_PER_FOOT):.1f} ft" if units == Studio.Units.INCH else f"{mm / 1e3:.2f} m"


def _length(mm: float, units: str) -> str:
    return format_length(Decimal(str(mm)), units)
