"""Rates learned from finished work: Bayesian linear regression with a normal-inverse-gamma prior.

Minutes y of a finished operation with drivers x (the set-up counts as the driver 1) and present estimate e = x . b0:

    y / e = (x / e) . b + sigma * noise,   b | sigma^2 ~ N(b0, sigma^2 inv(P0)),   sigma^2 ~ InvGamma(a0, c0)

so that the noise is a share of the work, not minutes, and the present rates b0 are what is believed beforehand.
Posterior (Gelman et al., BDA3, ch. 14; Murphy 2012, 7.6.3): P = P0 + X'WX; m = inv(P)(P0 b0 + X'Wy); a = a0 + n / 2;
c = c0 + ((y - Xm)'W(y - Xm) + (m - b0)'P0(m - b0)) / 2. Predictive: Student t with 2a degrees.

**Odd entries.** W is the identity but for entries farther than three robust standard deviations (1.4826 times the
median absolute residual) from the fit: these weigh (3 s / r)^2, found by repeating the fit. An entry wrong by a factor
of ten then pulls like one of a hundredth, and adds to the spread no more than one at three deviations. Of sound normal
entries .3 % are touched, which leaves the stated probabilities what they are.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from jobs.estimating.linework import Floats
from jobs.estimating.rates import KindRates

# What is believed before there is history; common practice, no published source.
RATE_SPREAD = 0.35  # A present rate may be off by a third or so.
NOISE = 0.25  # Two panels of one takeoff differ by a quarter or so.
PRIOR_SHAPE = 2.0  # As if that noise had been seen in four panels.
FAR = 3.0


class LearningError(ValueError):
    """The history cannot be learned from; the text is a sentence for the person."""


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """mean: k; precision: k x k, to be divided by sigma^2; sigma^2 ~ InvGamma(shape, scale)."""

    mean: Floats
    precision: Floats
    shape: float
    scale: float


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """As Prior, with the weight that each entry was given and how many there were."""

    mean: Floats
    precision: Floats
    shape: float
    scale: float
    weights: Floats
    entries: int

    def spread(self) -> Floats:
        """The scale of each coefficient's Student t, which has 2 shape degrees of freedom."""
        covariance = np.linalg.inv(self.precision) * self.scale / self.shape
        return np.asarray(np.sqrt(np.diag(covariance)))

    def interval(self, level: float) -> tuple[Floats, Floats]:
        """Lower and upper bound of each coefficient's central credible interval."""
        from scipy.special import stdtrit

        reach = float(stdtrit(2 * self.shape, 0.5 + level / 2)) * self.spread()
        return self.mean - reach, self.mean + reach

    def predictive(self, x: Floats, size: float = 1.0) -> tuple[float, float, float]:
        """Degrees, location and scale of the Student t of a new entry x whose noise is `size` times sigma."""
        location = float(x @ self.mean)
        variance = self.scale / self.shape * (size**2 + float(x @ np.linalg.solve(self.precision, x)))
        return 2 * self.shape, location, math.sqrt(variance)


def fit(x: Floats, y: Floats, prior: Prior, *, robust: bool = True) -> Posterior:
    """The posterior of n entries: x is n x k, y is n, their noise being alike. Without `robust` all weigh the same."""
    x, y = np.asarray(x, np.float64), np.asarray(y, np.float64)
    if x.ndim != 2 or x.shape != (len(y), len(prior.mean)):
        raise LearningError("The history does not fit the rates.")
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise LearningError("The history has an entry that is not a number.")
    weights = _weights(x, y, prior) if robust and len(y) > 2 else np.ones(len(y))
    return _conjugate(x, y, prior, weights)


def _conjugate(x: Floats, y: Floats, prior: Prior, weights: Floats) -> Posterior:
    weighted = x.T * weights
    precision = prior.precision + weighted @ x
    mean = np.linalg.solve(precision, prior.precision @ prior.mean + weighted @ y)
    residual, moved = y - x @ mean, mean - prior.mean
    scale = prior.scale + (residual @ (weights * residual) + moved @ prior.precision @ moved) / 2
    return Posterior(mean, precision, prior.shape + len(y) / 2, float(scale), weights, len(y))


def _weights(x: Floats, y: Floats, prior: Prior) -> Floats:
    """The weights of the module's text. Begins from the prior's rates times their median error, which no minority
    of wrong entries can carry away."""
    expected = x @ prior.mean
    ratio = float(np.median(y[expected != 0] / expected[expected != 0])) if (expected != 0).any() else 1.0
    residual = y - ratio * expected
    weights = np.ones(len(y))
    for _ in range(50):
        spread = 1.4826 * float(np.median(np.abs(residual)))
        if spread <= 0:
            break
        far = FAR * spread
        new = (far / np.maximum(np.abs(residual), far)) ** 2
        if np.abs(new - weights).max() < 1e-6:
            break
        weights = new
        residual = y - x @ _conjugate(x, y, prior, weights).mean
    return weights


@dataclass(frozen=True, slots=True)
class Finished:
    """A finished operation: the drivers of all its copies together, and the minutes that it took."""

    drivers: Mapping[str, float]
    minutes: float
    set_ups: int = 1


@dataclass(frozen=True, slots=True)
class Proposal:
    """A rate now and as learned, in minutes, with its 80 % interval and the operations that have such a driver."""

    driver: str
    now: float
    learned: float
    low: float
    high: float
    panels: int


@dataclass(frozen=True, slots=True, eq=False)
class Learned:
    """What the history of one kind says. The driver "" is the set-up. `odd` are the entries that hardly counted.
    `together` are the rates that were learned as one, up to a factor (see propose_together).

    A prediction is of minutes: Student t with `predict`'s degrees, location and scale.
    """

    proposals: tuple[Proposal, ...]
    posterior: Posterior
    odd: tuple[int, ...]
    rates: KindRates
    drivers: tuple[str, ...]
    now: Floats
    together: KindRates | None = None

    def predict(self, drivers: Mapping[str, float], set_ups: int = 1) -> tuple[float, float, float]:
        if self.together is not None:
            drivers = _as_one(drivers, self.together)
        x = _row(self.drivers, drivers, set_ups)
        return self.posterior.predictive(x, float(x @ self.now))


def prior_of(present: Floats) -> Prior:
    """What is believed when the present rates are these: each within RATE_SPREAD of itself, noise about NOISE."""
    spread = np.maximum(RATE_SPREAD * present, 1e-6) / NOISE
    # The mean of InvGamma(a, c) is c / (a - 1).
    return Prior(present, np.diag(spread**-2), PRIOR_SHAPE, NOISE**2 * (PRIOR_SHAPE - 1))


def _not_negative(posterior: Posterior) -> Floats:
    """The likeliest coefficients of which none is negative: the others make up for those that are held at nothing."""
    from scipy.optimize import nnls

    if (posterior.mean >= 0).all():
        return posterior.mean
    # (b - m)'P(b - m) is the squared length of R(b - m), with P = R'R.
    root = np.linalg.cholesky(posterior.precision).T
    return np.asarray(nnls(root, root @ posterior.mean)[0], np.float64)


def _interval(posterior: Posterior, learned: Floats, level: float) -> tuple[Floats, Floats]:
    """Central intervals of what was learned, given that the coefficients that are held at nothing are nothing."""
    low, high = posterior.interval(level)
    free = learned > 0
    if free.all():
        return low, high
    rest = replace(posterior, mean=learned[free], precision=posterior.precision[np.ix_(free, free)])
    low[free], high[free] = rest.interval(level)
    return low, high


def _row(names: Sequence[str], drivers: Mapping[str, float], set_ups: int) -> Floats:
    return np.array([float(set_ups) if name == "" else drivers.get(name, 0.0) for name in names])


def propose_rates(present: KindRates, history: Sequence[Finished], *, level: float = 0.8) -> Learned:
    """Rates learned from the finished operations of one kind, beside the present ones; nothing is accepted by this.

    A rate that is nothing now stays so: the studio has said that it does not count. Learned rates are never negative.
    """
    rates = present.rates
    names = ("", *rates) if present.setup > 0 else tuple(rates)
    names = tuple(name for name in names if name == "" or rates[name] > 0)
    now = np.array([present.setup if name == "" else rates[name] for name in names])
    if not len(now):
        raise LearningError("This kind of work has no rates to learn.")
    rows = [_row(names, each.drivers, each.set_ups) for each in history]
    sizes = np.array([float(row @ now) for row in rows])
    for each, size in zip(history, sizes, strict=True):
        if not (math.isfinite(each.minutes) and each.minutes >= 0 and math.isfinite(size)):
            raise LearningError("The history has an entry that is not a number.")
    counted = np.flatnonzero(sizes > 0).tolist()
    x = np.array([rows[i] / sizes[i] for i in counted]).reshape(len(counted), len(now))
    y = np.array([history[i].minutes / sizes[i] for i in counted])
    posterior = fit(x, y, prior_of(now))
    learned = _not_negative(posterior)
    low, high = _interval(posterior, learned, level)
    seen = (x > 0).sum(axis=0)
    proposals = tuple(
        Proposal(
            name,
            float(now[k]),
            float(learned[k]),
            max(float(low[k]), 0.0),
            max(float(high[k]), 0.0),
            int(seen[k]),
        )
        for k, name in enumerate(names)
    )
    found = dict(zip(names, learned.tolist(), strict=True))
    setup = found.pop("", present.setup)
    odd = tuple(counted[i] for i in np.flatnonzero(posterior.weights < 0.25))
    return Learned(proposals, posterior, odd, present.scaled_to(setup, found), names, now)


ALL = "piece"  # Stands for all drivers together where their rates are learned as one.


def _as_one(drivers: Mapping[str, float], rates: KindRates) -> dict[str, float]:
    return {ALL: sum(rate * drivers.get(driver, 0.0) for driver, rate in rates.rates.items())}


def propose_together(present: KindRates, history: Sequence[Finished], *, level: float = 0.8) -> Learned:
    """`propose_rates` for takeoffs that were guessed from size and pieces: all rates move by one factor.

    Guessed quantities follow from one another, so that they cannot say which of the rates is wrong, only by how much
    all of them are. The set-up is learned beside them.
    """
    if not any(present.rates.values()):
        return propose_rates(present, history, level=level)
    stand_in = KindRates(present.setup, {"": {ALL: 1.0}}, present.slope)
    as_one = [Finished(_as_one(each.drivers, present), each.minutes, each.set_ups) for each in history]
    learned = propose_rates(stand_in, as_one, level=level)
    factor = next(each for each in learned.proposals if each.driver == ALL)
    setup = [each for each in learned.proposals if each.driver == ""]
    each_driver = [
        Proposal(
            driver,
            rate,
            rate * factor.learned,
            rate * factor.low,
            rate * factor.high,
            sum(each.drivers.get(driver, 0.0) > 0 for each in history),
        )
        for driver, rate in present.rates.items()
        if rate > 0
    ]
    rates = present.scaled_to(
        setup[0].learned if setup else present.setup, {each.driver: each.learned for each in each_driver}
    )
    return replace(learned, proposals=(*setup, *each_driver), rates=rates, together=present)
