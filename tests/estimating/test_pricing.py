import math
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from scipy import stats

from jobs.estimating.pricing import (
    Item,
    Labor,
    Line,
    OutsideOffer,
    Part,
    QuoteError,
    Spread,
    Terms,
    best_offer,
    cents,
    labor_samples,
    quote,
    risk_allowance,
)

TODAY = date(2025, 3, 3)
CUTTING = Labor("cutting", 240, Decimal(60))
BEVELING = Labor("beveling", 1800, Decimal(75), breakable=True)
GLASS = Item(Part.MATERIAL, "plate glass", Decimal("120.00"), Decimal("0.25"), breakable=True)
CRATE = Item(Part.PACKING, "crate", Decimal(80))


def test_a_quote_by_hand() -> None:
    terms = Terms(tax=Decimal("0.08"), breakage=Decimal("0.02"), round_to=Decimal(5))
    made = quote([CUTTING, BEVELING], [GLASS, CRATE], terms, on=TODAY)
    # 240 + 2250 + 150 + 80, and 2 % of 2250 + 150.
    assert made.lines == (
        Line(Part.LABOR, "cutting", Decimal("240.00"), 240),
        Line(Part.LABOR, "beveling", Decimal("2250.00"), 1800),
        Line(Part.MATERIAL, "plate glass", Decimal("150.00")),
        Line(Part.PACKING, "crate", Decimal("80.00")),
        Line(Part.BREAKAGE, "allowance for breakage", Decimal("48.00")),
    )
    assert (made.net, made.rounding) == (Decimal("2770.00"), Decimal("2.00"))
    assert (made.tax, made.gross) == (Decimal("221.60"), Decimal("2991.60"))
    assert (made.deposit, made.balance) == (Decimal("1495.80"), Decimal("1495.80"))
    assert made.valid_until == date(2025, 4, 2)


def test_the_parts_of_a_quote_add_up() -> None:
    terms = Terms(tax=Decimal("0.0825"), deposit=Decimal(1) / 3, round_to=Decimal("0.05"))
    made = quote([replace(CUTTING, minutes=7, per_hour=Decimal("61.37"))], [GLASS], terms, on=TODAY)
    assert sum(line.amount for line in made.lines) + made.rounding == made.net
    assert made.net + made.tax == made.gross == made.deposit + made.balance
    assert made.net % Decimal("0.05") == 0


@pytest.mark.parametrize(
    ("amount", "step", "rounded"),
    [
        ("0.005", "0.01", "0.01"),
        ("2.675", "0.01", "2.68"),
        ("12.5", "5", "15"),
        ("12.49", "5", "10"),
        ("7", "1", "7"),
    ],
)
def test_halves_are_rounded_up(amount: str, step: str, rounded: str) -> None:
    assert cents(Decimal(amount), Decimal(step)) == Decimal(rounded)


def test_one_kind_at_its_quantile() -> None:
    labor = [replace(BEVELING, spread=Spread(12, 0.1, 0.3))]
    allowance = risk_allowance(labor, Terms(confidence=0.8))
    needed = 2250 * math.exp(stats.t.ppf(0.8, 12, 0.1, 0.3))
    assert float(allowance) == pytest.approx(needed - 2250, rel=0.03)


def test_two_kinds_at_the_quantile_of_their_sum() -> None:
    """Against the convolution of the two on a fine grid, which draws nothing."""
    labor = [Labor(kind, 600, Decimal(60), Spread(10, 0.0, 0.4)) for kind in ("cutting", "building")]
    step = 2.0
    edges = np.arange(0, 12_000, step)
    mass = np.diff(stats.t.cdf(np.log(np.maximum(edges, 1e-9) / 600), 10, 0, 0.4))
    total = np.convolve(mass, mass).cumsum()
    exact = step * (np.searchsorted(total, 0.8) + 1)
    samples = labor_samples(labor, difficulty=0.0, seed=1)
    assert np.quantile(samples, 0.8) == pytest.approx(exact, rel=0.015)
    alone = 600 * math.exp(stats.t.ppf(0.8, 10, 0, 0.4))
    assert np.quantile(samples, 0.8) < 0.97 * 2 * alone


def test_work_that_is_hard_together_adds_quantiles() -> None:
    labor = [Labor(kind, 600, Decimal(60), Spread(10, 0.0, 0.4)) for kind in ("cutting", "building")]
    samples = labor_samples(labor, difficulty=1.0, seed=1)
    assert np.quantile(samples, 0.8) == pytest.approx(1200 * math.exp(stats.t.ppf(0.8, 10, 0, 0.4)), rel=0.02)


def test_what_is_not_known_of_a_kind_is_shared_by_its_panels() -> None:
    """Wholly shared, two panels are as one of twice the hours; not shared at all, they even out."""
    one = Labor("beveling", 1200, Decimal(60), Spread(10, 0.0, 0.4, 1.0))
    two = [Labor("beveling", 600, Decimal(60), Spread(10, 0.0, 0.4, shared)) for shared in (1.0, 0.5, 0.0)]
    at_80 = [
        np.quantile(labor_samples(labor, difficulty=0.0, seed=3), 0.8)
        for labor in ([one], [two[0]] * 2, [two[1]] * 2, [two[2]] * 2)
    ]
    assert at_80[1] == pytest.approx(at_80[0], rel=0.02)
    assert at_80[1] > at_80[2] > at_80[3]


def test_kinds_that_share_nothing_draw_by_themselves() -> None:
    labor = [Labor(kind, 600, Decimal(60), Spread(10, 0.0, 0.4, 1.0)) for kind in ("cutting", "building")]
    apart = [Labor(kind, 600, Decimal(60), Spread(10, 0.0, 0.4)) for kind in ("cutting", "building")]
    at_80 = [np.quantile(labor_samples(rows, difficulty=0.0, seed=3), 0.8) for rows in (labor, apart)]
    assert at_80[0] == pytest.approx(at_80[1], rel=0.02)


def test_more_confidence_costs_more() -> None:
    labor = [replace(BEVELING, spread=Spread(12, 0.1, 0.3))]
    costs = [risk_allowance(labor, Terms(confidence=share)) for share in (0.5, 0.8, 0.95)]
    assert costs == sorted(costs)
    assert costs[0] < costs[2]


def test_estimates_that_are_too_high_give_nothing_back() -> None:
    labor = [replace(BEVELING, spread=Spread(12, -0.5, 0.1))]
    assert risk_allowance(labor, Terms(confidence=0.8)) == 0


def test_no_record_no_allowance() -> None:
    assert risk_allowance([BEVELING], Terms(confidence=0.95)) == 0


def test_same_seed_same_quote() -> None:
    labor = [replace(BEVELING, spread=Spread(12, 0.1, 0.3))]
    first, second = (quote(labor, [GLASS], Terms(confidence=0.8), on=TODAY, seed=4) for _ in range(2))
    assert first == second
    assert first.lines[-1].part == Part.RISK


@pytest.mark.parametrize(
    "changes",
    [
        {"tax": Decimal(-1)},
        {"tax": Decimal(2)},
        {"deposit": Decimal("1.1")},
        {"confidence": 0.4},
        {"confidence": 1.0},
        {"breakage": Decimal(2)},
        {"difficulty": -0.1},
        {"round_to": Decimal(0)},
        {"valid_days": 0},
    ],
)
def test_terms_that_cannot_be_are_refused(changes: dict[str, object]) -> None:
    with pytest.raises(QuoteError):
        Terms(**changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("labor", "item"),
    [
        (replace(CUTTING, minutes=-1), CRATE),
        (replace(CUTTING, per_hour=Decimal("NaN")), CRATE),
        (replace(CUTTING, per_hour=Decimal(-1)), CRATE),
        (CUTTING, replace(CRATE, cost=Decimal(-1))),
        (CUTTING, replace(CRATE, cost=Decimal("Infinity"))),
        (CUTTING, replace(CRATE, markup=Decimal(-1))),
        (CUTTING, replace(CRATE, part=Part.LABOR)),
        (CUTTING, replace(CRATE, part=Part.RISK)),
    ],
)
def test_what_cannot_be_priced_is_refused(labor: Labor, item: Item) -> None:
    with pytest.raises(QuoteError):
        quote([labor], [item], Terms(), on=TODAY)


@pytest.mark.parametrize("spread", [(0, 0, 1), (5, 0, -1), (5, 3, 1), (math.nan, 0, 1), (5, math.nan, 1)])
def test_a_record_that_cannot_be_is_refused(spread: tuple[float, float, float]) -> None:
    with pytest.raises(QuoteError):
        Spread(*spread)


def test_outside_work_by_area_and_at_least_its_minimum() -> None:
    offer = OutsideOffer(per_m2=Decimal(120), minimum=Decimal(40), days=10)
    # 600 x 900 mm are 0.54 m²; 0.25 m² would be 30, which is less than the minimum.
    assert offer.price(Decimal(540_000)) == Decimal("64.80")
    assert offer.price(Decimal(250_000)) == Decimal(40)
    assert offer.price(Decimal(250_000), copies=3) == Decimal(120)


def test_the_offer_that_costs_least_for_the_panel() -> None:
    cheap_when_small = OutsideOffer(Decimal(150), Decimal(20), 12)
    cheap_when_large = OutsideOffer(Decimal(100), Decimal(60), 12)
    faster = OutsideOffer(Decimal(100), Decimal(60), 5)
    offers = [cheap_when_small, cheap_when_large, faster]
    assert best_offer(offers, Decimal(100_000)) == 0
    assert best_offer(offers, Decimal(2_000_000)) == 2
    assert best_offer([], Decimal(1)) is None


@pytest.mark.parametrize("wrong", [{"per_m2": Decimal(-1)}, {"minimum": Decimal(-1)}, {"days": -1}])
def test_an_offer_that_cannot_be_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(QuoteError):
        OutsideOffer(**{"per_m2": Decimal(1)} | wrong)
