"""What is bought, in the studio's units: kept in metric ones, and shown in square feet, feet, pounds and quarts where
lengths are in inches.

A foot is 304.8 mm and a pound 0.45359237 kg exactly (international yard and pound agreement, 1959); a US liquid quart
is 57.75 cubic inches (NIST Handbook 44, Appendix C).
"""

from dataclasses import dataclass
from decimal import Decimal

from jobs.estimating.glass import KG_PER_POUND
from jobs.estimating.lengths import MM_PER_INCH

MM_PER_FOOT = 12 * MM_PER_INCH
M2_PER_SQUARE_FOOT = (MM_PER_FOOT / 1000) ** 2
SQUARE_METER = "m²"
SQUARE_FOOT = "sq ft"


@dataclass(frozen=True, slots=True)
class ShownUnit:
    """A unit that is shown and typed. `size`: how many of the unit that is kept are one of it."""

    word: str
    size: Decimal = Decimal(1)

    def amount(self, kept: Decimal) -> Decimal:
        """So many of it, to the hundredth where it is another unit than the one that is kept."""
        return kept if self.size == 1 else round(kept / self.size, 2)

    def price(self, kept: Decimal) -> Decimal:
        """What one of it costs, to the cent where it is another unit."""
        return kept if self.size == 1 else round(kept * self.size, 2)

    def kept_amount(self, shown: Decimal) -> Decimal:
        return shown if self.size == 1 else round(shown * self.size, 3)

    def kept_price(self, shown: Decimal) -> Decimal:
        return shown if self.size == 1 else round(shown / self.size, 2)


# By the unit that is kept, the one in which it is sold where lengths are in inches.
_CUSTOMARY = {
    SQUARE_METER: ShownUnit(SQUARE_FOOT, M2_PER_SQUARE_FOOT),
    "m": ShownUnit("ft", MM_PER_FOOT / 1000),
    "kg": ShownUnit("lb", KG_PER_POUND),
    "l": ShownUnit("qt", Decimal("57.75") * (MM_PER_INCH / 100) ** 3),
}


def is_measured(unit: str) -> bool:
    """Whether it is shown in another unit in a studio that measures in inches."""
    return unit in _CUSTOMARY


def shown_unit(unit: str, units: str) -> ShownUnit:
    """The unit in which what is kept in `unit` is shown, `units` ("in" or "mm") being the studio's."""
    return _CUSTOMARY.get(unit, ShownUnit(unit)) if units == "in" else ShownUnit(unit)


def area_unit(units: str) -> ShownUnit:
    return shown_unit(SQUARE_METER, units)


def format_area(mm2: float, units: str) -> str:
    """An area: square feet to the hundredth, or square meters to the thousandth."""
    unit = area_unit(units)
    return f"{mm2 / 1e6 / float(unit.size):.{3 if unit.size == 1 else 2}f} {unit.word}"
