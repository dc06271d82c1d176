"""Minutes of each kind of work from a takeoff: a set-up, and a rate for each driver.

The default rates are common practice, with no published source; the studio edits them and learns its own. They agree
with what a mid-sized beveled window takes (some 4 h of cutting, 30 of beveling, 8 of building) and a large carved mural
(more than 100 h at the blast cabinet).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from jobs.estimating.takeoff import Takeoff

DRIVERS: dict[str, str] = {
    "piece": "piece",
    "hard_piece": "piece that is hard to cut",
    "curved_edge": "curved edge",
    "inner_corner": "inner corner",
    "came_m": "meter of came",
    "joint": "joint",
    "glass_m2": "square meter of glass",
    "beveled_m:thin": "meter of 25 mm bevel, glass up to 4 mm",
    "beveled_m:plate": "meter of 25 mm bevel, glass up to 7 mm",
    "beveled_m:thick": "meter of 25 mm bevel, glass up to 13 mm",
    "beveled_m:slab": "meter of 25 mm bevel, thicker glass",
    "carved_m2:shallow": "square meter carved up to 1 mm deep",
    "carved_m2:medium": "square meter carved up to 4 mm deep",
    "carved_m2:deep": "square meter carved deeper",
}


class RatesError(ValueError):
    """Rates that cannot be; the text is a sentence for the person."""


@dataclass(frozen=True, slots=True)
class KindRates:
    """Set-up minutes of one kind of work and its minutes per driver, step by step (a wheel is a step; "" the only one).

    `slope` is the learning slope from copy to copy: 1 for none, 0.8 where each doubling takes a fifth off.
    """

    setup: float = 0.0
    steps: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    slope: float = 1.0

    def __post_init__(self) -> None:
        numbers = [self.setup, *(rate for step in self.steps.values() for rate in step.values())]
        if any(not math.isfinite(n) or n < 0 for n in numbers):
            raise RatesError("Rates are minutes, and not less than none.")
        if not 0.5 <= self.slope <= 1:
            raise RatesError("A learning slope is from 0.5 to 1; 1 is no learning.")
        unknown = {driver for step in self.steps.values() for driver in step} - DRIVERS.keys()
        if unknown:
            raise RatesError(f"There is no rate per “{min(unknown)}”.")

    @property
    def rates(self) -> dict[str, float]:
        """Minutes per driver, all steps together."""
        total: dict[str, float] = {}
        for step in self.steps.values():
            for driver, rate in step.items():
                total[driver] = total.get(driver, 0.0) + rate
        return total

    def scaled_to(self, setup: float, rates: Mapping[str, float]) -> KindRates:
        """These rates with the set-up and totals given; each step keeps its share of its driver's total."""
        now = self.rates
        steps = {
            name: {d: r * rates.get(d, now[d]) / now[d] if now[d] else r for d, r in step.items()}
            for name, step in self.steps.items()
        }
        return KindRates(setup, steps, self.slope)


def unit_minutes(takeoff: Takeoff, rates: KindRates) -> float:
    """Minutes of the first copy, without its set-up."""
    quantities = takeoff.drivers()
    return sum(rate * quantities.get(driver, 0.0) for driver, rate in rates.rates.items())


def nth_share(n: int, slope: float) -> float:
    """How long the n-th copy takes as a share of the first: n ** log2(slope) (Wright 1936; from memory)."""
    return float(n ** math.log2(slope))


def copies_share(copies: int, slope: float) -> float:
    """How long so many copies take together, as a multiple of the first."""
    return float(copies) if slope == 1 else sum(nth_share(n, slope) for n in range(1, copies + 1))


def estimate(takeoff: Takeoff, rates: KindRates, copies: int = 1) -> int:
    """Whole minutes of one kind of work on so many identical panels, which share one set-up."""
    return estimate_together([(takeoff, copies)], rates)


def estimate_together(takeoffs: Sequence[tuple[Takeoff, int]], rates: KindRates) -> int:
    """Whole minutes of work that is done once for several panels, each given with its copies: one set-up for all."""
    minutes = rates.setup
    for takeoff, copies in takeoffs:
        if copies < 1:
            raise RatesError("There is at least one copy of a panel.")
        minutes += unit_minutes(takeoff, rates) * copies_share(copies, rates.slope)
    return int(Decimal(minutes).to_integral_value(ROUND_HALF_UP))


def _wheel(thin: float, plate: float, thick: float, slab: float, piece: float) -> dict[str, float]:
    return {
        "beveled_m:thin": thin,
        "beveled_m:plate": plate,
        "beveled_m:thick": thick,
        "beveled_m:slab": slab,
        "piece": piece,
    }


# By the slug of the kind of operation. Common practice, no published source.
DEFAULT_RATES: dict[str, KindRates] = {
    "pattern": KindRates(60, {"": {"piece": 2.0, "curved_edge": 0.3}}),
    "cutting": KindRates(
        45, {"": {"piece": 6.3, "curved_edge": 1.5, "inner_corner": 3.0, "hard_piece": 6.0}}
    ),
    "beveling": KindRates(
        120,
        {
            "roughing": _wheel(19, 24, 45, 90, 3),
            "smoothing": _wheel(16, 20, 36, 70, 2),
            "fine grinding": _wheel(13, 16, 28, 55, 2),
            "cork": _wheel(12, 14, 20, 36, 2),
            "felt": _wheel(10, 12, 16, 28, 1),
        },
    ),
    "transfer-and-resist": KindRates(
        30, {"": {"carved_m2:shallow": 180, "carved_m2:medium": 360, "carved_m2:deep": 480}}
    ),
    "blasting": KindRates(
        60, {"": {"carved_m2:shallow": 240, "carved_m2:medium": 1440, "carved_m2:deep": 2880, "piece": 2}}
    ),
    "assembly": KindRates(90, {"": {"piece": 6.0, "came_m": 12.5, "curved_edge": 0.7}}),
    "soldering": KindRates(30, {"": {"joint": 1.0}}),
    "cementing": KindRates(45, {"": {"glass_m2": 60, "came_m": 3}}),
    "cleaning": KindRates(45, {"": {"glass_m2": 60, "joint": 0.4}}),
    "packing": KindRates(45, {"": {"glass_m2": 25}}),
    "delivery": KindRates(150),
    "installation": KindRates(180, {"": {"glass_m2": 200}}),
}
