"""What a quote is reckoned from: rows -> labor, items and terms of jobs.estimating.pricing, and back to lines."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from jobs.estimating import pricing
from jobs.estimating.rates import KindRates
from jobs.estimating.takeoff import Takeoff
from jobs.models import (
    Came,
    Glass,
    Job,
    LaborRate,
    LineGroup,
    Material,
    Nature,
    Operation,
    OperationKind,
    Panel,
    QuoteSettings,
    Studio,
)
from jobs.models.records import Chosen, compared
from jobs.planning.durations import CAP, DIFFICULTY, Posterior
from jobs.snapshot.footing import Footing, read_footing
from jobs.snapshot.rates import read_rates, read_spreads

from .base import Refused
from .estimates import estimate_panel, estimate_whole_job
from .materials import Reckoned, Thing, reckon

SEED = 1
MINUTES_AN_HOUR = Decimal(60)
# Work of whole jobs and packing stand in groups of their own, known by their slugs as the rates are.
GROUPS = {
    "packing": LineGroup.PACKING,
    "delivery": LineGroup.DELIVERY,
    "installation": LineGroup.INSTALLATION,
}
STUFF = ((Glass, "Glass"), (Came, "Came"), (Material, "Solder, cement and the like"))


@dataclass(frozen=True, slots=True)
class LineDraft:
    """A line before it is written. `minutes` are those of all people together."""

    group: str
    words: str
    amount: Decimal
    panel: Panel | None = None
    kind: OperationKind | None = None
    quantity: Decimal = Decimal(1)
    unit: str = ""
    price: Decimal = Decimal(0)
    minutes: int | None = None


@dataclass(frozen=True, slots=True)
class Offer:
    """What a quote comes to. `estimates`: minutes at the bench by the slug of each kind, by the id of a panel or "job".

    `problems` are sentences about what is missing; `unpriced` those for which it cannot be sent.
    """

    lines: Sequence[LineDraft]
    totals: pricing.Totals
    valid_until: date
    problems: Sequence[str]
    unpriced: Sequence[str]
    estimates: Mapping[str, Mapping[str, int]]
    made_from: Mapping[str, Any]


def terms_of(settings: QuoteSettings, breakage: Decimal = Decimal(0)) -> pricing.Terms:
    """The settings as pricing wants them, with this share of breakage."""
    return pricing.Terms(
        tax=settings.tax,
        deposit=settings.deposit,
        confidence=float(settings.risk_confidence),
        breakage=breakage,
        difficulty=DIFFICULTY,
        round_to=settings.rounding,
        valid_days=settings.valid_days,
    )


def breakage_share(settings: QuoteSettings) -> Decimal:
    """The share of breakable work that is done twice: as set, else the hours done again after a breakage against the
    hours of such work in the studio's own record; nothing without a record."""
    if settings.breakage is not None:
        return settings.breakage
    kinds = set(OperationKind.objects.filter(again_after_breakage=True).values_list("pk", flat=True))
    rows = [row for row in compared(Chosen(Studio.current().zone), "kind") if row["kind"] in kinds]
    done = sum(row["actual"] for row in rows)
    again = sum(row["again"] for row in rows)
    return min(Decimal(again) / done, Decimal(1)).quantize(Decimal("0.0001")) if done else Decimal(0)


@dataclass(slots=True)
class _Reading:
    """The rows that a quote follows from."""

    job: Job
    on: date
    settings: QuoteSettings
    breakage: Decimal
    hour: Mapping[int, Decimal]
    usual_hour: Decimal
    spreads: Mapping[int, Posterior]
    rates: Mapping[str, KindRates]
    footing: Footing
    reckoned: Reckoned
    panels: list[Panel]
    work: dict[int | None, list[Operation]] = field(default_factory=dict)

    @classmethod
    def read(cls, job: Job, at: datetime) -> "_Reading":
        studio, settings = Studio.current(), QuoteSettings.current()
        on = at.astimezone(studio.zone).date()
        found = cls(
            job=job,
            on=on,
            settings=settings,
            breakage=breakage_share(settings),
            hour=dict(LaborRate.objects.values_list("kind", "hour")),
            usual_hour=studio.labor_rate,
            spreads=read_spreads(at),
            rates=read_rates(on),
            footing=read_footing(at, studio),
            reckoned=reckon(job),
            panels=list(job.panels.order_by("number")),
        )
        rows = job.operations.filter(skipped=False, breakage=None, kind__nature=Nature.ATTENDED)
        for row in rows.select_related("kind").order_by("place", "pk"):
            found.work.setdefault(row.panel_id, []).append(row)
        return found

    def estimates(self) -> dict[Panel | None, dict[OperationKind, int]]:
        """Minutes at the bench by panel and kind: by the rates where the panel is taken off and the kind has rates,
        else as the operations are estimated now, times what was learned since (snapshot/footing.py)."""
        found: dict[Panel | None, dict[OperationKind, int]] = {}
        takeoffs: list[tuple[Takeoff, int]] = []
        for panel in self.panels:
            rows = self.work.get(panel.pk, [])
            kinds = list(dict.fromkeys(row.kind for row in rows))
            takeoff = self.reckoned.takeoffs.get(panel.pk)
            by_rate: dict[str, int] = {}
            if takeoff is not None:
                takeoffs.append((takeoff, panel.copies))
                by_rate = estimate_panel(panel, takeoff, on=self.on, kinds=kinds, rates=self.rates)
            found[panel] = _minutes(rows, by_rate, self.footing)
        rows, by_rate = self.work.get(None, []), {}
        if takeoffs and len(takeoffs) == len(self.panels):
            kinds = list(dict.fromkeys(row.kind for row in rows))
            by_rate = estimate_whole_job(self.job, takeoffs, on=self.on, kinds=kinds, rates=self.rates)
        if rows:
            found[None] = _minutes(rows, by_rate, self.footing)
        return found

    def labor(self, minutes: int, kind: OperationKind) -> pricing.Labor:
        known = self.spreads.get(kind.pk)
        spread = None
        if known is not None:
            middle = max(-CAP, min(CAP, known.m))
            spread = pricing.Spread(known.df, middle, known.scale, 1 / (known.k + 1))
        hour = self.hour.get(kind.pk, self.usual_hour)
        return pricing.Labor(kind.name, minutes * kind.crew, hour, spread, kind.again_after_breakage)


def _minutes(
    rows: Sequence[Operation], by_rate: Mapping[str, int], footing: Footing
) -> dict[OperationKind, int]:
    """By the rates, or what is estimated now, on the footing of the rates that hold."""
    found: dict[OperationKind, float] = {}
    for row in rows:
        by = footing.factor(row.pk, row.kind, row.panel_id)
        found[row.kind] = found.get(row.kind, 0.0) + row.estimate * by
    return {kind: by_rate.get(kind.slug) or round(minutes) for kind, minutes in found.items() if minutes}


def reckon_offer(job: Job, *, at: datetime) -> Offer:
    """The lines and sums of a quote for the job, made now. Refuses a job without work."""
    reading = _Reading.read(job, at)
    estimates = reading.estimates()
    if not any(estimates.values()):
        raise Refused("There is no work on this job yet: add a panel with its route first.")
    labor, drafts = _labor(reading, estimates)
    items, more = _items(reading, drafts)
    terms = terms_of(reading.settings, reading.breakage)
    try:
        made = pricing.quote(labor, items, terms, on=reading.on, seed=SEED)
    except pricing.QuoteError as error:
        raise Refused(str(error)) from error
    lines = [*drafts, *more]
    # The lines of pricing are those given, in their order, and the allowances behind them.
    lines += [
        LineDraft(LineGroup(line.part.value), LineGroup(line.part.value).label.capitalize(), line.amount)
        for line in made.lines[len(lines) :]
    ]
    sums = pricing.Totals(made.rounding, made.net, made.tax, made.gross, made.deposit)
    return Offer(
        lines=lines,
        totals=sums,
        valid_until=made.valid_until,
        problems=reading.reckoned.problems,
        unpriced=unpriced(reading.reckoned.things),
        estimates={
            str(panel.pk) if panel else "job": {kind.slug: minutes for kind, minutes in each.items()}
            for panel, each in estimates.items()
        },
        made_from=_made_from(reading),
    )


def unpriced(things: Sequence[Thing]) -> list[str]:
    return [f"There is no price for {_named(thing)} yet." for thing in things if not thing.price]


def _named(thing: Thing) -> str:
    panel = getattr(thing.row, "panel", None)
    return f"{thing.row} of {panel.name}" if panel is not None else str(thing.row)


def _labor(
    reading: _Reading, estimates: Mapping[Panel | None, Mapping[OperationKind, int]]
) -> tuple[list[pricing.Labor], list[LineDraft]]:
    labor, drafts = [], []
    for panel, kinds in estimates.items():
        for kind, minutes in kinds.items():
            each = reading.labor(minutes, kind)
            labor.append(each)
            drafts.append(
                LineDraft(
                    GROUPS.get(kind.slug, LineGroup.LABOR),
                    kind.name,
                    pricing.cents(each.cost),
                    panel,
                    kind,
                    (each.minutes / MINUTES_AN_HOUR).quantize(Decimal("0.001")),
                    "h",
                    each.per_hour,
                    each.minutes,
                )
            )
    return labor, drafts


def _items(reading: _Reading, drafts: Sequence[LineDraft]) -> tuple[list[pricing.Item], list[LineDraft]]:
    """Materials and outside work of each panel with their markup, and the design fee: a share of the labor."""
    items: list[pricing.Item] = []
    lines: list[LineDraft] = []

    def add(item: pricing.Item, group: LineGroup, panel: Panel | None) -> None:
        items.append(item)
        amount = pricing.cents(item.price)
        lines.append(LineDraft(group, item.words, amount, panel, price=amount))

    settings = reading.settings
    for panel in reading.panels:
        for model, words in STUFF:
            cost = _cost(reading.reckoned.things, model, panel)
            if cost:
                part = pricing.Part.MATERIAL
                item = pricing.Item(part, words, cost, settings.markup, breakable=model is Glass)
                add(item, LineGroup.MATERIAL, panel)
        for thing in reading.reckoned.things:
            if isinstance(thing.row, Operation) and thing.row.panel_id == panel.pk and thing.cost:
                part = pricing.Part.OUTSIDE
                item = pricing.Item(part, str(thing.row), thing.cost, settings.outside_markup)
                add(item, LineGroup.OUTSIDE, panel)
    worked = sum((line.amount for line in drafts if line.group == LineGroup.LABOR), Decimal(0))
    if settings.design_fee and worked:
        fee = pricing.Item(pricing.Part.DESIGN, "Design fee", worked * settings.design_fee)
        add(fee, LineGroup.DESIGN, None)
    return items, lines


def _cost(things: Sequence[Thing], model: type, panel: Panel) -> Decimal:
    """What the panel's share of all things of one sort costs."""
    found = Decimal(0)
    for thing in things:
        if isinstance(thing.row, model):
            found += thing.cost * Decimal(thing.shares.get(panel.pk, 0.0))
    return found


def _made_from(reading: _Reading) -> dict[str, Any]:
    """What the quote was made from, as JSON holds it: it reads the same whatever is changed later."""
    used = {row.kind.slug for rows in reading.work.values() for row in rows}
    settings = reading.settings
    names = ("markup", "outside_markup", "design_fee", "tax", "deposit", "rounding", "risk_confidence")
    return {
        "takeoffs": {str(pk): takeoff.to_json() for pk, takeoff in reading.reckoned.takeoffs.items()},
        "rates": {
            slug: {
                "set-up": rates.setup,
                "slope": rates.slope,
                "steps": {name: dict(step) for name, step in rates.steps.items()},
            }
            for slug, rates in reading.rates.items()
            if slug in used
        },
        "hour": {
            row.kind.slug: str(reading.hour.get(row.kind_id, reading.usual_hour))
            for rows in reading.work.values()
            for row in rows
        },
        "settings": {name: str(getattr(settings, name)) for name in names},
        "breakage": str(reading.breakage),
        "things": [
            {
                "what": _named(thing),
                "amount": str(thing.amount),
                "unit": thing.unit,
                "price": None if thing.price is None else str(thing.price),
                "note": thing.note,
            }
            for thing in reading.reckoned.things
        ],
    }
