"""How long work takes in the demo studio: a law of its own, made up, not the planner's and not fitted to it.

What an operation really takes, in minutes at pace 1, is

    content = work x difficulty(job) x Gamma(shape(kind)) / shape(kind)

with difficulty a Gamma of shape 45 and mean 1 drawn once a job, and the work what the quantities of its panel come to
at the rates that nobody knows (book.py). What has no rates, is done again after a breakage or was estimated by its
route takes its estimate x habit(kind) for work. A person gets through `rate` of it in a minute:

    rate = stated pace x what the statement is off x Gamma(90)/90 drawn for that person and day

and the apprentice begins at 60 % of the pace stated today and comes up to it over fourteen months. An outside
shop takes its days times a Gamma of shape 14 and never less than 60 % of them.
All of it is from imagination; it has no published source.
"""

from __future__ import annotations

from datetime import date
from random import Random

from .records import Worker

# Kind: how far the studio's estimates are off as a habit, and the shape of the Gamma (a larger one varies less).
KINDS: dict[str, tuple[float, float]] = {
    "Pattern": (1.12, 9),
    "Cutting": (0.96, 20),
    "Beveling": (1.06, 15),
    "Transfer and resist": (1.08, 12),
    "Blasting": (1.15, 8),
    "Assembly": (1.02, 16),
    "Soldering": (0.94, 12),
    "Cementing": (1.0, 14),
    "Cleaning": (1.05, 10),
    "Packing": (0.9, 9),
    "Delivery": (1.1, 7),
    "Installation": (1.12, 7),
}
USUAL = (1.0, 12.0)
APPRENTICE_DAYS = 425
MINDED = 2.0  # Days by which the lead is off about a promise, as a standard deviation.
# Out of a hundred panels with such an operation, about how many lose a piece in it.
BREAKS = {"Cutting": 3, "Beveling": 7, "Assembly": 4, "Soldering": 1, "Cleaning": 1}


def gamma(rng: Random, shape: float, mean: float = 1.0) -> float:
    return rng.gammavariate(shape, mean / shape)


def difficulty(rng: Random) -> float:
    return gamma(rng, 45)


def luck(kind: str, difficult: float, rng: Random) -> float:
    return difficult * gamma(rng, KINDS.get(kind, USUAL)[1])


def content(kind: str, estimate: int, lucky: float) -> float:
    return max(estimate * KINDS.get(kind, USUAL)[0] * lucky, 5.0)


def outside(estimate: int, rng: Random) -> int:
    return round(estimate * max(gamma(rng, 14), 0.6))


def breaks(kind: str, quantity: int, rng: Random) -> tuple[float, int] | None:
    """After which share of the work how many pieces break; mostly None."""
    if rng.random() * 100 >= BREAKS.get(kind, 0):
        return None
    pieces = 1 if quantity < 12 or rng.random() < 0.8 else 2
    return rng.uniform(0.15, 0.85), pieces


class Rates:
    """How fast everybody works on a day: drawn as days come, the same for the whole day."""

    def __init__(self, workers: list[Worker], today: date, rng: Random) -> None:
        self.today = today
        self.rng = rng
        self.off = {
            (worker.name, station): gamma(rng, 250) for worker in workers for station in worker.skills
        }
        self.form: dict[str, float] = {}

    def new_day(self, workers: list[Worker]) -> None:
        self.form = {worker.name: gamma(self.rng, 90) for worker in workers}

    def rate(self, worker: Worker, station: str, day: date) -> float:
        rate = worker.skills[station] * self.off[worker.name, station] * self.form[worker.name]
        if worker.apprentice:
            served = APPRENTICE_DAYS - (self.today - day).days
            rate *= 0.6 + 0.4 * min(max(served / APPRENTICE_DAYS, 0), 1)
        return rate
