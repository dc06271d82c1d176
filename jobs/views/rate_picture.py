"""Estimated against actual as a picture: one mark an entry, both axes in hours on a logarithmic scale."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from jobs.actions.learning import Point

SIZE, EDGE = 400, 46
HOURS = (0.25, 0.5, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512)


@dataclass(frozen=True, slots=True)
class Mark:
    x: float
    y: float
    odd: bool
    measured: bool


@dataclass(frozen=True, slots=True)
class Tick:
    at: float  # From the left; from the top it is `down`.
    down: float
    word: str


@dataclass(frozen=True, slots=True)
class Picture:
    """Marks and ticks in the units of a square of SIZE; the frame begins at EDGE from the left and ends at `foot`."""

    marks: tuple[Mark, ...]
    ticks: tuple[Tick, ...]
    size: int = SIZE
    edge: int = EDGE
    far: int = SIZE - 22
    top: int = 22
    foot: int = SIZE - EDGE


def draw(points: Sequence[Point]) -> Picture | None:
    """None where there is nothing to show."""
    shown = [point for point in points if point.estimated > 0 and point.actual > 0]
    if not shown:
        return None
    hours = [minutes / 60 for point in shown for minutes in (point.estimated, point.actual)]
    low = max((hour for hour in HOURS if hour <= min(hours)), default=HOURS[0])
    high = min((hour for hour in HOURS if hour >= max(hours)), default=HOURS[-1])
    if high <= low:
        high = low * 2
    span = math.log(high / low)

    def along(hour: float) -> float:
        share = min(max(math.log(max(hour, 1e-6) / low) / span, 0.0), 1.0)
        return round(share * (SIZE - EDGE - 22), 1)

    ticks = [hour for hour in HOURS if low <= hour <= high]
    step = -(-len(ticks) // 7)
    return Picture(
        tuple(
            Mark(
                EDGE + along(point.estimated / 60),
                SIZE - EDGE - along(point.actual / 60),
                point.odd,
                point.measured,
            )
            for point in shown
        ),
        tuple(Tick(EDGE + along(hour), SIZE - EDGE - along(hour), f"{hour:g} h") for hour in ticks[::step]),
    )
