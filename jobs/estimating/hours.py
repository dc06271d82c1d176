"""Hours of work as people type and read them, kept as whole minutes."""

import re
from decimal import ROUND_HALF_UP, Decimal

LARGEST_MINUTES = 5_000_000
_CLOCK = re.compile(r"(\d{1,5}):([0-5]\d)")
_NUMBER = r"(?:\d{1,5}(?:[.,]\d{1,4})?|[.,]\d{1,4})"
_HOUR = r"(?:hours|hour|hrs|hr|h)"
_MINUTES = r"\s*(?P<minutes>\d{1,7})\s*(?:minutes|minute|min|m)"
_WORDS = re.compile(rf"(?P<hours>{_NUMBER})\s*{_HOUR}?|(?:(?P<whole>{_NUMBER})\s*{_HOUR})?{_MINUTES}")


class HoursError(ValueError):
    """What was typed is not an amount of time; its text is a sentence for the person, `words` with `values` in it."""

    def __init__(self, words: str, **values: str) -> None:
        super().__init__(words % values if values else words)
        self.words, self.values = words, values


def parse_hours(text: str) -> int:
    """Whole minutes of ``4:30``, ``4.5``, ``4.5 h``, ``4 h 30 min`` or ``270 min``; a bare number is hours.

    Raises HoursError where the text is none of these or far too long.
    """
    cleaned = text.strip().lower().replace("\u00a0", " ")
    if not cleaned or len(cleaned) > 30:
        raise HoursError("Type hours, such as 4:30 or 4.5.")
    clock = _CLOCK.fullmatch(cleaned)
    if clock:
        minutes = int(clock[1]) * 60 + int(clock[2])
    else:
        words = _WORDS.fullmatch(cleaned)
        if words is None:
            raise HoursError(
                "“%(text)s” is not an amount of time; type hours, such as 4:30 or 4.5.", text=text.strip()
            )
        hours = Decimal((words["hours"] or words["whole"] or "0").replace(",", "."))
        minutes = int((hours * 60).to_integral_value(ROUND_HALF_UP)) + int(words["minutes"] or 0)
    if minutes > LARGEST_MINUTES:
        raise HoursError("That is more than anybody can work; type hours, such as 4:30 or 4.5.")
    return minutes


def format_hours(minutes: int, style: str) -> str:
    """``4:30`` for the style "clock", ``4.5 h`` for "decimal" (to the tenth, halves away from zero)."""
    sign, minutes = ("−", -minutes) if minutes < 0 else ("", minutes)
    if style == "decimal":
        return f"{sign}{(Decimal(minutes) / 60).quantize(Decimal('0.1'), ROUND_HALF_UP)} h"
    return f"{sign}{minutes // 60}:{minutes % 60:02d}"
