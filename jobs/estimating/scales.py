"""The scale that a drawing is shown at, so that it fits a sheet of paper."""

from dataclasses import dataclass
from decimal import Decimal

# One to so many. Those for inches are whole fractions of an inch to the foot.
METRIC = (1, 2, 5, 10, 20, 25, 50, 100)
INCH = {
    1: "full size",
    2: "6 in to 1 ft",
    4: "3 in to 1 ft",
    8: "1 1/2 in to 1 ft",
    12: "1 in to 1 ft",
    16: "3/4 in to 1 ft",
    24: "1/2 in to 1 ft",
    48: "1/4 in to 1 ft",
    96: "1/8 in to 1 ft",
}


@dataclass(frozen=True, slots=True)
class Scale:
    """One to `ratio`; `words` as it is written on the sheet."""

    ratio: int
    words: str

    def on_paper(self, mm: Decimal) -> Decimal:
        """Millimeters on paper, to the thousandth."""
        return (mm / self.ratio).quantize(Decimal("0.001"))


def fitting_scale(
    width_mm: Decimal, height_mm: Decimal, room_width_mm: Decimal, room_height_mm: Decimal, unit: str
) -> Scale:
    """The largest usual scale at which so wide and high a panel fits the room; `unit` is "in" or "mm".

    A panel beyond all of them gets the whole number that just fits.
    """
    if min(width_mm, height_mm, room_width_mm, room_height_mm) <= 0:
        raise ValueError("A drawing and its room are more than nothing.")
    least = max(width_mm / room_width_mm, height_mm / room_height_mm)
    for ratio in INCH if unit == "in" else METRIC:
        if ratio >= least:
            return Scale(ratio, _words(ratio, unit))
    ratio = int(least) + 1
    return Scale(ratio, f"1:{ratio}")


def _words(ratio: int, unit: str) -> str:
    if ratio == 1:
        return "1:1 (full size)"
    return f"1:{ratio} ({INCH[ratio]})" if unit == "in" else f"1:{ratio}"
