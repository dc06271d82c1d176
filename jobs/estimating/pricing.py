"""A quote: labor, materials, outside work and the rest, an allowance for risk, tax and deposit. Money is Decimal.

The allowance is what the labor costs at the chosen confidence beyond its estimate. It is read off sampled sums of all
kinds of work: quantiles of the kinds do not add up to the quantile of the sum.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

import numpy as np

from jobs.estimating.linework import Floats

CENT = Decimal("0.01")
LARGEST = Decimal(10) ** 9
SAMPLES = 20_000
CAP = 2.5  # |ln(actual / estimate)| is cut there: the exponential of a Student t has no mean.


class QuoteError(ValueError):
    """A quote that cannot be; the text is a sentence for the person."""


class Part(StrEnum):
    """What a line of a quote is for."""

    LABOR = "labor"
    MATERIAL = "material"
    OUTSIDE = "outside"
    PACKING = "packing"
    DELIVERY = "delivery"
    INSTALLATION = "installation"
    DESIGN = "design"
    BREAKAGE = "breakage"
    RISK = "risk"


@dataclass(frozen=True, slots=True)
class Spread:
    """ln(actual / estimate) of one kind of work: Student t with these degrees, location and scale.

    It is the predictive of the kind that the dates are drawn from as well. `shared` is the share of its variance that
    all work of the kind has in common, since the kind's own middle is not known: 1 / (k + 1) after so much history k.
    """

    degrees: float
    location: float
    scale: float
    shared: float = 0.0

    def __post_init__(self) -> None:
        if not (self.degrees > 0 and self.scale >= 0 and abs(self.location) <= CAP and 0 <= self.shared <= 1):
            raise QuoteError("The record of a kind of work is not one.")


@dataclass(frozen=True, slots=True)
class Labor:
    """Whole minutes of one kind of work at money per hour. No spread: it takes what it takes.

    `breakable` marks work that is done again when a piece breaks.
    """

    kind: str
    minutes: int
    per_hour: Decimal
    spread: Spread | None = None
    breakable: bool = False

    @property
    def cost(self) -> Decimal:
        return self.minutes * self.per_hour / 60


@dataclass(frozen=True, slots=True)
class Item:
    """Anything else: what it costs the studio, and the markup on it as a share (0.2: a fifth on top)."""

    part: Part
    words: str
    cost: Decimal
    markup: Decimal = Decimal(0)
    breakable: bool = False

    @property
    def price(self) -> Decimal:
        return self.cost * (1 + self.markup)


@dataclass(frozen=True, slots=True)
class OutsideOffer:
    """What a supplier takes for work done outside: money per square meter, and at least so much for each panel."""

    per_m2: Decimal
    minimum: Decimal = Decimal(0)
    days: int = 0

    def __post_init__(self) -> None:
        if not (0 <= self.per_m2 < LARGEST and 0 <= self.minimum < LARGEST and self.days >= 0):
            raise QuoteError("A price of outside work is not less than nothing.")

    def price(self, area_mm2: Decimal, copies: int = 1) -> Decimal:
        """For so many panels of this area each, in cents; the minimum holds for every one of them."""
        return cents(max(self.per_m2 * area_mm2 / 10**6, self.minimum)) * copies


def best_offer(offers: Sequence[OutsideOffer], area_mm2: Decimal, copies: int = 1) -> int | None:
    """The place of the offer that costs least for these panels, of two alike the faster; None where there is none."""
    costs = [(offer.price(area_mm2, copies), offer.days, place) for place, offer in enumerate(offers)]
    return min(costs)[2] if costs else None


@dataclass(frozen=True, slots=True)
class Terms:
    """How the studio quotes. Shares, not percent. `confidence`: the chance that the labor stays within its price.

    `breakage`: the share of breakable work that is done twice, from the studio's own record. `difficulty`: the share
    of the variance that all work on one job has in common. `round_to`: the net is rounded to a multiple of it.
    """

    tax: Decimal = Decimal(0)
    deposit: Decimal = Decimal("0.5")
    confidence: float = 0.5
    breakage: Decimal = Decimal(0)
    difficulty: float = 0.0
    round_to: Decimal = CENT
    valid_days: int = 30

    def __post_init__(self) -> None:
        if not (0 <= self.tax <= 1 and 0 <= self.deposit <= 1):
            raise QuoteError("Tax and deposit are from nothing to the whole.")
        if not 0.5 <= self.confidence < 1:
            raise QuoteError(
                "A confidence is from 50\N{NO-BREAK SPACE}% to less than 100\N{NO-BREAK SPACE}%."
            )
        if not (0 <= self.breakage <= 1 and 0 <= self.difficulty <= 1):
            raise QuoteError("Breakage and shared difficulty are shares from nothing to the whole.")
        if not (CENT <= self.round_to <= 1000 and 0 < self.valid_days <= 3650):
            raise QuoteError("A quote is rounded to a cent at least and is valid for a day at least.")


@dataclass(frozen=True, slots=True)
class Line:
    """One line as the customer or the lead sees it. `amount` is in whole cents."""

    part: Part
    words: str
    amount: Decimal
    minutes: int | None = None


@dataclass(frozen=True, slots=True)
class Quote:
    """Lines; their sum with `rounding` is `net`; with tax it is `gross`, of which `deposit` is due with the order."""

    lines: tuple[Line, ...]
    rounding: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal
    deposit: Decimal
    balance: Decimal
    valid_until: date


def cents(amount: Decimal, step: Decimal = CENT) -> Decimal:
    """The amount rounded to a multiple of `step`, halves away from nothing."""
    return ((amount / step).to_integral_value(ROUND_HALF_UP) * step).quantize(CENT)


def labor_samples(labor: Sequence[Labor], *, difficulty: float, seed: int, samples: int = SAMPLES) -> Floats:
    """What the labor as a whole costs in so many draws; each by its kind's spread, the job's difficulty shared, and
    what is not known about a kind shared by all work of that kind."""
    from scipy.special import ndtr, stdtrit

    random = np.random.default_rng(seed)
    common = random.standard_normal(samples)
    kinds: dict[str, Floats] = {}
    total = np.zeros(samples)
    for each in labor:
        own = random.standard_normal(samples)
        if each.spread is None:
            total += float(each.cost)
            continue
        if each.spread.shared:
            if each.kind not in kinds:
                kinds[each.kind] = random.standard_normal(samples)
            shared = each.spread.shared
            own = np.sqrt(shared) * kinds[each.kind] + np.sqrt(1 - shared) * own
        z = np.sqrt(difficulty) * common + np.sqrt(1 - difficulty) * own
        share = np.clip(ndtr(z), 1e-12, 1 - 1e-12)
        t = each.spread.location + each.spread.scale * stdtrit(each.spread.degrees, share)
        total += float(each.cost) * np.exp(np.clip(t, -CAP, CAP))
    return total


def risk_allowance(labor: Sequence[Labor], terms: Terms, *, seed: int = 1) -> Decimal:
    """What has to be added to the labor for it to suffice with the chosen confidence; never less than nothing.

    At a confidence of one half it is what the record says the estimates fall short by.
    """
    if not any(each.spread and each.minutes for each in labor):
        return Decimal(0)
    samples = labor_samples(labor, difficulty=terms.difficulty, seed=seed)
    needed = Decimal(float(np.quantile(samples, terms.confidence)))
    return max(cents(needed - sum((each.cost for each in labor), Decimal(0))), Decimal(0))


def quote(labor: Sequence[Labor], items: Sequence[Item], terms: Terms, *, on: date, seed: int = 1) -> Quote:
    """The quote of one panel or job, given on this day. Same arguments, same quote."""
    _check(labor, items)
    lines = [Line(Part.LABOR, each.kind, cents(each.cost), each.minutes) for each in labor if each.minutes]
    lines += [Line(item.part, item.words, cents(item.price)) for item in items]
    breakable = sum((each.cost for each in labor if each.breakable), Decimal(0))
    breakable += sum((item.price for item in items if item.breakable), Decimal(0))
    allowances = (
        (Part.BREAKAGE, cents(breakable * terms.breakage)),
        (Part.RISK, risk_allowance(labor, terms, seed=seed)),
    )
    lines += [Line(part, f"allowance for {part}", amount) for part, amount in allowances if amount]
    sums = totals([line.amount for line in lines], terms)
    return Quote(
        lines=tuple(lines),
        rounding=sums.rounding,
        net=sums.net,
        tax=sums.tax,
        gross=sums.gross,
        deposit=sums.deposit,
        balance=sums.balance,
        valid_until=on + timedelta(days=terms.valid_days),
    )


@dataclass(frozen=True, slots=True)
class Totals:
    """The foot of a quote; `rounding` is what its lines lack to `net`."""

    rounding: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal
    deposit: Decimal

    @property
    def balance(self) -> Decimal:
        return self.gross - self.deposit


def totals(amounts: Sequence[Decimal], terms: Terms) -> Totals:
    """What lines of these amounts come to."""
    exact = sum(amounts, Decimal(0))
    net = cents(exact, terms.round_to)
    tax = cents(net * terms.tax)
    return Totals(net - exact, net, tax, net + tax, cents((net + tax) * terms.deposit))


def _check(labor: Sequence[Labor], items: Sequence[Item]) -> None:
    for each in labor:
        if each.minutes < 0 or not (each.per_hour.is_finite() and 0 <= each.per_hour < LARGEST):
            raise QuoteError(f"The hours or the rate of {each.kind} cannot be.")
    for item in items:
        if item.part in (Part.LABOR, Part.BREAKAGE, Part.RISK):
            raise QuoteError("Labor and allowances are reckoned, not typed.")
        if not (item.cost.is_finite() and 0 <= item.cost < LARGEST and 0 <= item.markup <= 100):
            raise QuoteError(f"The cost or the markup of “{item.words}” cannot be.")
