import math

import numpy as np
import pytest
from scipy import stats

from jobs.estimating.learning import Finished, LearningError, Prior, fit, prior_of, propose_rates
from jobs.estimating.rates import KindRates

# Wing lengths of nine midges, mm: Hoff, A First Course in Bayesian Statistical Methods (2009), section 5.3.
WINGS = np.array([1.64, 1.70, 1.72, 1.74, 1.82, 1.82, 1.82, 1.90, 2.08])


def test_the_midges_of_the_textbook() -> None:
    # mu0 = 1.9, kappa0 = 1, nu0 = 1, sigma0^2 = .01 give mu_n = 1.814, kappa_n = nu_n = 10, sigma_n^2 = .015
    # (values as Hoff prints them; from memory).
    prior = Prior(np.array([1.9]), np.eye(1), 0.5, 0.5 * 0.01)
    found = fit(np.ones((9, 1)), WINGS, prior, robust=False)
    assert found.mean[0] == pytest.approx(1.814, abs=5e-4)
    assert found.precision[0, 0] == 10
    assert 2 * found.shape == 10
    assert found.scale / found.shape == pytest.approx(0.015, abs=5e-4)


def _history(seed: int, many: int) -> tuple[np.ndarray, np.ndarray, Prior]:
    random = np.random.default_rng(seed)
    x = np.column_stack([np.ones(many), random.uniform(1, 5, many), random.uniform(0, 2, many)])
    precision = np.array([[2.0, 0.3, 0.0], [0.3, 4.0, 0.1], [0.0, 0.1, 1.0]])
    prior = Prior(np.array([1.0, 2.0, -1.0]), precision, 3.0, 2.0)
    return x, x @ np.array([0.8, 2.3, -0.5]) + random.normal(0, 0.7, many), prior


def _log_evidence(x: np.ndarray, y: np.ndarray, prior: Prior) -> float:
    """ln p(y) in closed form, by scipy: y is multivariate Student t before anything is seen."""
    shape = prior.scale / prior.shape * (np.eye(len(y)) + x @ np.linalg.solve(prior.precision, x.T))
    return float(stats.multivariate_t.logpdf(y, x @ prior.mean, shape, df=2 * prior.shape))


def test_a_prediction_is_the_ratio_of_two_evidences() -> None:
    # p(new | old) = p(old, new) / p(old): nothing of the posterior's formulas is in the reference.
    x, y, prior = _history(1, 12)
    found = fit(x[:-1], y[:-1], prior, robust=False)
    degrees, location, scale = found.predictive(x[-1])
    for value in np.linspace(location - 4 * scale, location + 4 * scale, 9):
        reference = _log_evidence(x, np.append(y[:-1], value), prior) - _log_evidence(x[:-1], y[:-1], prior)
        assert stats.t.logpdf(value, degrees, location, scale) == pytest.approx(reference, abs=1e-8)


def test_all_at_once_or_one_after_the_other() -> None:
    x, y, prior = _history(2, 20)
    whole = fit(x, y, prior, robust=False)
    first = fit(x[:7], y[:7], prior, robust=False)
    second = fit(x[7:], y[7:], Prior(first.mean, first.precision, first.shape, first.scale), robust=False)
    assert second.mean == pytest.approx(whole.mean, abs=1e-10)
    assert second.scale == pytest.approx(whole.scale, abs=1e-10)
    assert second.shape == whole.shape


def test_a_weak_prior_gives_least_squares() -> None:
    x, y, _ = _history(3, 40)
    found = fit(x, y, Prior(np.zeros(3), np.eye(3) * 1e-12, 1e-9, 1e-9), robust=False)
    reference, *_ = np.linalg.lstsq(x, y, rcond=None)
    assert found.mean == pytest.approx(reference, abs=1e-8)


def test_an_interval_is_that_of_students_t() -> None:
    x, y, prior = _history(4, 15)
    found = fit(x, y, prior, robust=False)
    low, high = found.interval(0.9)
    covariance = found.scale / found.shape * np.linalg.inv(found.precision)
    reference = stats.t.interval(0.9, 2 * found.shape, found.mean, np.sqrt(np.diag(covariance)))
    assert low == pytest.approx(reference[0], abs=1e-8)
    assert high == pytest.approx(reference[1], abs=1e-8)


def _drawn(random: np.random.Generator, prior: Prior, many: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """True rates from the prior, and a history from them."""
    variance = 1 / random.gamma(prior.shape, 1 / prior.scale)
    truth = random.multivariate_normal(prior.mean, variance * np.linalg.inv(prior.precision))
    pieces, meters = random.integers(4, 60, many), random.uniform(2, 20, many)
    x = np.column_stack([np.ones(many), pieces, meters])
    x = x / (x @ prior.mean)[:, None]
    return truth, x, x @ truth + random.normal(0, math.sqrt(variance), many)


@pytest.mark.parametrize("robust", [False, True])
def test_learned_rates_cover_the_truth_as_often_as_they_say(robust: bool) -> None:
    # Simulation-based calibration (Talts et al. 2018): the rank of the truth in its posterior is uniform.
    random, prior = np.random.default_rng(7), prior_of(np.array([45.0, 6.0, 12.0]))
    ranks, inside = np.empty((500, 3)), np.empty((500, 3), bool)
    for i in range(500):
        truth, x, y = _drawn(random, prior, 30)
        found = fit(x, y, prior, robust=robust)
        ranks[i] = stats.t.cdf(truth, 2 * found.shape, found.mean, found.spread())
        low, high = found.interval(0.8)
        inside[i] = (low <= truth) & (truth <= high)
    # Four standard errors of a share of .8 in 500.
    assert inside.mean(axis=0) == pytest.approx(np.full(3, 0.8), abs=4 * math.sqrt(0.16 / 500))
    for k in range(3):
        assert stats.kstest(ranks[:, k], "uniform").pvalue > 1e-3


def _shop(seed: int, wrong: float) -> list[Finished]:
    """Cutting that takes 60 min of set-up and 8 min a piece, give or take a fifth; a share is wrong by ten."""
    random = np.random.default_rng(seed)
    history = []
    for i in range(120):
        pieces = int(random.integers(5, 80))
        minutes = (60 + 8 * pieces) * random.normal(1, 0.2)
        if i < 120 * wrong:
            minutes *= 10 if i % 2 else 0.1
        history.append(Finished({"piece": pieces}, minutes))
    return history


PRESENT = KindRates(45, {"": {"piece": 6.0}})


@pytest.mark.parametrize("seed", range(6))
def test_five_percent_wrong_by_ten_leave_the_rates_sane(seed: int) -> None:
    sound, spoiled = (propose_rates(PRESENT, _shop(seed, share)) for share in (0.0, 0.05))
    assert spoiled.rates.rates["piece"] == pytest.approx(8, rel=0.1)
    assert spoiled.rates.rates["piece"] == pytest.approx(sound.rates.rates["piece"], rel=0.05)
    assert {1, 3, 5} <= set(spoiled.odd)
    # The spread of a prediction grows by less than a half.
    assert spoiled.predict({"piece": 30})[2] < 1.5 * sound.predict({"piece": 30})[2]


def test_without_the_weights_they_would_not_be_sane() -> None:
    history = _shop(0, 0.05)
    now = np.array([45.0, 6.0])
    rows = np.array([[1.0, each.drivers["piece"]] for each in history])
    sizes = rows @ now
    ratios = np.array([each.minutes for each in history]) / sizes
    x = rows / sizes[:, None]
    plain, weighted = (fit(x, ratios, prior_of(now), robust=robust) for robust in (False, True))
    assert abs(plain.mean[1] - 8) > abs(weighted.mean[1] - 8)
    assert plain.scale / plain.shape > 10 * weighted.scale / weighted.shape


def test_what_the_lead_is_shown() -> None:
    learned = propose_rates(PRESENT, _shop(3, 0.0))
    setup, piece = learned.proposals
    assert (setup.driver, piece.driver) == ("", "piece")
    assert (piece.now, piece.panels) == (6.0, 120)
    assert piece.low < piece.learned < piece.high


def test_no_history_leaves_the_rates() -> None:
    learned = propose_rates(PRESENT, [])
    assert learned.rates == PRESENT
    assert [proposal.panels for proposal in learned.proposals] == [0, 0]


def test_a_driver_that_never_came_up_stays() -> None:
    present = KindRates(45, {"": {"piece": 6.0, "hard_piece": 9.0}})
    learned = propose_rates(present, _shop(1, 0.0))
    assert learned.rates.rates["hard_piece"] == pytest.approx(9)


def test_a_rate_is_never_negative() -> None:
    history = [Finished({"piece": n, "curved_edge": 4 * n}, 5.0 * n) for n in range(5, 60)]
    learned = propose_rates(KindRates(0, {"": {"piece": 6, "curved_edge": 3}}), history)
    assert all(rate >= 0 for rate in learned.rates.rates.values())
    assert all(proposal.low >= 0 for proposal in learned.proposals)


def test_a_prediction_covers_what_comes() -> None:
    learned = propose_rates(PRESENT, _shop(5, 0.0))
    random = np.random.default_rng(11)
    degrees, location, scale = learned.predict({"piece": 40})
    low, high = stats.t.interval(0.8, degrees, location, scale)
    share = np.mean((low < (came := (60 + 320) * random.normal(1, 0.2, 2000))) & (came < high))
    assert share == pytest.approx(0.8, abs=0.08)


@pytest.mark.parametrize("minutes", [float("nan"), float("inf"), -1.0])
def test_an_entry_that_cannot_be_is_refused(minutes: float) -> None:
    with pytest.raises(LearningError):
        propose_rates(PRESENT, [Finished({"piece": 3}, minutes)])


def test_a_kind_without_rates_is_refused() -> None:
    with pytest.raises(LearningError):
        propose_rates(KindRates(), [])


def test_a_history_of_another_kind_is_refused() -> None:
    with pytest.raises(LearningError):
        fit(np.ones((3, 2)), np.ones(3), prior_of(np.array([1.0])))


def test_a_history_with_something_that_is_no_number_is_refused() -> None:
    with pytest.raises(LearningError):
        fit(np.full((3, 1), np.nan), np.ones(3), prior_of(np.array([1.0])))
