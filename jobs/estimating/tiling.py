"""A full-size drawing over sheets of paper that overlap, so that they can be laid on one another and glued."""

from dataclasses import dataclass
from math import ceil
from string import ascii_uppercase

# As wide as a strip of tape holds; common practice, no published source.
OVERLAP_MM = 10.0
# More than these nobody glues together.
MOST_SHEETS = 200


@dataclass(frozen=True, slots=True)
class Tile:
    """One sheet: row A, B from the top, column 1, 2 from the left; its place in the drawing in millimeters."""

    name: str
    x: float
    y: float
    width: float
    height: float


def tiles(
    width_mm: float, height_mm: float, room_width_mm: float, room_height_mm: float
) -> tuple[list[Tile], list[tuple[float, float]]]:
    """The sheets of a drawing, row by row, and the places of the register marks: the middles of the overlaps.

    A sheet shows `room` millimeters of the drawing and shares OVERLAP_MM with each neighbor. Every mark lies on each
    sheet that meets there. ValueError where a sheet is no larger than the overlap, or the drawing has no size.
    """
    if min(width_mm, height_mm) <= 0 or min(room_width_mm, room_height_mm) <= OVERLAP_MM:
        raise ValueError("a drawing with a size, and sheets larger than their overlap")
    across, down = room_width_mm - OVERLAP_MM, room_height_mm - OVERLAP_MM
    columns = max(1, ceil((width_mm - OVERLAP_MM) / across - 1e-9))
    rows = max(1, ceil((height_mm - OVERLAP_MM) / down - 1e-9))
    found = [
        Tile(f"{_letters(row)}{column + 1}", column * across, row * down, room_width_mm, room_height_mm)
        for row in range(rows)
        for column in range(columns)
    ]
    half = OVERLAP_MM / 2
    marks = [
        (column * across + half, row * down + half)
        for row in range(rows + 1)
        for column in range(columns + 1)
    ]
    return found, marks


def _letters(place: int) -> str:
    high, low = divmod(place, 26)
    return (ascii_uppercase[high - 1] if high else "") + ascii_uppercase[low]
