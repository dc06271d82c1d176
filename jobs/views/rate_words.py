"""Rates in words and in the studio's units: minutes a piece, a foot of came, a square meter of glass."""

from decimal import Decimal

from jobs.estimating.areas import M2_PER_SQUARE_FOOT, MM_PER_FOOT
from jobs.estimating.rates import DRIVERS
from jobs.models import Studio

_INCH_WORDS = {
    "came_m": "foot of came",
    "glass_m2": "square foot of glass",
    "beveled_m:thin": "foot of 1 in bevel, thin glass",
    "beveled_m:plate": "foot of 1 in bevel, plate glass",
    "beveled_m:thick": "foot of 1 in bevel, thick glass",
    "beveled_m:slab": "foot of 1 in bevel, slab glass",
    "carved_m2:shallow": "square foot of shallow carving",
    "carved_m2:medium": "square foot of medium carving",
    "carved_m2:deep": "square foot of deep carving",
}


def factor(driver: str, units: str) -> Decimal:
    """What the minutes of a row are multiplied with to be those of the unit that is shown."""
    if units == Studio.Units.INCH and driver in _INCH_WORDS:
        return M2_PER_SQUARE_FOOT if "_m2" in driver else MM_PER_FOOT / 1000
    return Decimal(1)


def per(driver: str, units: str) -> str:
    """What the minutes are for: “piece”, “foot of came”; the set-up where there is no driver."""
    if not driver:
        return "set-up"
    if units == Studio.Units.INCH and driver in _INCH_WORDS:
        return _INCH_WORDS[driver]
    return DRIVERS.get(driver, driver)


def a(driver: str, units: str) -> str:
    """“a piece”, “an inner corner”; “of set-up” where there is no driver."""
    if not driver:
        return "of set-up"
    word = per(driver, units)
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def amount(minutes: float | Decimal, driver: str, units: str) -> str:
    """Minutes in the shown unit, with as many digits as mean something."""
    value = Decimal(minutes) * factor(driver, units)
    digits = 0 if value >= 100 else 1 if value >= 10 else 2
    return f"{value:.{digits}f}".removesuffix(".00").removesuffix(".0") if value else "0"
