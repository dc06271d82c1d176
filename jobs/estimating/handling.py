"""How many people carry a load, and how panels go into crates.

The figures are the studio's own; there is no published rule that fits: the lifting equation (DHHS (NIOSH) 94-110)
leaves out unstable and carrying lifts. So what is given here is where to start from, not leave to lift.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

# Room for foam round the panels and for the boards, in mm. Common practice, no published source.
MARGIN_MM = Decimal(100)
GAP_MM = Decimal(30)


@dataclass(frozen=True, slots=True)
class Practice:
    """What the studio holds to: kilograms one person lifts, the side in mm from which it takes two, panels and
    kilograms in a crate, kilograms of a square meter of its board."""

    lift_kg: Decimal
    two_from_mm: Decimal
    crate_panels: int
    crate_kg: Decimal
    board_kg_m2: Decimal

    def __post_init__(self) -> None:
        if not (self.lift_kg > 0 and self.crate_panels >= 1 and self.crate_kg > 0 and self.board_kg_m2 >= 0):
            raise ValueError("A person lifts something, and a crate holds something.")


@dataclass(frozen=True, slots=True)
class Load:
    """One panel to be carried: its code, millimeters and kilograms."""

    code: str
    width_mm: Decimal
    height_mm: Decimal
    thickness_mm: Decimal
    kg: Decimal


@dataclass(slots=True)
class Crate:
    """Panels that stand in one crate, and what it is about: millimeters outside, kilograms with its boards."""

    number: int
    loads: list[Load] = field(default_factory=list)

    @property
    def held_kg(self) -> Decimal:
        return sum((load.kg for load in self.loads), Decimal(0))

    @property
    def size_mm(self) -> tuple[Decimal, Decimal, Decimal]:
        """Length, height and depth."""
        deep = sum((load.thickness_mm + GAP_MM for load in self.loads), GAP_MM)
        return (
            max(load.width_mm for load in self.loads) + 2 * MARGIN_MM,
            max(load.height_mm for load in self.loads) + 2 * MARGIN_MM,
            deep + MARGIN_MM,
        )

    def kg(self, practice: Practice) -> Decimal:
        long, high, deep = self.size_mm
        board_m2 = 2 * (long * high + long * deep + high * deep) / Decimal(10) ** 6
        return self.held_kg + board_m2 * practice.board_kg_m2


def people_for(load: Load, practice: Practice) -> int:
    """As many as lift its mass, and at least two from the side that is awkward for one."""
    many = max(1, math.ceil(load.kg / practice.lift_kg))
    return max(many, 2) if max(load.width_mm, load.height_mm) >= practice.two_from_mm else many


def people_for_mass(kg: Decimal, practice: Practice) -> int:
    """As many as lift this mass, never fewer than two: a crate is carried at both ends."""
    return max(2, math.ceil(kg / practice.lift_kg))


def in_crates(loads: Iterable[Load], practice: Practice) -> list[Crate]:
    """Fill crate after crate in the order given, until one more panel would be too many or too heavy with the boards.

    A panel that is too heavy for any crate has one of its own.
    """
    crates: list[Crate] = []
    for load in loads:
        last = crates[-1] if crates else None
        if last is not None:
            tried = Crate(last.number, [*last.loads, load])
            if len(tried.loads) <= practice.crate_panels and tried.kg(practice) <= practice.crate_kg:
                last.loads.append(load)
                continue
        crates.append(Crate(len(crates) + 1, [load]))
    return crates
