"""Scores against those of the package scoringrules, to nine digits."""

from __future__ import annotations

import numpy as np
import pytest
import scoringrules

from jobs.planning.durations import posterior
from jobs.planning.scores import crps_sample, crps_student, pinball

ACTUAL = np.linspace(-2.4, 2.4, 25)
DRAWS = np.random.default_rng(1).normal(0.1, 0.4, 300)


@pytest.mark.parametrize("history", [(), (0.3, -0.2, 0.1), (0.1, -0.1) * 40])
def test_the_score_of_students_t(history: tuple[float, ...]) -> None:
    known = posterior(history)
    theirs = scoringrules.crps_t(ACTUAL, known.df, known.m, known.scale)
    assert crps_student(known, ACTUAL) == pytest.approx(np.asarray(theirs), abs=1e-9)


def test_the_score_of_a_sample() -> None:
    """Their estimator "nrg" is the energy form E|X - y| - E|X - X'| / 2 over all pairs."""
    for actual in ACTUAL.tolist():
        theirs = float(scoringrules.crps_ensemble(actual, DRAWS, estimator="nrg"))
        assert crps_sample(DRAWS, actual) == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("level", [0.5, 0.8, 0.95])
def test_the_loss_of_a_quantile(level: float) -> None:
    theirs = scoringrules.quantile_score(ACTUAL, 0.3, level)
    assert pinball(0.3, ACTUAL, level) == pytest.approx(np.asarray(theirs), abs=1e-9)
