"""Student's t distribution, as far as the planner needs it: upper tail and its inverse, for arrays.

By the regularized incomplete beta function and its continued fraction (Abramowitz and Stegun 26.5.8 and 26.7.1).
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_TINY = 1e-300
_GRID = np.sinh(np.linspace(0.0, np.arcsinh(1e7), 400))


def _fraction(a: float, b: float, x: Floats) -> Floats:
    """The continued fraction of the incomplete beta function, by Lentz's method; x below (a + 1) / (a + b + 2)."""
    c = np.ones_like(x)
    d = 1 - (a + b) * x / (a + 1)
    d = 1 / np.where(np.abs(d) < _TINY, _TINY, d)
    total, step = d.copy(), d
    for m in range(1, 500):
        for part in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 + part * d
            d = 1 / np.where(np.abs(d) < _TINY, _TINY, d)
            c = 1 + part / c
            c = np.where(np.abs(c) < _TINY, _TINY, c)
            step = c * d
            total *= step
        if np.all(np.abs(step - 1) < 1e-15):
            break
    return total


def _beta(a: float, b: float, x: Floats, rest: Floats) -> Floats:
    """The regularized incomplete beta function I_x(a, b); `rest` is 1 - x, to all its digits."""
    front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    logs = front + a * np.log(np.maximum(x, _TINY)) + b * np.log(np.maximum(rest, _TINY))
    result = np.empty_like(x)
    low = x < (a + 1) / (a + b + 2)
    result[low] = np.exp(logs[low]) / a * _fraction(a, b, x[low])
    result[~low] = 1 - np.exp(logs[~low]) / b * _fraction(b, a, rest[~low])
    return result


def upper_tail(z: Floats, df: float) -> Floats:
    """P(t > z) with df degrees of freedom."""
    half = 0.5 * _beta(df / 2, 0.5, df / (df + z * z), z * z / (df + z * z))
    return np.where(z >= 0, half, 1 - half)


def density(z: Floats, df: float) -> Floats:
    """The density of t with df degrees of freedom."""
    front = math.lgamma((df + 1) / 2) - math.lgamma(df / 2) - 0.5 * math.log(df * math.pi)
    return np.asarray(np.exp(front - (df + 1) / 2 * np.log1p(z * z / df)), np.float64)


@lru_cache(maxsize=64)
def _falling(df: float) -> Floats:
    """-ln P(t > z) on the grid, which is the same for all work of a kind."""
    return np.asarray(-np.log(np.maximum(upper_tail(_GRID, df), _TINY)), np.float64)


def from_upper_tail(share: Floats, df: float) -> Floats:
    """The z with P(t > z) = share, 0 < share < 1; a share below that of z = 1e7 gives 1e7."""
    small = np.clip(np.minimum(share, 1 - share), _TINY, 0.5)
    z = np.interp(-np.log(small), _falling(df), _GRID)
    for _ in range(3):
        tail = np.maximum(upper_tail(z, df), _TINY)
        step = np.log(tail / small) * tail / np.maximum(density(z, df), _TINY)
        z = np.clip(z + step, 0.0, _GRID[-1])
    return np.where(share > 0.5, -z, z)
