"""What is known of durations, against scipy and closed forms."""

from __future__ import annotations

import math
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from jobs.planning import Kind, Nature
from jobs.planning.durations import (
    CAP,
    PIECE_SPREAD,
    PRIOR_SHAPE,
    PRIOR_SPREAD,
    PRIOR_WEIGHT,
    Posterior,
    left_by_pieces,
    left_by_time,
    medians,
    posterior,
    sample,
)
from jobs.planning.student import density, from_upper_tail, upper_tail
from tests.planning.shops import BEVEL, CURE, KINDS, MONDAY, TEMPER, work

Z = np.concatenate([np.linspace(-30, 30, 601), [1e-7, 100.0, 1e4]])


@pytest.mark.parametrize("df", [3.0, 6.0, 7.0, 12.0, 51.0, 506.0])
def test_student_is_scipys(df: float) -> None:
    """scipy.stats.t is the outside value; far tails under 1e-290 are not asked for."""
    tail = stats.t.sf(Z, df)
    far = tail > 1e-290
    assert upper_tail(Z, df)[far] == pytest.approx(tail[far], rel=1e-8)
    assert density(Z, df)[far] == pytest.approx(stats.t.pdf(Z, df)[far], rel=1e-9)
    shares = np.concatenate([np.logspace(-14, -0.31, 200), 1 - np.logspace(-9, -0.31, 100)])
    assert from_upper_tail(shares, df) == pytest.approx(stats.t.isf(shares, df), rel=1e-7, abs=1e-9)


@given(st.lists(st.floats(-2, 2), min_size=1, max_size=30), st.randoms(use_true_random=False))
@settings(deadline=None)
def test_the_posterior_is_the_same_all_at_once_and_one_by_one(history: list[float], draw: object) -> None:
    """Conjugacy (Murphy 2007, section 3): updating by one value at a time in any order ends in the same place."""
    k, m, a, b = PRIOR_WEIGHT, 0.0, PRIOR_SHAPE, PRIOR_SHAPE * PRIOR_SPREAD[Nature.ATTENDED] ** 2
    rows = list(history)
    draw.shuffle(rows)  # type: ignore[attr-defined]
    for y in rows:
        b += k * (y - m) ** 2 / (2 * (k + 1))
        m = (k * m + y) / (k + 1)
        k, a = k + 1, a + 0.5
    got = posterior(history, half_life=math.inf)
    assert (got.k, got.m, got.a, got.b) == pytest.approx((k, m, a, b), rel=1e-9, abs=1e-12)


def test_a_forgotten_timer_does_not_spoil_the_history() -> None:
    assert posterior([9.0]) == posterior([CAP])


# From the survival function of Student's t with 12 degrees, location 0 and scale .38 on the log scale, for 10 h.
# The same figures follow from scipy below.
LEFT = {0: (10.0, 13.9, 19.7), 5: (5.2, 9.1, 14.9), 10: (3.0, 6.7, 12.9), 30: (4.6, 11.8, 26.1)}


@pytest.mark.parametrize("hours", LEFT)
def test_what_is_left_after_so_many_hours(hours: int) -> None:
    known = Posterior(1e12, 0.0, 6.0, 6 * 0.38**2)
    got = left_by_time(600, hours * 60, known, np.array([0.5, 0.2, 0.05])) / 60
    assert got == pytest.approx(LEFT[hours], abs=0.06)
    beyond = stats.t.sf(math.log(hours / 10) / 0.38, 12) if hours else 1.0
    scipys = 10 * np.exp(0.38 * stats.t.isf(beyond * np.array([0.5, 0.2, 0.05]), 12)) - hours
    assert got == pytest.approx(scipys, rel=1e-6)


@given(spent=st.integers(1, 100_000), estimate=st.integers(0, 10_000), share=st.floats(1e-9, 1 - 1e-9))
@settings(deadline=None)
def test_an_overrun_never_has_nothing_left_nor_without_end(spent: int, estimate: int, share: float) -> None:
    left = float(left_by_time(estimate, spent, posterior(()), np.array([share]))[0])
    assert 0 <= left <= max(spent * 2.1, max(estimate, 1) * math.exp(CAP))
    row = sample([work(1, 1, BEVEL, estimate, spent=spent)], KINDS, now=MONDAY, seed=1, futures=50)
    assert row.min() >= 1


def test_what_is_left_by_pieces_is_the_product_of_two_normals() -> None:
    """Worked by grid: the prior on the log pace times the likelihood of the pieces so far, both normal."""
    known, pieces, finished, spent, estimate = posterior([0.1, 0.2, -0.1]), 12, 4, 200.0, 300.0
    grid = np.linspace(-5, 5, 200_001)
    weight = stats.norm.pdf(grid, known.m, known.scale) * stats.norm.pdf(
        math.log(spent * pieces / (finished * estimate)), grid, PIECE_SPREAD / math.sqrt(finished)
    )
    weight /= weight.sum()
    mean = float((weight * grid).sum())
    spread = math.sqrt(float((weight * (grid - mean) ** 2).sum()) + PIECE_SPREAD**2 / 8)
    for z in (0.0, 1.0, -1.5):
        got = left_by_pieces(estimate, spent, pieces, finished, known, np.array([z]))[0]
        assert got == pytest.approx(300 * 8 / 12 * math.exp(mean + z * spread), rel=1e-6)


def test_pieces_counted_without_hours_leave_their_share_and_the_last_piece_leaves_something() -> None:
    half = medians([work(1, 1, BEVEL, 600, quantity=10, quantity_done=5)], KINDS, now=MONDAY)
    last = medians([work(1, 1, BEVEL, 600, quantity=10, quantity_done=10, spent=600)], KINDS, now=MONDAY)
    assert half[0, 0] == 300
    assert 1 <= last[0, 0] <= 60


def test_the_draws_of_new_work_have_the_quantiles_of_the_predictive_distribution() -> None:
    """scipy.stats.t is the outside value; 40,000 draws, so the error of a share is about .002."""
    history = (0.3, -0.1, 0.2, 0.5, 0.0, 0.1)
    kind = Kind(BEVEL, "beveling", Nature.ATTENDED, history)
    rows = sample([work(1, 1, BEVEL, 60_000)], [kind], now=MONDAY, seed=5, futures=40_000)[:, 0]
    known = posterior(history)
    for share in (0.05, 0.2, 0.5, 0.8, 0.95):
        edge = 60_000 * math.exp(stats.t.ppf(share, known.df, known.m, known.scale))
        assert (rows <= edge).mean() == pytest.approx(share, abs=0.01)


def test_the_draws_of_started_work_have_the_conditional_quantiles() -> None:
    kind = Kind(BEVEL, "beveling", Nature.ATTENDED, (0.3, -0.1, 0.2, 0.5, 0.0, 0.1))
    known = posterior(kind.log_ratios)
    rows = sample([work(1, 1, BEVEL, 6000, spent=9000)], [kind], now=MONDAY, seed=5, futures=40_000)[:, 0]
    for share in (0.2, 0.5, 0.8, 0.95):
        edge = left_by_time(6000, 9000, known, np.array([1 - share]))[0]
        assert (rows <= edge).mean() == pytest.approx(share, abs=0.01)


def test_work_of_one_kind_and_of_one_job_varies_together() -> None:
    """By hand: of the variance, 1 / (k + 1) is the kind's mean and DIFFICULTY of the rest the job's."""
    rows = [work(1, 1, BEVEL, 10**6), work(2, 1, BEVEL, 10**6), work(3, 2, BEVEL, 10**6)]
    history = (0.2, -0.2) * 20
    kind = Kind(BEVEL, "beveling", Nature.ATTENDED, history)
    logs = np.log(sample(rows, [kind], now=MONDAY, seed=2, futures=40_000))
    together = np.corrcoef(logs.T)
    mean_share = 1 / (posterior(history).k + 1)
    assert together[0, 2] == pytest.approx(mean_share, abs=0.02)
    assert together[0, 1] == pytest.approx(mean_share + 0.25 * (1 - mean_share), abs=0.02)


def test_a_job_more_leaves_the_draws_of_the_others_alone_and_few_futures_begin_many() -> None:
    rows = [work(n, n, BEVEL, 600) for n in range(1, 6)]
    many = sample(rows, KINDS, now=MONDAY, seed=3, futures=200)
    assert np.array_equal(sample(rows[::-2], KINDS, now=MONDAY, seed=3, futures=200), many[:, ::-2])
    assert np.array_equal(sample(rows, KINDS, now=MONDAY, seed=3, futures=32), many[:32])
    assert not np.array_equal(sample(rows, KINDS, now=MONDAY, seed=4, futures=200), many)


def test_a_cure_without_history_is_exact_and_a_supplier_is_not() -> None:
    started = MONDAY - timedelta(minutes=1000)
    rows = [
        work(1, 1, CURE, 1440, started=started),
        work(2, 1, CURE, 1440),
        work(3, 1, CURE, 500, started=started),
        work(4, 1, TEMPER, 14400, started=started),
    ]
    drawn = sample(rows, KINDS, now=MONDAY, seed=1, futures=300)
    assert set(drawn[:, 0].tolist()) == {440}
    assert set(drawn[:, 1].tolist()) == {1440}
    assert set(drawn[:, 2].tolist()) == {0}
    assert len(set(drawn[:, 3].tolist())) > 200
    assert medians(rows, KINDS, now=MONDAY)[0].tolist()[:3] == [440, 1440, 0]


@given(st.lists(st.floats(-2, 2), min_size=1, max_size=8), st.integers(1, 4))
@settings(deadline=None)
def test_a_value_counts_half_when_so_many_newer_ones_are_there(history: list[float], half_life: int) -> None:
    """By the same conjugate update with a fraction of an observation for each, worked out sum by sum."""
    weights = [2 ** (-(len(history) - 1 - i) / half_life) for i in range(len(history))]
    n = sum(weights)
    mean = sum(w * y for w, y in zip(weights, history, strict=True)) / n
    b = PRIOR_SHAPE * PRIOR_SPREAD[Nature.ATTENDED] ** 2
    b += sum(w * (y - mean) ** 2 for w, y in zip(weights, history, strict=True)) / 2
    b += PRIOR_WEIGHT * n * mean**2 / (2 * (PRIOR_WEIGHT + n))
    got = posterior(history, half_life=half_life)
    wanted = (PRIOR_WEIGHT + n, n * mean / (PRIOR_WEIGHT + n), PRIOR_SHAPE + n / 2, b)
    assert (got.k, got.m, got.a, got.b) == pytest.approx(wanted, rel=1e-9, abs=1e-12)
