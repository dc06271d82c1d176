"""How good past dates were: coverage, pinball loss, and the continuous ranked probability score."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from jobs.planning.durations import Posterior
from jobs.planning.student import Floats, density, upper_tail


@dataclass(frozen=True, slots=True)
class Coverage:
    """How many of `count` things came by the time that was given, with Wilson's interval of the share."""

    kept: int
    count: int
    share: float
    low: float
    high: float


def coverage(kept: int, count: int, *, confidence: float = 0.95) -> Coverage:
    """The share kept and its score interval (Wilson 1927); from 0 to 1 where there is nothing to count.

    ValueError unless 0 <= kept <= count.
    """
    if not 0 <= kept <= count:
        raise ValueError(f"Of {count} things {kept} cannot have been kept")
    if count == 0:
        return Coverage(0, 0, math.nan, 0.0, 1.0)
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    share = kept / count
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    return Coverage(kept, count, share, max(0.0, middle - half), min(1.0, middle + half))


def pinball(quantile: ArrayLike, actual: ArrayLike, level: float) -> Floats:
    """The loss of a quantile at a level (Koenker and Bassett 1978): least in the mean for the true quantile."""
    error = np.asarray(actual, np.float64) - np.asarray(quantile, np.float64)
    return np.asarray(np.maximum(level * error, (level - 1) * error), np.float64)


def crps_sample(sample: ArrayLike, actual: float) -> float:
    """The continuous ranked probability score of a sample: E|X - y| - E|X - X'| / 2 (Gneiting and Raftery 2007)."""
    x = np.sort(np.asarray(sample, np.float64))
    n = len(x)
    if n == 0:
        raise ValueError("A score needs at least one draw")
    spread = float((x * (2 * np.arange(1, n + 1) - n - 1)).sum()) / (n * n)
    return float(np.abs(x - actual).mean()) - spread


def crps_student(known: Posterior, actual: ArrayLike) -> Floats:
    """The same of a kind's predictive Student's t for y = ln(actual / estimate), in closed form (Jordan, Krüger and
    Lerch 2019); its degrees of freedom are above one for every history."""
    df = known.df
    z = (np.asarray(actual, np.float64) - known.m) / known.scale
    beta = _beta_ratio(df)
    below = 1 - upper_tail(z, df)
    score = z * (2 * below - 1) + 2 * density(z, df) * (df + z * z) / (df - 1) - beta
    return np.asarray(known.scale * score, np.float64)


def _beta_ratio(df: float) -> float:
    """2 sqrt(df) / (df - 1) * B(1/2, df - 1/2) / B(1/2, df / 2)^2."""
    return 2 * math.sqrt(df) / (df - 1) * math.exp(_log_beta(0.5, df - 0.5) - 2 * _log_beta(0.5, df / 2))


def _log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)


def pinball_means(
    quantiles: Sequence[ArrayLike], actual: ArrayLike, levels: Sequence[float]
) -> tuple[float, ...]:
    """The mean loss at each level."""
    return tuple(float(pinball(q, actual, level).mean()) for q, level in zip(quantiles, levels, strict=True))
