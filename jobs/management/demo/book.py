"""The demo studio's book of rates, by which it estimates, and how far what work really takes is off from it.

Both are invented. The book is the rates that come with the set-up, times the studio's own share of each kind; what the
work really takes follows the same quantities, each at a rate of its own that nobody in the studio knows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from jobs.estimating.rates import DEFAULT_RATES, KindRates

from .quantities import Quantities
from .records import Kind

SETUP = ""
# By slug: the studio's own share of the rates per driver that come with the set-up.
SHARES = {
    "pattern": 0.95,
    "cutting": 0.9,
    "beveling": 0.76,
    "transfer-and-resist": 1.45,
    "blasting": 1.4,
    "soldering": 1.2,
    "cleaning": 1.05,
    "packing": 0.9,
}
# What it really takes, as a multiple of the book: the set-up, and what is done per driver.
REALLY: dict[str, dict[str, float]] = {
    "pattern": {SETUP: 1.1, "piece": 1.2},
    "cutting": {SETUP: 0.95, "piece": 1.2, "hard_piece": 1.2, "inner_corner": 0.9},
    "beveling": {SETUP: 0.9, "beveled_m:plate": 1.1, "piece": 1.05},
    "transfer-and-resist": {"carved_m2:medium": 1.12},
    "blasting": {"carved_m2:medium": 1.05},
    "assembly": {"piece": 1.08, "came_m": 0.97},
    "soldering": {"joint": 0.93},
    "cementing": {"glass_m2": 1.1},
    "cleaning": {"glass_m2": 1.1, "joint": 1.05},
    "packing": {SETUP: 0.92},
    "delivery": {SETUP: 1.1},
    "installation": {"glass_m2": 1.1},
}


def slug(kind: Kind) -> str:
    return kind.name.lower().replace(" ", "-")


def rates(name: str) -> KindRates:
    """The book's rates of a kind by its slug, to the hundredth of a minute as they are written down."""
    usual, share = DEFAULT_RATES[name], SHARES.get(name, 1.0)
    steps = {
        step: {driver: round(minutes * share, 2) for driver, minutes in each.items()}
        for step, each in usual.steps.items()
    }
    return KindRates(usual.setup, steps, usual.slope)


def is_booked(kind: Kind) -> bool:
    return slug(kind) in DEFAULT_RATES


def minutes(kind: Kind, parts: Iterable[tuple[Quantities, int]]) -> tuple[float, float]:
    """By the book and really, of work that is done once for these panels, each with its copies."""
    name, parts = slug(kind), list(parts)
    book, off = rates(name), REALLY.get(name, {})
    return _together(book.setup, book.rates, {}, parts), _together(book.setup, book.rates, off, parts)


def _together(
    setup: float,
    per: Mapping[str, float],
    off: Mapping[str, float],
    parts: Iterable[tuple[Quantities, int]],
) -> float:
    return setup * off.get(SETUP, 1.0) + sum(
        copies * sum(rate * off.get(driver, 1.0) * found.get(driver, 0.0) for driver, rate in per.items())
        for found, copies in parts
    )
