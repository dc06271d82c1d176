"""Lengths as people of the trade type and read them, kept as millimeters.

An inch is 25.4 mm exactly (international yard and pound agreement, 1959).
"""

import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

MM_PER_INCH = Decimal("25.4")
HUNDREDTH = Decimal("0.01")
LARGEST_MM = Decimal(20000)

_UNITS = {
    "mm": Decimal(1),
    "cm": Decimal(10),
    "m": Decimal(1000),
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
    "'": 12 * MM_PER_INCH,
}
_MARKS = str.maketrans(
    {"”": '"', "″": '"', "“": '"', "’": "'", "′": "'", "⁄": "/", "\u00a0": " ", "\u2009": " "}
)
_VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_SAID_SHEET = re.compile(r"(sheets? of )(\d+) × (\d+) mm\b")
_SAID_SIZE = re.compile(r"(\d+(?:\.\d+)?) × (\d+(?:\.\d+)?) mm\b")
_SAID_LENGTH = re.compile(r"(\d+(?:\.\d+)?) mm\b")
_SAID_AREA = re.compile(r"(\d+(?:\.\d+)?) (c?)m²")
_NUMBER = r"(?:\d{1,6}(?:[.,]\d{1,6})?|[.,]\d{1,6})"
_PART = re.compile(
    r"(?:(?:(?P<whole>\d{1,5})(?:\s+|\s*-\s*))?(?P<top>\d{1,3})\s*/\s*(?P<bottom>\d{1,3})"
    rf"|(?P<number>{_NUMBER}))\s*(?P<unit>mm|cm|inches|inch|in|ft|m|\"|')?\.?"
)


class LengthError(ValueError):
    """What was typed is not a length; its text is a sentence for the person."""


def parse_length(text: str, unit: str) -> Decimal:
    """Millimeters, to the hundredth, of a length such as ``24 1/2 in``, ``24.5"``, ``2' 1/2"`` or ``622 mm``.

    `unit` ("in" or "mm") is what a bare number is in. Raises LengthError where the text is not a length, where it is
    zero, or where it is longer than 20 m.
    """
    cleaned = text.strip().lower().translate(_MARKS)
    for sign, fraction in _VULGAR.items():
        cleaned = cleaned.replace(sign, f" {fraction}")
    cleaned = cleaned.strip()
    if not cleaned or len(cleaned) > 40:
        raise LengthError("Type a length, such as 24 1/2 in or 622 mm.")
    total, position, last = Decimal(0), 0, None
    while position < len(cleaned):
        part = _PART.match(cleaned, position)
        if part is None:
            raise LengthError(f"“{text.strip()}” is not a length; type one such as 24 1/2 in or 622 mm.")
        factor = _UNITS[part["unit"] or unit]
        if last is not None and factor >= last:
            raise LengthError(f"“{text.strip()}” is not one length; type one such as 24 1/2 in or 622 mm.")
        total += _value(part, text) * factor
        last, position = factor, part.end()
        while position < len(cleaned) and cleaned[position] == " ":
            position += 1
    length = total.quantize(HUNDREDTH, ROUND_HALF_UP)
    if length <= 0:
        raise LengthError("A length has to be more than nothing.")
    if length > LARGEST_MM:
        raise LengthError("That is longer than 20 m; check the unit.")
    return length


def _value(part: re.Match[str], text: str) -> Decimal:
    if part["number"]:
        return Decimal(part["number"].replace(",", "."))
    if int(part["bottom"]) == 0:
        raise LengthError(f"“{text.strip()}” divides by zero.")
    return Decimal(part["whole"] or 0) + Decimal(part["top"]) / Decimal(part["bottom"])


def format_length(mm: Decimal, unit: str) -> str:
    """The length in the studio's unit: inches to the nearest sixteenth as a fraction, or millimeters."""
    if unit == "mm":
        return f"{_plain(mm.quantize(Decimal('0.1'), ROUND_HALF_UP))} mm"
    sixteenths = int((mm / MM_PER_INCH * 16).to_integral_value(ROUND_HALF_UP))
    whole, rest = divmod(sixteenths, 16)
    if not rest:
        return f"{whole} in"
    fraction = Fraction(rest, 16)
    head = f"{whole} " if whole else ""
    return f"{head}{fraction.numerator}/{fraction.denominator} in"


def format_size(width_mm: Decimal, height_mm: Decimal, unit: str) -> str:
    """Width by height, with the unit once: ``24 1/2 x 36 in``."""
    width, height = format_length(width_mm, unit), format_length(height_mm, unit)
    return f"{width.removesuffix(' ' + unit)} × {height}"


def in_units(sentence: str, unit: str) -> str:
    """A sentence whose lengths are in mm and whose areas in cm² or m², said in the studio's unit.

    Inches to the sixteenth; less than one inch to the hundredth, since a sixteenth is more than most gaps. Sheets that
    are bought to the quarter: one of 2440 mm is sold as 96 in (common practice, no published source).
    """
    if unit == "mm":
        return sentence
    sentence = _SAID_SHEET.sub(lambda m: f"{m[1]}{_quarters(m[2])} × {_quarters(m[3])} in", sentence)
    sentence = _SAID_SIZE.sub(lambda m: f"{_inches(m[1])} × {_inches(m[2])} in", sentence)
    sentence = _SAID_LENGTH.sub(lambda m: f"{_inches(m[1])} in", sentence)
    return _SAID_AREA.sub(_said_area, sentence)


def _said_area(area: re.Match[str]) -> str:
    if area[2]:
        return f"{Decimal(area[1]) * 100 / MM_PER_INCH**2:.2f} sq in"
    return f"{Decimal(area[1]) * 1_000_000 / (12 * MM_PER_INCH) ** 2:.2f} sq ft"


def _quarters(mm: str) -> str:
    quarter = MM_PER_INCH / 4
    return _inches(str(quarter * (Decimal(mm) / quarter).to_integral_value(ROUND_HALF_UP)))


def _inches(mm: str) -> str:
    if Decimal(mm) < MM_PER_INCH:
        return f"{Decimal(mm) / MM_PER_INCH:.2f}"
    return format_length(Decimal(mm), "in").removesuffix(" in")


def _plain(number: Decimal) -> str:
    return f"{number:f}".rstrip("0").rstrip(".") if "." in f"{number:f}" else f"{number:f}"
