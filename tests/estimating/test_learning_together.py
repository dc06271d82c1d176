"""Rates that are learned as one factor, and rates that would be learned as negative."""

import numpy as np
import pytest

from jobs.estimating.learning import (
    NOISE,
    RATE_SPREAD,
    Finished,
    fit,
    prior_of,
    propose_rates,
    propose_together,
)
from jobs.estimating.rates import KindRates

CUTTING = KindRates(0, {"": {"piece": 6.0, "curved_edge": 1.5}})


def guessed(pieces: int, minutes: float) -> Finished:
    return Finished({"piece": float(pieces)}, minutes)


def test_all_rates_move_by_one_factor() -> None:
    learned = propose_together(CUTTING, [guessed(pieces, 1.2 * 6 * pieces) for pieces in range(10, 20)])
    # One coefficient, ten entries at 1.2: (P0 + 12) / (P0 + 10) with P0 = (NOISE / RATE_SPREAD)^2 (Murphy 2012, 7.6.3).
    prior = (NOISE / RATE_SPREAD) ** 2
    factor = (prior + 12) / (prior + 10)
    assert [each.learned for each in learned.proposals] == pytest.approx([6 * factor, 1.5 * factor])
    assert [each.panels for each in learned.proposals] == [10, 0]
    assert learned.rates.rates == pytest.approx({"piece": 6 * factor, "curved_edge": 1.5 * factor})
    assert all(each.low < each.learned < each.high for each in learned.proposals)


def test_the_set_up_is_learned_beside_the_factor() -> None:
    rates = KindRates(45, {"": {"piece": 6.0}})
    history = [guessed(pieces, 90 + 6 * pieces) for pieces in (1, 2, 5, 10, 20, 40, 80, 120) * 10]
    setup, piece = propose_together(rates, history).proposals
    assert setup.driver == ""
    assert setup.learned == pytest.approx(90, rel=0.02)
    assert piece.learned == pytest.approx(6, rel=0.02)


def test_the_shares_of_the_steps_stay() -> None:
    rates = KindRates(0, {"roughing": {"piece": 6.0}, "felt": {"piece": 2.0}})
    learned = propose_together(rates, [guessed(10, 160.0)] * 50).rates
    assert learned.steps["roughing"]["piece"] == pytest.approx(3 * learned.steps["felt"]["piece"])


def test_a_prediction_is_in_minutes_of_the_drivers() -> None:
    learned = propose_together(CUTTING, [guessed(pieces, 1.2 * 6 * pieces) for pieces in range(10, 20)])
    _, location, scale = learned.predict({"piece": 100.0, "curved_edge": 40.0})
    piece, edge = (each.learned for each in learned.proposals)
    assert location == pytest.approx(100 * piece + 40 * edge)
    assert scale > 0


def test_a_set_up_alone_is_learned_as_ever() -> None:
    history = [Finished({}, 180.0)] * 30
    one, other = propose_together(KindRates(150), history), propose_rates(KindRates(150), history)
    assert one.proposals == other.proposals


def test_the_rates_that_are_left_make_up_for_one_held_at_nothing() -> None:
    # Minutes that follow the pieces alone and less than nothing of the glass, so that plain least squares is negative.
    rates = KindRates(0, {"": {"piece": 6.0, "glass_m2": 60.0}})
    random = np.random.default_rng(7)
    history = [
        Finished({"piece": float(n), "glass_m2": float(area)}, 14.0 * n - 70.0 * area)
        for n, area in zip(random.integers(20, 60, 80), random.uniform(0.5, 2, 80), strict=True)
    ]
    learned = propose_rates(rates, history)
    assert learned.posterior.mean.min() < 0
    found = np.array([each.learned for each in learned.proposals])
    # Karush, Kuhn and Tucker: no slope where a rate is free, none that would lower a rate held at nothing.
    slope = learned.posterior.precision @ (found - learned.posterior.mean)
    assert found.min() == 0
    assert slope[found > 0] == pytest.approx(0, abs=1e-6)
    assert (slope[found == 0] > 0).all()
    assert all(0 <= each.low <= each.high for each in learned.proposals)


def test_entries_that_fit_exactly_do_not_divide_by_nothing() -> None:
    x = np.ones((9, 1))
    with np.errstate(all="raise"):
        found = fit(x, np.array([1.0] * 4 + [1.1, 0.9, 1.05, 0.95, 10.0]), prior_of(np.array([1.0])))
    assert found.weights[-1] < 0.01
    assert (found.weights[:4] == 1).all()


def test_what_is_left_lies_within_its_own_interval() -> None:
    rates = KindRates(0, {"": {"piece": 6.0, "glass_m2": 60.0}})
    random = np.random.default_rng(7)
    history = [
        Finished({"piece": float(n), "glass_m2": float(area)}, 14.0 * n - 70.0 * area)
        for n, area in zip(random.integers(20, 60, 80), random.uniform(0.5, 2, 80), strict=True)
    ]
    piece, glass = propose_rates(rates, history).proposals
    assert piece.low < piece.learned < piece.high
    assert (glass.low, glass.learned) == (0, 0)
