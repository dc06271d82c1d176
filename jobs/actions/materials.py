"""What a job needs to be bought: glass, came, supplies by rate, and work done outside; reckoned from its takeoffs."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from jobs.estimating.shares import format_share
from jobs.estimating.sticks import came_lengths
from jobs.estimating.stock import StockError, cut_sticks, sheets
from jobs.estimating.takeoff import Takeoff
from jobs.models import Came, GateKind, Glass, Job, Material, Nature, Need, Operation, Panel, Supplier
from jobs.models import Takeoff as TakeoffRow

from .base import Actor, record
from .glass_gate import tell_gate, wait_for_glass
from .graph import lock_job
from .outside_days import follow_supplier
from .outside_prices import cheapest, price_table
from .purchases import set_needed_by

WORK = "time"
PER_COPY = "panel"
THOUSANDTH = Decimal("0.001")
Key = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Thing:
    """So much of one thing for a job. `shares`: by the id of each panel, its share of the amount; they add up to 1.

    `price` is that of a unit; None where nobody has said it. `days`: of its supplier, where not the usual ones.
    """

    row: Glass | Came | Material | Operation
    amount: Decimal
    unit: str
    price: Decimal | None
    supplier: Supplier | None
    shares: Mapping[int, float]
    note: str = ""
    days: int | None = None

    @property
    def name(self) -> str:
        """The field of a Need that holds it."""
        return "outside" if isinstance(self.row, Operation) else str(self.row._meta.model_name)

    @property
    def key(self) -> Key:
        return self.name, self.row.pk

    @property
    def gate(self) -> str:
        return GateKind.GLASS if isinstance(self.row, Glass) else ""

    @property
    def lead_days(self) -> int | None:
        """As Need.lead_days."""
        if self.days is not None:
            return self.days
        return self.supplier.days if self.supplier else None

    @property
    def cost(self) -> Decimal:
        return self.amount * (self.price or Decimal(0))


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What a job needs, and in sentences what could not be reckoned."""

    things: Sequence[Thing]
    problems: Sequence[str]
    takeoffs: Mapping[int, Takeoff]


@dataclass(slots=True)
class _Job:
    """The rows of a job that its needs follow from, read with a number of queries that does not grow with it."""

    job: Job
    panels: list[Panel]
    operations: list[Operation]
    needs: list[Need]
    takeoffs: dict[int, Takeoff]
    largest: dict[str, tuple[float, float]]
    problems: list[str] = field(default_factory=list)

    @classmethod
    def read(cls, job: Job) -> "_Job":
        panels = list(job.panels.order_by("number"))
        rows = {}
        for row in TakeoffRow.objects.filter(panel__job=job).select_related("pattern").order_by("version"):
            rows[row.panel_id] = row
        operations = job.operations.filter(skipped=False).select_related("kind", "panel")
        needs = job.needs.select_related("glass", "came", "material", "outside__kind", "supplier")
        return cls(
            job,
            panels,
            list(operations),
            list(needs),
            {number: Takeoff.from_json(row.numbers) for number, row in rows.items()},
            _largest(list(rows.values())),
        )

    def taken(self) -> list[tuple[Panel, Takeoff]]:
        return [(panel, self.takeoffs[panel.pk]) for panel in self.panels if panel.pk in self.takeoffs]

    def things(self) -> list[Thing]:
        for panel in self.panels:
            if panel.pk not in self.takeoffs:
                self.problems.append(
                    f"{panel.name} has not been taken off: its glass and came are missing here."
                )
        return [*self._glass(), *self._came(), *self._supplies(), *self._outside()]

    def _glass(self) -> list[Thing]:
        areas: dict[str, dict[int, float]] = defaultdict(dict)
        for panel, takeoff in self.taken():
            for name, mm2 in takeoff.glass_mm2.items():
                if mm2:
                    areas[name][panel.pk] = mm2 * panel.copies
        rows = Glass.objects.filter(name__in=areas).select_related("supplier").order_by("name")
        found = []
        for row in rows:
            of_panel = areas.pop(row.name)
            found.append(self._sheets(row, of_panel))
        self.problems += [f"There is no glass “{name}”: its area is missing here." for name in sorted(areas)]
        return found

    def _sheets(self, row: Glass, mm2: Mapping[int, float]) -> Thing:
        net, wide, high = sum(mm2.values()), float(row.sheet_width_mm), float(row.sheet_height_mm)
        largest = self.largest.get(row.name, ())
        try:
            need = sheets(
                net, sheet_width_mm=wide, sheet_height_mm=high, waste=float(row.waste), largest=largest
            )
        except StockError as error:
            self.problems.append(f"{row.name}: {error}")
            need = sheets(net, sheet_width_mm=wide, sheet_height_mm=high, waste=float(row.waste))
        note = f"{need.sheets} sheet{'s' if need.sheets > 1 else ''} of {wide:.0f} × {high:.0f} mm"
        amount = _amount(need.area_mm2 / 1e6)
        return Thing(row, amount, row.unit, row.price_m2, row.supplier, _shares(mm2), note)

    def _came(self) -> list[Thing]:
        names = {name for _, takeoff in self.taken() for name, mm in takeoff.came_mm.items() if mm}
        rows = list(Came.objects.filter(profile__in=names).select_related("supplier").order_by("profile"))
        missing = names - {row.profile for row in rows}
        self.problems += [f"There is no came “{name}”: it is missing here." for name in sorted(missing)]
        stick = {row.profile: float(row.stick_mm) for row in rows}
        lengths: dict[str, dict[int, list[float]]] = defaultdict(dict)
        for panel, takeoff in self.taken():
            for profile, each in came_lengths(takeoff, stick).items():
                lengths[profile][panel.pk] = each * panel.copies
        return [_sticks(row, lengths[row.profile]) for row in rows if lengths[row.profile]]

    def _supplies(self) -> list[Thing]:
        kinds: dict[int | None, set[int]] = defaultdict(set)
        for operation in self.operations:
            kinds[operation.panel_id].add(operation.kind_id)
        found = []
        rows = Material.objects.filter(active=True, amount__gt=0).exclude(driver="")
        for row in rows.select_related("supplier").prefetch_related("kinds"):
            wanted = {kind.pk for kind in row.kinds.all()}
            of_panel = {}
            for panel, takeoff in self.taken():
                drivers = takeoff.drivers() | {PER_COPY: 1.0}
                if row.driver in drivers and (not wanted or wanted & kinds[panel.pk]):
                    of_panel[panel.pk] = float(row.amount) * drivers[row.driver] * panel.copies
            total = sum(of_panel.values())
            if total:
                shares = _shares(of_panel)
                found.append(Thing(row, _amount(total), row.unit, row.price, row.supplier, shares))
        return found

    def _outside(self) -> list[Thing]:
        """Work done outside that has not come back. The price is that of its need where it was set by hand or is
        ordered, else by the table of suppliers, else as before: of its need, or as the last one of its kind was by
        the area of its panel."""
        table = price_table()
        priced = {need.outside_id: need for need in self.needs if need.outside_id}
        found = []
        for row in self.operations:
            if row.kind.nature == Nature.OUTSIDE and row.panel is not None and row.finished_at is None:
                own = priced.get(row.pk)
                price, supplier = (own.price, own.supplier) if own else (None, None)
                days = own.days if own else None
                best = cheapest(table.get(row.kind_id, ()), row.panel)
                if best is not None and (own is None or own.price is None or not _fixed(own)):
                    price, supplier, days = best[0], best[1].supplier, best[1].days
                if price is None:
                    price, last = _usual_price(row)
                    supplier = supplier or last
                found.append(Thing(row, Decimal(1), WORK, price, supplier, {row.panel.pk: 1.0}, days=days))
        return found


def _largest(rows: Sequence[TakeoffRow]) -> dict[str, tuple[float, float]]:
    """By the name of each glass, the longest of the short and of the long sides of its pieces, mm: what every sheet
    has to have room for. Known only for what was measured from a pattern."""
    names = dict(Glass.objects.values_list("pk", "name"))
    found: dict[str, tuple[float, float]] = {}
    for row in rows:
        for piece in row.pattern.measured["pieces"] if row.pattern else ():
            glass = names.get(row.pattern.fills.get(piece["fill"], {}).get("glass"))  # type: ignore[union-attr]
            if glass is not None:
                short, long = sorted((piece["cut_width"], piece["cut_height"]))
                before = found.get(glass, (0.0, 0.0))
                found[glass] = max(before[0], short), max(before[1], long)
    return found


def _sticks(row: Came, lengths: Mapping[int, list[float]]) -> Thing:
    plan = cut_sticks([mm for each in lengths.values() for mm in each], stick_mm=float(row.stick_mm))
    count = len(plan.sticks)
    surely = "no plan needs fewer" if plan.proven else f"at least {plan.bound}"
    note = f"{format_share(plan.waste_share)} left over; {surely}"
    shares = _shares({panel: sum(each) for panel, each in lengths.items()})
    return Thing(row, Decimal(count), row.unit, row.price, row.supplier, shares, note)


def _usual_price(row: Operation) -> tuple[Decimal | None, Supplier | None]:
    last = (
        Need.objects.filter(outside__kind=row.kind_id, price__isnull=False, outside__panel__isnull=False)
        .exclude(outside=row)
        .select_related("outside__panel", "supplier")
        .order_by("-pk")
        .first()
    )
    if last is None or last.price is None or last.outside is None or row.panel is None:
        return None, None
    return (last.price * _area(row.panel) / _area(last.outside.panel)).quantize(
        Decimal("0.01")
    ), last.supplier


def _area(panel: Panel | None) -> Decimal:
    assert panel is not None
    return panel.width_mm * panel.height_mm * panel.copies


def _amount(units: float) -> Decimal:
    return max(Decimal(units).quantize(THOUSANDTH), THOUSANDTH)


def _shares(amounts: Mapping[int, float]) -> dict[int, float]:
    total = sum(amounts.values())
    return {panel: amount / total for panel, amount in amounts.items()}


def key_of(need: Need) -> Key:
    name = next(name for name in ("glass", "came", "material", "outside") if getattr(need, f"{name}_id"))
    return name, getattr(need, f"{name}_id")


def reckon(job: Job) -> Reckoned:
    """What the job needs as it is taken off now. Nothing is written; amounts and prices set by hand hold."""
    rows = _Job.read(job)
    by_hand = {key_of(need): need for need in rows.needs if need.by_hand}
    listed: dict[Key, Decimal] = defaultdict(Decimal)
    for each in rows.needs:
        listed[key_of(each)] += each.amount
    things = []
    for thing in rows.things():
        need = by_hand.pop(thing.key, None)
        if need is not None:
            amount = listed[thing.key]
            thing = replace(thing, amount=amount, price=need.price, supplier=need.supplier)
        things.append(thing)
    for key, need in by_hand.items():
        if isinstance(need.what, Glass | Came | Material):
            shares = _shares({panel.pk: float(_area(panel)) for panel in rows.panels})
            numbers = (listed[key], need.unit, need.price, need.supplier, shares, need.note)
            things.append(Thing(need.what, *numbers))
    return Reckoned(things, rows.problems, rows.takeoffs)


@transaction.atomic
def reckon_needs(job: Job, *, by: Actor, at: datetime) -> Sequence[str]:
    """Write down what the job needs; gives back, in sentences, what could not be reckoned.

    What is ordered, has arrived or was set by hand stays as it is; only what is missing beyond it is added, and what
    is not needed any more and not ordered yet is taken out. Work done outside takes the days of the supplier chosen.
    """
    job = lock_job(job)
    reckoned = reckon(job)
    there: dict[Key, list[Need]] = defaultdict(list)
    for need in job.needs.select_for_update(of=("self",)):
        there[key_of(need)].append(need)
    had_glass = any(name == "glass" for name, _ in there)
    to_come = job.needs.open().filter(gate=GateKind.GLASS)
    waited_for = to_come.count()
    for thing in reckoned.things:
        before = there.pop(thing.key, [])
        written = _write(job, thing, before)
        if written is None:
            continue
        if written.lead_days not in [each.lead_days for each in before if each == written]:
            follow_supplier(written, by=by, at=at)
        if written.glass is not None and written not in before and had_glass:
            wait_for_glass(job, written.glass, by=by, at=at)
    for needs in there.values():
        for need in needs:
            if not _fixed(need):
                need.delete()
    if to_come.count() < waited_for:
        tell_gate(job, GateKind.GLASS, by=by, at=at)
    set_needed_by(job, at=at)
    record("got its materials reckoned", job, by=by, at=at, after={"things": len(reckoned.things)})
    return reckoned.problems


def _fixed(need: Need) -> bool:
    return need.by_hand or need.ordered is not None or need.arrived is not None


def _write(job: Job, thing: Thing, needs: list[Need]) -> Need | None:
    """The need of what is missing beyond the fixed ones, if anything is."""
    fixed, open_ = [n for n in needs if _fixed(n)], [n for n in needs if not _fixed(n)]
    left = thing.amount - sum((need.amount for need in fixed), Decimal(0))
    if any(need.by_hand for need in fixed) or left <= 0:
        left = Decimal(0)
    for need in open_[1 if left else 0 :]:
        need.delete()
    if not left:
        return None
    values = {
        "panel": thing.row.panel if isinstance(thing.row, Operation) else None,
        "amount": left,
        "unit": thing.unit,
        "price": thing.price,
        "supplier": thing.supplier,
        "days": thing.days,
        "note": thing.note,
        "gate": thing.gate,
    }
    if not open_:
        return Need.objects.create(job=job, **{thing.name: thing.row}, **values)
    need = copy(open_[0])
    for name, value in values.items():
        setattr(need, name, value)
    need.save(update_fields=list(values))
    return need


@dataclass(frozen=True, slots=True)
class Pooled:
    """A profile that several jobs need: sticks when each job is cut by itself, and when all are cut together. No plan
    needs fewer than `bound`."""

    came: Came
    jobs: int
    apart: int
    together: int
    bound: int

    @property
    def proven(self) -> bool:
        return self.together == self.bound


def pooled_came(jobs: Sequence[Job]) -> list[Pooled]:
    """The fewest sticks for all of these jobs together, profile by profile; two queries, whatever they are."""
    rows = {row.profile: row for row in Came.objects.all()}
    stick = {profile: float(row.stick_mm) for profile, row in rows.items()}
    newest = {}
    takeoffs = TakeoffRow.objects.filter(panel__job__in=jobs).select_related("panel").order_by("version")
    for row in takeoffs:
        newest[row.panel_id] = row
    lengths: dict[str, dict[int, list[float]]] = defaultdict(lambda: defaultdict(list))
    for row in newest.values():
        for profile, each in came_lengths(Takeoff.from_json(row.numbers), stick).items():
            lengths[profile][row.panel.job_id] += each * row.panel.copies
    found = []
    for profile, of_job in sorted(lengths.items()):
        apart = sum(len(cut_sticks(each, stick_mm=stick[profile]).sticks) for each in of_job.values())
        plan = cut_sticks([mm for each in of_job.values() for mm in each], stick_mm=stick[profile])
        found.append(Pooled(rows[profile], len(of_job), apart, len(plan.sticks), plan.bound))
    return found
