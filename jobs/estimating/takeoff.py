"""The takeoff: the quantities of one panel that its hours and materials follow from.

Lengths are millimeters, areas square millimeters, mass kilograms, all of one copy of the panel.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any

from jobs.estimating.glass import GLASS_KG_PER_M3
from jobs.estimating.lengths import LARGEST_MM

if TYPE_CHECKING:
    from jobs.estimating.pattern import Pattern

LEAD_KG_PER_M3 = 11_340.0  # CRC Handbook of Chemistry and Physics; from memory.
MOST_PIECES = 20_000
# Up to this area an unreinforced panel is common practice (12 sq ft); no rule is published. The studio sets its own.
SUPPORT_BARS_ABOVE_MM2 = 1_114_836.0

# A class of a quantity and the largest millimeters that belong to it. Common practice, no published source.
THICKNESS_CLASSES = (("thin", 4.0), ("plate", 7.0), ("thick", 13.0), ("slab", math.inf))
DEPTH_CLASSES = (("shallow", 1.0), ("medium", 4.0), ("deep", math.inf))
REFERENCE_BEVEL_MM = 25.0  # A meter of bevel is a meter of this width; a wider one counts for more.

BevelKey = tuple[float, float]


class TakeoffError(ValueError):
    """A quantity cannot be; the text is a sentence for the person."""


@dataclass(frozen=True, slots=True)
class Came:
    """A profile of came: its name, the width of its face, and its heart (the gap between two pieces), in mm.

    `kg_per_m` is the maker's figure, or about that of an H of 1.2 mm leaf and 5 mm channel where none is given.
    """

    profile: str
    face_mm: float = 6.0
    heart_mm: float = 1.6
    kg_per_m: float | None = None

    def __post_init__(self) -> None:
        if not 0 < self.heart_mm <= self.face_mm <= 100:
            raise TakeoffError("The heart of a came is more than nothing and no wider than its face.")

    @property
    def mass_per_m(self) -> float:
        if self.kg_per_m is not None:
            return self.kg_per_m
        return (2 * 1.2 * self.face_mm + 5.0 * self.heart_mm) * LEAD_KG_PER_M3 / 1e6


@dataclass(frozen=True, slots=True)
class Glass:
    """What a color of the drawing stands for: the studio's glass, its thickness, the width of its bevel or None."""

    name: str
    thickness_mm: float
    bevel_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Takeoff:
    """Quantities of one copy. Checks itself: TakeoffError says in a sentence which of them cannot be.

    beveled_mm: length by (thickness, bevel width); came_mm: length by profile; carved_mm2: area by depth;
    glass_mm2: area by glass, without waste. `joints` are the places where cames meet as seen on one face: each is
    soldered on both. `border_mm` and `inner_mm` are the two parts of the came. `curved_edges`, `inner_corners` and
    `hard_pieces` count over all pieces.
    """

    width_mm: float
    height_mm: float
    pieces: int = 1
    beveled_mm: Mapping[BevelKey, float] = field(default_factory=dict)
    came_mm: Mapping[str, float] = field(default_factory=dict)
    border_mm: float = 0.0
    inner_mm: float = 0.0
    joints: int = 0
    carved_mm2: Mapping[float, float] = field(default_factory=dict)
    curved_edges: int = 0
    inner_corners: int = 0
    hard_pieces: int = 0
    glass_mm2: Mapping[str, float] = field(default_factory=dict)
    mass_kg: float = 0.0

    def __post_init__(self) -> None:
        self._check_numbers()
        if not (0 < self.width_mm <= LARGEST_MM and 0 < self.height_mm <= LARGEST_MM):
            raise TakeoffError("A panel is more than nothing and at most 20 m wide and high.")
        if not 1 <= self.pieces <= MOST_PIECES:
            raise TakeoffError(f"A panel has from 1 to {MOST_PIECES} pieces.")
        if self.hard_pieces > self.pieces:
            raise TakeoffError("There are more pieces hard to cut than pieces.")
        for thickness, bevel in self.beveled_mm:
            if not (0 < thickness <= 100 and 0 < bevel <= 200):
                raise TakeoffError("Beveled glass is up to 100 mm thick and its bevel up to 200 mm wide.")
        if any(not 0 < depth <= 100 for depth in self.carved_mm2):
            raise TakeoffError("Carving is more than 0 and at most 100 mm deep.")
        # A drawing rounds, so one percent is let pass.
        if sum(self.glass_mm2.values()) > 1.01 * self.area_mm2:
            raise TakeoffError("There is more glass than the panel has room for; check the areas.")
        if sum(self.carved_mm2.values()) > 2.02 * self.area_mm2:
            raise TakeoffError("More is carved than both faces of the panel have room for; check the areas.")
        came = sum(self.came_mm.values())
        if abs(came - self.border_mm - self.inner_mm) > 1 + 0.01 * came:
            raise TakeoffError("The came by profile and the came of border and inside do not add up.")

    def _check_numbers(self) -> None:
        for each in fields(self):
            value = getattr(self, each.name)
            for number in value.values() if isinstance(value, Mapping) else (value,):
                if not math.isfinite(number) or number < 0:
                    name = each.name.removesuffix("_mm2").removesuffix("_mm").removesuffix("_kg")
                    raise TakeoffError(
                        f"The takeoff has a quantity that cannot be: {name.replace('_', ' ')}."
                    )

    @property
    def area_mm2(self) -> float:
        return self.width_mm * self.height_mm

    def exceeds(self, limit_mm2: float = SUPPORT_BARS_ABOVE_MM2) -> bool:
        """Whether the panel is larger than what the studio builds without support bars."""
        return self.area_mm2 > limit_mm2

    def drivers(self) -> dict[str, float]:
        """What rates are given per: count, meters and square meters. Those that are nothing are left out."""
        found: dict[str, float] = {
            "piece": self.pieces,
            "hard_piece": self.hard_pieces,
            "curved_edge": self.curved_edges,
            "inner_corner": self.inner_corners,
            "came_m": sum(self.came_mm.values()) / 1e3,
            "joint": self.joints,
            "glass_m2": sum(self.glass_mm2.values()) / 1e6,
        }
        for (thickness, bevel), length in self.beveled_mm.items():
            driver = f"beveled_m:{class_of(thickness, THICKNESS_CLASSES)}"
            found[driver] = found.get(driver, 0.0) + length / 1e3 * bevel / REFERENCE_BEVEL_MM
        for depth, area in self.carved_mm2.items():
            driver = f"carved_m2:{class_of(depth, DEPTH_CLASSES)}"
            found[driver] = found.get(driver, 0.0) + area / 1e6
        return {driver: float(quantity) for driver, quantity in found.items() if quantity}

    def to_json(self) -> dict[str, Any]:
        """The takeoff as JSON holds it: beveled as [thickness, bevel, length], carved as [depth, area]."""
        row: dict[str, Any] = {each.name: getattr(self, each.name) for each in fields(self)}
        row["beveled_mm"] = [[*key, length] for key, length in sorted(self.beveled_mm.items())]
        row["carved_mm2"] = [[depth, area] for depth, area in sorted(self.carved_mm2.items())]
        row["came_mm"], row["glass_mm2"] = dict(self.came_mm), dict(self.glass_mm2)
        return row

    @classmethod
    def from_json(cls, row: Mapping[str, Any]) -> Takeoff:
        """The takeoff that `to_json` wrote; TakeoffError for anything that is not one."""
        try:
            kept = dict(row)
            kept["beveled_mm"] = {(float(t), float(b)): float(mm) for t, b, mm in row["beveled_mm"]}
            kept["carved_mm2"] = {float(depth): float(area) for depth, area in row["carved_mm2"]}
            return cls(**kept)
        except TakeoffError:
            raise
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise TakeoffError("That is not a takeoff.") from error


def class_of(mm: float, classes: tuple[tuple[str, float], ...]) -> str:
    """The name of the class that these millimeters belong to."""
    return next(name for name, largest in classes if mm <= largest)


def _by_profile(border: Came, border_mm: float, came: Came, inner_mm: float) -> dict[str, float]:
    lengths = {border.profile: border_mm}
    lengths[came.profile] = lengths.get(came.profile, 0.0) + inner_mm
    return {profile: mm for profile, mm in lengths.items() if mm}


def with_waste(mm2: float, waste: float) -> float:
    """The area to buy for so much glass, where this share of what is bought is lost."""
    if not 0 <= waste < 1:
        raise TakeoffError("The share of glass that is lost is less than all of it.")
    return mm2 / (1 - waste)


def mass_kg(glass: Iterable[tuple[float, float]], came: Iterable[tuple[Came, float]]) -> float:
    """Mass of glass given as (thickness mm, area mm2) and of came given as (profile, length mm)."""
    lead = sum(profile.mass_per_m * length / 1e3 for profile, length in came)
    return lead + sum(thickness * area for thickness, area in glass) * float(GLASS_KG_PER_M3) / 1e9


def propose(
    width_mm: float,
    height_mm: float,
    pieces: int,
    *,
    glass: Glass,
    came: Came,
    border: Came | None = None,
    carved_mm2: Mapping[float, float] | None = None,
) -> Takeoff:
    """Sensible quantities of a panel of so many pieces, to start from before there is a pattern.

    The pieces are taken to be squares of one size. Each piece after the first needs a lead line that ends on two
    others, so there are 2 (pieces - 1) joints inside and the four corners of the border. One piece alone is taken
    to be unleaded.
    """
    if pieces < 1 or not (width_mm > 0 and height_mm > 0):
        raise TakeoffError("Say how wide and high the panel is and how many pieces it has.")
    border = border or came
    area = width_mm * height_mm
    leaded = pieces > 1
    outline = 2 * (width_mm + height_mm)
    edges = max(4 * math.sqrt(area / pieces) * pieces, outline)
    inner = (edges - outline) / 2 if leaded else 0.0
    border_mm = outline if leaded else 0.0
    lead = (border_mm * border.mass_per_m + inner * came.mass_per_m) / 1e3
    return Takeoff(
        width_mm=width_mm,
        height_mm=height_mm,
        pieces=pieces,
        beveled_mm={(glass.thickness_mm, glass.bevel_mm): edges} if glass.bevel_mm else {},
        came_mm=_by_profile(border, border_mm, came, inner),
        border_mm=border_mm,
        inner_mm=inner,
        joints=2 * (pieces - 1) + 4 if leaded else 0,
        carved_mm2=carved_mm2 or {},
        glass_mm2={glass.name: area},
        mass_kg=area * glass.thickness_mm * float(GLASS_KG_PER_M3) / 1e9 + lead,
    )


def take_off(
    pattern: Pattern,
    glasses: Mapping[str, Glass],
    *,
    border: Came | None = None,
    carved_mm2: Mapping[float, float] | None = None,
) -> Takeoff:
    """The quantities of a measured pattern, its fills being these glasses (the fill "" is a piece without one).

    TakeoffError where a fill of the pattern stands for no glass yet, or the pattern has no piece.
    """
    border = border or pattern.came
    beveled: dict[BevelKey, float] = {}
    areas: dict[str, float] = {}
    mass = (pattern.border_mm * border.mass_per_m + pattern.inner_mm * pattern.came.mass_per_m) / 1e3
    for piece in pattern.pieces:
        glass = glasses.get(piece.fill)
        if glass is None:
            raise TakeoffError("Say which glass each color of the drawing stands for.")
        areas[glass.name] = areas.get(glass.name, 0.0) + piece.cut_area_mm2
        mass += piece.cut_area_mm2 * glass.thickness_mm * float(GLASS_KG_PER_M3) / 1e9
        if glass.bevel_mm:
            key = (glass.thickness_mm, glass.bevel_mm)
            beveled[key] = beveled.get(key, 0.0) + piece.cut_perimeter_mm
    return Takeoff(
        width_mm=pattern.width_mm,
        height_mm=pattern.height_mm,
        pieces=len(pattern.pieces),
        beveled_mm=beveled,
        came_mm=_by_profile(border, pattern.border_mm, pattern.came, pattern.inner_mm),
        border_mm=pattern.border_mm,
        inner_mm=pattern.inner_mm,
        joints=pattern.joints,
        carved_mm2=carved_mm2 or {},
        curved_edges=sum(piece.curved_edges for piece in pattern.pieces),
        inner_corners=sum(piece.inner_corners for piece in pattern.pieces),
        hard_pieces=sum(bool(piece.hard) for piece in pattern.pieces),
        glass_mm2=areas,
        mass_kg=mass,
    )
