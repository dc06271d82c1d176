"""What each piece of a pattern asks for, so that half of the pieces is not taken for half of the work.

The worth of a piece is its share of one kind of work, where a piece as the average of them is worth 1. It follows from
the kind's rates and the piece's own drivers. What no single piece has (a joint, the set-up) is left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from jobs.estimating.rates import KindRates
from jobs.estimating.takeoff import REFERENCE_BEVEL_MM, THICKNESS_CLASSES, class_of

_RANGE = re.compile(r"(\d{1,6})(?:-(\d{1,6}))?")
MOST = 20_000
BEVELED = "beveled_m:"


@dataclass(frozen=True, slots=True)
class PieceFacts:
    """A piece as it was measured, lengths in mm; `bevel_mm` is the width of its bevel, None where it has none."""

    number: int
    perimeter_mm: float
    area_mm2: float
    curved_edges: int = 0
    inner_corners: int = 0
    hard: bool = False
    thickness_mm: float = 6.35
    bevel_mm: float | None = None

    def drivers(self) -> dict[str, float]:
        """What rates are given per, of this piece alone. Half of each lead line around it is its own."""
        found = {
            "piece": 1.0,
            "hard_piece": float(self.hard),
            "curved_edge": float(self.curved_edges),
            "inner_corner": float(self.inner_corners),
            "came_m": self.perimeter_mm / 2e3,
            "glass_m2": self.area_mm2 / 1e6,
        }
        if self.bevel_mm:
            driver = BEVELED + class_of(self.thickness_mm, THICKNESS_CLASSES)
            found[driver] = self.perimeter_mm / 1e3 * self.bevel_mm / REFERENCE_BEVEL_MM
        return found


def works_bevels(rates: KindRates) -> bool:
    """Whether the kind is paid for by the length of bevel, so that a piece without one is none of its work."""
    return any(driver.startswith(BEVELED) and rate for driver, rate in rates.rates.items())


def worths(
    pieces: Iterable[PieceFacts], rates: KindRates, steps: Sequence[str] = (), counted: float | None = None
) -> dict[int, tuple[float, ...]]:
    """By its number, what each step of a piece is worth.

    All together are worth as many pieces as are `counted` in one copy (by default all). Where fewer are counted than
    there is work on, since others share the work, those that there is work on are worth 1 as the average of them.
    Rates of a step that the kind does not have are shared among the steps that have none of their own, or among all.
    Where the rates say nothing about pieces, each is worth 1, in equal parts.
    """
    names = tuple(steps) or ("",)
    known = list(pieces)
    beveled = works_bevels(rates) and any(piece.bevel_mm for piece in known)
    minutes = {
        piece.number: [0.0] * len(names)
        if beveled and not piece.bevel_mm
        else _minutes(piece.drivers(), rates, names)
        for piece in known
    }
    whole = sum(map(sum, minutes.values()))
    if not whole:
        return {number: (1 / len(names),) * len(names) for number in minutes}
    some = sum(any(each) for each in minutes.values())
    together = max(some, min(len(known) if counted is None else counted, len(known)))
    return {number: tuple(m * together / whole for m in each) for number, each in minutes.items()}


def _minutes(drivers: Mapping[str, float], rates: KindRates, names: Sequence[str]) -> list[float]:
    by_step = {
        name: sum(rate * drivers.get(driver, 0.0) for driver, rate in step.items())
        for name, step in rates.steps.items()
    }
    found = [by_step.get(name, 0.0) for name in names]
    over = sum(minutes for name, minutes in by_step.items() if name not in names)
    takes = [name not in by_step for name in names]
    if not any(takes):
        takes = [True] * len(names)
    return [m + over * take / sum(takes) for m, take in zip(found, takes, strict=True)]


def parse_numbers(text: str) -> list[int]:
    """The numbers of ``3, 7-9``, each once and in order. ValueError for anything else and for more than MOST."""
    found: set[int] = set()
    for part in text.replace(" ", "").split(","):
        match = _RANGE.fullmatch(part)
        if match is None:
            raise ValueError(f"no numbers of pieces: {text}")
        first, last = int(match[1]), int(match[2] or match[1])
        if not 1 <= first <= last or last - first >= MOST:
            raise ValueError(f"no numbers of pieces: {text}")
        found.update(range(first, last + 1))
    if len(found) > MOST:
        raise ValueError(f"no numbers of pieces: {text}")
    return sorted(found)


def format_numbers(numbers: Iterable[int]) -> str:
    """The numbers as ``3, 7-9``."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(f"{a}" if a == b else f"{a}-{b}" for a, b in runs)
