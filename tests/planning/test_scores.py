"""Scores against scipy, numeric integration and the definitions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from jobs.planning.durations import posterior
from jobs.planning.scores import coverage, crps_sample, crps_student, pinball, pinball_means


@given(st.integers(1, 3000), st.floats(0, 1), st.sampled_from((0.8, 0.95)))
@settings(deadline=None)
def test_the_interval_is_scipys(count: int, part: float, confidence: float) -> None:
    """scipy.stats.binomtest(...).proportion_ci(method="wilson") is the outside value."""
    kept = round(part * count)
    got = coverage(kept, count, confidence=confidence)
    scipys = stats.binomtest(kept, count).proportion_ci(confidence, method="wilson")
    assert (got.low, got.high) == pytest.approx((scipys.low, scipys.high), abs=1e-12)
    assert got.share == kept / count


def test_nothing_counted_says_nothing_and_nonsense_is_refused() -> None:
    got = coverage(0, 0)
    assert math.isnan(got.share)
    assert (got.low, got.high) == (0, 1)
    for kept, count in ((3, 2), (-1, 2), (0, -1)):
        with pytest.raises(ValueError, match="cannot have been kept"):
            coverage(kept, count)


def test_about_250_finished_operations_show_80_percent_within_5_points() -> None:
    got = coverage(200, 250)
    assert (got.high - got.low) / 2 == pytest.approx(0.05, abs=0.002)


def test_pinball_by_hand() -> None:
    """Too early by 10 at the 80 % level costs 8, too late by 10 costs 2."""
    assert pinball([100, 100], [110, 90], 0.8).tolist() == pytest.approx([8, 2])
    assert pinball_means([[100, 100], [0, 0]], [110, 90], (0.8, 0.5)) == pytest.approx((5, 50))


@pytest.mark.parametrize("level", [0.5, 0.8, 0.95])
def test_the_true_quantile_has_the_least_pinball_loss(level: float) -> None:
    draws = np.random.default_rng(1).lognormal(0, 0.4, 200_000)
    true = float(stats.lognorm.ppf(level, 0.4))
    losses = [float(pinball(true * f, draws, level).mean()) for f in (0.9, 1.0, 1.1)]
    assert min(losses) == losses[1]


@pytest.mark.parametrize("history", [(), (0.3, -0.2, 0.1), (0.1, -0.1) * 40])
@pytest.mark.parametrize("actual", [-1.2, 0.0, 0.35, 2.0])
def test_the_closed_form_is_the_integral_of_the_definition(history: tuple[float, ...], actual: float) -> None:
    """CRPS = integral of (F(x) - 1[x >= y])^2 (Matheson and Winkler 1976), by scipy's quadrature and scipy's t."""
    known = posterior(history)
    t = stats.t(known.df, known.m, known.scale)
    below = integrate.quad(lambda x: t.cdf(x) ** 2, -40, actual, limit=200)[0]
    above = integrate.quad(lambda x: t.sf(x) ** 2, actual, 40, limit=200)[0]
    assert crps_student(known, [actual])[0] == pytest.approx(below + above, rel=1e-6)


def test_the_score_of_a_sample_is_its_definition_and_nears_the_closed_form() -> None:
    x = [0.2, 1.4, -0.7, 0.9]
    pairs = sum(abs(a - b) for a in x for b in x) / 32
    assert crps_sample(x, 0.5) == pytest.approx(sum(abs(a - 0.5) for a in x) / 4 - pairs)
    known = posterior((0.3, -0.2, 0.1))
    draws = stats.t.rvs(known.df, known.m, known.scale, size=100_000, random_state=3)
    assert crps_sample(draws, 0.4) == pytest.approx(crps_student(known, [0.4])[0], abs=0.005)
    with pytest.raises(ValueError, match="at least one"):
        crps_sample([], 1.0)
