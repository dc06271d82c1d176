"""How long work takes, and how unsure that is.

For each kind of operation, y = ln(actual / estimate) of finished work gives a normal-inverse-gamma posterior
(Murphy 2007, "Conjugate Bayesian analysis of the Gaussian distribution"; Gelman et al., BDA3, ch. 3) and so a Student's
t for the next y. Draws are joint: in one future all operations of a kind share one draw of the kind's mean and spread,
and all operations of a job share its difficulty. Draws belong to ids, so that a job more or less leaves the draws of
all others alone (common random numbers), and the first futures of many are the same as those of few.
Gates are drawn by the day (see gates.py); holds end on the day that is expected (see check.py).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from jobs.planning.calendars import to_minute
from jobs.planning.shop import Kind, Nature, Operation
from jobs.planning.student import Floats, from_upper_tail, upper_tail

CAP = 2.5  # Largest |y|: a twelfth or twelve times the estimate. exp(t) has no mean without it.
DIFFICULTY = (
    0.25  # The share of an operation's variance that it has in common with its job. Practice, no source.
)
PIECE_SPREAD = 0.5  # Log standard deviation of one piece's time. Practice, no source.
HALF_LIFE = 30.0  # Finished operations of a kind after which an older one counts half. Practice, no source.
PRIOR_WEIGHT = 1.0  # The prior counts as so many finished operations ...
PRIOR_SHAPE = 3.0  # ... and twice this many degrees of freedom.
PRIOR_SPREAD = {Nature.ATTENDED: 0.3, Nature.OUTSIDE: 0.2, Nature.CURE: 0.05}  # Practice, no source.

_MEAN, _SPREAD, _JOB, _OPERATION, GATE = 1, 2, 3, 4, 5
_MASK = (1 << 64) - 1
_BLOCK = 128  # So many operations at a time: few calls, and what they work on stays near the processor.


@dataclass(frozen=True, slots=True)
class Posterior:
    """What is known about ln(actual / estimate) of a kind: normal-inverse-gamma with these four numbers."""

    k: float
    m: float
    a: float
    b: float

    @property
    def df(self) -> float:
        """Degrees of freedom of the next y."""
        return 2 * self.a

    @property
    def scale(self) -> float:
        """Scale of the next y."""
        return math.sqrt(self.b * (1 + 1 / self.k) / self.a)


def posterior(
    log_ratios: Sequence[float], nature: Nature = Nature.ATTENDED, *, half_life: float = HALF_LIFE
) -> Posterior:
    """Update the weak prior with a history, oldest first, each value capped at CAP (a timer left running is not work).

    A value counts half for every `half_life` newer ones (discounting, West and Harrison, "Bayesian Forecasting and
    Dynamic Models", from memory), because people learn and estimates are mended; math.inf counts all alike.
    """
    y = np.clip(np.asarray(log_ratios, np.float64), -CAP, CAP)
    prior_b = PRIOR_SHAPE * PRIOR_SPREAD[nature] ** 2
    n = len(y)
    if n == 0:
        return Posterior(PRIOR_WEIGHT, 0.0, PRIOR_SHAPE, prior_b)
    weight = 0.5 ** (np.arange(n - 1, -1, -1) / half_life)
    counted = float(weight.sum())
    mean = float((weight * y).sum()) / counted
    k = PRIOR_WEIGHT + counted
    squares = float((weight * (y - mean) ** 2).sum())
    b = prior_b + squares / 2 + PRIOR_WEIGHT * counted * mean**2 / (2 * k)
    return Posterior(k, counted * mean / k, PRIOR_SHAPE + counted / 2, b)


class Streams:
    """Random numbers of their own for each thing, by a counter-based cipher with the thing's id in its key."""

    def __init__(self, seed: int) -> None:
        self.seed = seed & _MASK
        self.bits = np.random.Philox(key=0)
        self.state = self.bits.state
        self.generator = np.random.Generator(self.bits)

    def of(self, stream: int, number: int) -> np.random.Generator:
        """The stream of one thing from its beginning, good until the next one is asked for."""
        # To set the key is several times as fast as to make a generator.
        self.state["state"]["key"] = np.array([self.seed, (stream << 56) ^ (number & _MASK)], np.uint64)
        self.bits.state = self.state
        return self.generator


def exact(kind: Kind) -> bool:
    """A cure without a history lasts exactly its time."""
    return kind.nature is Nature.CURE and not kind.log_ratios


@dataclass(frozen=True, slots=True)
class Draws:
    """The joint draws of one kind: mean and spread in each future, and the standardized error of that mean."""

    known: Posterior
    mean: Floats
    spread: Floats
    error: Floats


def kind_draws(kind: Kind, streams: Streams, futures: int) -> Draws:
    """One draw of the kind's mean and spread for each future."""
    known = posterior(kind.log_ratios, kind.nature)
    error = streams.of(_MEAN, kind.id).standard_normal(futures)
    spread = np.sqrt(known.b / streams.of(_SPREAD, kind.id).standard_gamma(known.a, futures))
    return Draws(known, known.m + error * spread / math.sqrt(known.k), spread, error)


def left_by_time(estimate: float, spent: float, known: Posterior, share: Floats) -> Floats:
    """What is left of work that has taken `spent` so far, given that it took that long: for each share u of (0, 1)
    the amount that is exceeded with probability u. Never zero, however long the work has overrun."""
    estimate = max(estimate, 1.0)
    least = math.log(spent / estimate) if spent > 0 else -math.inf
    z = (least - known.m) / known.scale
    beyond = float(upper_tail(np.array([z]), known.df)[0]) if spent > 0 else 1.0
    y = known.m + known.scale * from_upper_tail(beyond * share, known.df)
    # The cap gives way to an overrun: of work that is past it, up to twice as much again can be left.
    y = np.clip(y, -CAP, max(CAP, least + 1.1))
    return np.asarray(np.maximum(estimate * np.exp(y) - spent, 0.0), np.float64)


def left_by_pieces(
    estimate: float, spent: float, pieces: int, finished: float, known: Posterior, z: Floats
) -> Floats:
    """What is left with so many of the pieces finished in `spent` (> 0), for each standard normal z.

    The pieces so far say how hard this work is (precision finished / PIECE_SPREAD^2) and the history says so too
    (precision 1 / scale^2). `finished` may be a part of a piece, and is weighed by what pieces ask for where that is
    known. With every piece counted but the work not finished, half a piece is taken to be left.
    """
    estimate = max(estimate, 1.0)
    remaining = max(pieces - finished, 0.5)
    p, q = 1 / known.scale**2, finished / PIECE_SPREAD**2
    middle = (p * known.m + q * math.log(spent * pieces / (finished * estimate))) / (p + q)
    spread = math.sqrt(1 / (p + q) + PIECE_SPREAD**2 / remaining)
    deviation = np.clip(spread * z, -CAP, CAP)
    return np.asarray(estimate * remaining / pieces * np.exp(middle + deviation), np.float64)


def _elapsed(operation: Operation, nature: Nature, now: datetime) -> int:
    """Minutes that the operation has taken so far."""
    if nature is Nature.ATTENDED:
        return operation.spent
    if operation.started is None:
        return 0
    return max(0, to_minute(now) - to_minute(operation.started))


def _left(operation: Operation, kind: Kind, known: Posterior, now: datetime, y: Floats, z: Floats) -> Floats:
    """What is left of an operation for draws y of ln(actual / estimate) and the same draws standardized, z."""
    spent = _elapsed(operation, kind.nature, now)
    if exact(kind):
        return np.full(len(y), float(max(0, operation.minutes - spent)))
    pieces = operation.quantity if kind.nature is Nature.ATTENDED else 0
    finished = operation.finished_pieces if pieces else 0.0
    if finished and spent:
        return left_by_pieces(operation.minutes, spent, pieces, finished, known, z)
    if spent:
        share = np.clip(upper_tail((y - known.m) / known.scale, known.df), 1e-12, 1 - 1e-12)
        return left_by_time(operation.minutes, spent, known, share)
    open_share = max(pieces - finished, 0.5) / pieces if pieces and finished else 1.0
    return np.asarray(operation.minutes * open_share * np.exp(np.clip(y, -CAP, CAP)), np.float64)


def _whole(left: Floats, nature: Nature) -> NDArray[np.int32]:
    """Whole minutes; work at a bench takes one at least."""
    least = 1 if nature is Nature.ATTENDED else 0
    return np.maximum(np.rint(np.minimum(left, 2**29)), least).astype(np.int32)


def _fresh(operation: Operation, kind: Kind, now: datetime) -> bool:
    """Whether nothing is known of an operation but its kind's history."""
    counted = kind.nature is Nature.ATTENDED and operation.finished_pieces
    return not (exact(kind) or counted or _elapsed(operation, kind.nature, now))


def sample(
    operations: Sequence[Operation], kinds: Iterable[Kind], *, now: datetime, seed: int, futures: int
) -> NDArray[np.int32]:
    """What is left of each operation in each future: minutes at pace 1 or elapsed ones, futures x operations."""
    streams = Streams(seed)
    known = {kind.id: kind for kind in kinds}
    of_kind = {number: kind_draws(known[number], streams, futures) for number in {o.kind for o in operations}}
    of_job = {
        number: streams.of(_JOB, number).standard_normal(futures) * math.sqrt(DIFFICULTY)
        for number in {o.job for o in operations}
    }
    found = np.empty((futures, len(operations)), np.int32)
    noise = np.empty((_BLOCK, futures))
    y = np.empty((_BLOCK, futures))
    for first in range(0, len(operations), _BLOCK):
        rows = operations[first : first + _BLOCK]
        for i, operation in enumerate(rows):
            draws = of_kind[operation.kind]
            streams.of(_OPERATION, operation.id).standard_normal(out=noise[i])
            noise[i] *= math.sqrt(1 - DIFFICULTY)
            noise[i] += of_job[operation.job]
            np.multiply(draws.spread, noise[i], out=y[i])
            y[i] += draws.mean
        block = _block(rows, known, of_kind, now, y[: len(rows)], noise[: len(rows)])
        found[:, first : first + len(rows)] = block.T
    return found


def _block(
    rows: Sequence[Operation],
    known: Mapping[int, Kind],
    of_kind: Mapping[int, Draws],
    now: datetime,
    y: Floats,
    noise: Floats,
) -> NDArray[np.int32]:
    """What is left of some operations for draws y of ln(actual / estimate) and the noise in them, both of one shape,
    which it is free to write over."""
    begun = [i for i, o in enumerate(rows) if not _fresh(o, known[o.kind], now)]
    left = {}
    for i in begun:
        operation, draws = rows[i], of_kind[rows[i].kind]
        k, z = draws.known.k, noise[i]
        if operation.finished_pieces:
            z = (draws.error + math.sqrt(k) * z) / math.sqrt(k + 1)
        left[i] = _left(operation, known[operation.kind], draws.known, now, y[i], z)
    np.clip(y, -CAP, CAP, out=y)
    np.exp(y, out=y)
    y *= np.array([o.minutes for o in rows], np.float64)[:, None]
    for i, minutes in left.items():
        y[i] = minutes
    np.minimum(y, 2**29, out=y)
    np.rint(y, out=y)
    least = [1 if known[o.kind].nature is Nature.ATTENDED else 0 for o in rows]
    return np.maximum(y, np.array(least, np.float64)[:, None], out=y).astype(np.int32)


def medians(operations: Sequence[Operation], kinds: Iterable[Kind], *, now: datetime) -> NDArray[np.int32]:
    """What is left of each operation in the middle: minutes, one row."""
    known = {kind.id: kind for kind in kinds}
    learned = {number: posterior(kind.log_ratios, kind.nature) for number, kind in known.items()}
    row = np.empty((1, len(operations)), np.int32)
    for i, operation in enumerate(operations):
        kind, so_far = known[operation.kind], learned[operation.kind]
        left = _left(operation, kind, so_far, now, np.array([so_far.m]), np.zeros(1))
        row[0, i] = _whole(left, kind.nature)[0]
    return row
