"""Buying what jobs need: ordered, expected, arrived; and by when each thing has to be there."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from jobs.models import (
    Came,
    GateKind,
    Glass,
    Job,
    Material,
    Need,
    Projection,
    Studio,
    Supplier,
)
from jobs.snapshot.rates import read_rates

from .base import Actor, Refused, put, record
from .gates import reopen_gate
from .glass_gate import gate_of, tell_gate, wait_for_glass
from .graph import lock_job
from .outside_days import follow_supplier
from .outside_prices import days_at

FARTHEST = timedelta(days=3653)


def _today(at: datetime) -> date:
    return at.astimezone(Studio.current().zone).date()


def _locked(need: Need) -> Need:
    job = lock_job(need.job)
    row = Need.objects.select_for_update(of=("self",)).filter(pk=need.pk).first()
    if row is None:
        raise Refused("That is not on the list any more.")
    row.job = job
    return row


def _told(need: Need) -> dict[str, object]:
    return {"what": str(need)}


@transaction.atomic
def order_need(need: Need, *, expected: date | None = None, by: Actor, at: datetime) -> Need:
    """It is ordered today. Without a day it is expected after the supplier's days; with neither nobody knows when."""
    need = _locked(need)
    if need.ordered is not None:
        raise Refused("It is ordered already.")
    if need.arrived is not None:
        raise Refused("It has arrived already.")
    need.ordered = _today(at)
    if expected is None and need.lead_days is not None:
        expected = need.ordered + timedelta(days=need.lead_days)
    need.expected = _checked(expected, need.ordered)
    need.save(update_fields=["ordered", "expected"])
    record("ordered", need, by=by, at=at, after=_told(need) | {"expected": need.expected})
    tell_gate(need.job, need.gate, by=by, at=at)
    return need


@transaction.atomic
def expect_need(need: Need, expected: date | None, *, by: Actor, at: datetime) -> Need:
    """The supplier names another day."""
    need = _locked(need)
    if need.ordered is None:
        raise Refused("It is not ordered yet.")
    if need.arrived is not None:
        raise Refused("It has arrived already.")
    before, need.expected = need.expected, _checked(expected, need.ordered)
    need.save(update_fields=["expected"])
    after = _told(need) | {"expected": need.expected}
    record("expected", need, by=by, at=at, before={"expected": before}, after=after)
    tell_gate(need.job, need.gate, by=by, at=at)
    return need


@transaction.atomic
def receive_need(need: Need, *, by: Actor, at: datetime) -> Need:
    """It arrived today, or was on the shelf. The last glass of a job clears the gate that waits for it."""
    need = _locked(need)
    if need.arrived is not None:
        raise Refused("It has arrived already.")
    need.arrived = _today(at)
    need.save(update_fields=["arrived"])
    record("arrived", need, by=by, at=at, after=_told(need))
    tell_gate(need.job, need.gate, by=by, at=at)
    return need


@transaction.atomic
def take_back_need(need: Need, *, by: Actor, at: datetime) -> Need:
    """The last tap was a mistake: it has not arrived, or is not ordered after all. A gate it cleared opens again."""
    need = _locked(need)
    if need.arrived is not None:
        need.arrived = None
        need.save(update_fields=["arrived"])
    elif need.ordered is not None:
        need.ordered = need.expected = None
        need.save(update_fields=["ordered", "expected"])
    else:
        raise Refused("It is not ordered yet.")
    record("taken back", need, by=by, at=at, after=_told(need))
    gate = gate_of(need)
    if gate is not None and gate.cleared is not None:
        reopen_gate(need.job, gate.kind, by=by, at=at)
    tell_gate(need.job, need.gate, by=by, at=at)
    return need


@transaction.atomic
def add_need(
    job: Job,
    what: Glass | Came | Material,
    *,
    amount: Decimal,
    price: Decimal | None = None,
    supplier: Supplier | None = None,
    note: str = "",
    needed_by: date | None = None,
    by: Actor,
    at: datetime,
) -> Need:
    """Put a thing on the job's list by hand, taken off or not; reckoning leaves it alone.

    Price and supplier are those of the thing where none are given; without a day it is needed by its work in the plan.
    A gate that glass was waited for at waits again.
    """
    job = lock_job(job)
    _check_typed(amount, price, note)
    today = _today(at)
    if needed_by is not None and not today <= needed_by <= today + FARTHEST:
        raise Refused("It cannot be needed before today, nor in more than ten years.", "needed_by")
    if not what.active:
        raise Refused(f"{what} is not bought any more.", "what")
    name = str(what._meta.model_name)
    if job.needs.filter(**{name: what, "ordered": None, "arrived": None}).exists():
        raise Refused(f"{what} is on the list already: change its amount there.", "what")
    if price is None:
        price = (what.price_m2 if isinstance(what, Glass) else what.price) or None
    need = Need.objects.create(
        job=job,
        **{name: what},
        amount=amount,
        unit=what.unit,
        price=price,
        supplier=supplier or what.supplier,
        note=note.strip(),
        by_hand=True,
        needed_by=needed_by,
        day_by_hand=needed_by is not None,
        gate=GateKind.GLASS if isinstance(what, Glass) else "",
    )
    set_needed_by(job, at=at)
    record("listed", need, by=by, at=at, after=_told(need) | {"needed by": needed_by})
    if need.glass is not None:
        wait_for_glass(job, need.glass, by=by, at=at)
    return need


@transaction.atomic
def remove_need(need: Need, *, by: Actor, at: datetime) -> None:
    """Take off the list what was put there by hand and is not ordered; what the takeoffs say, reckoning brings back."""
    need = _locked(need)
    if not need.by_hand:
        raise Refused("It is on the list by its takeoff: reckon anew instead.")
    if need.ordered is not None or need.arrived is not None:
        raise Refused("It is ordered or here already: take that back first.")
    record("taken off the list", need, by=by, at=at, before=_told(need))
    need.delete()
    tell_gate(need.job, need.gate, by=by, at=at)


def _check_typed(amount: Decimal, price: Decimal | None, note: str) -> None:
    if not 0 < amount < 10**9:
        raise Refused("Say how much of it is needed.", "amount")
    if price is not None and not 0 <= price < 10**7:
        raise Refused("A price is not less than nothing.", "price")
    if len(note) > 200:
        raise Refused("Say it in 200 letters or fewer.", "note")


@transaction.atomic
def change_need(
    need: Need,
    *,
    amount: Decimal,
    price: Decimal | None,
    supplier: Supplier | None,
    note: str = "",
    by: Actor,
    at: datetime,
) -> Need:
    """Say by hand how much, at which price and from whom; reckoning anew leaves it alone from then on."""
    need = _locked(need)
    _check_typed(amount, price, note)
    values: dict[str, object] = {
        "amount": amount,
        "price": price,
        "supplier": supplier,
        "note": note.strip(),
        "by_hand": True,
    }
    if need.outside is not None:
        values["days"] = days_at(need.outside.kind_id, supplier)
    before, after = put(need, values)
    if after:
        need.save(update_fields=list(after))
        record("changed", need, by=by, at=at, before=before, after=after)
        if {"supplier", "days"} & after.keys():
            follow_supplier(need, by=by, at=at)
    return need


def _checked(expected: date | None, ordered: date) -> date | None:
    if expected is not None and not ordered <= expected <= ordered + FARTHEST:
        raise Refused("It cannot arrive before it is ordered, nor in more than ten years.", "expected")
    return expected


def needed_days(needs: Iterable[Need], *, at: datetime) -> dict[int, date]:
    """By the id of each need, the day on which the work that it is for starts by the present plan; a need of a job
    that is not planned keeps the day that was written down, if there is one, and so does one whose day was typed.

    Glass is for what waits for glass, came for what is reckoned by the meter of came, a material for its kinds or for
    what is reckoned by its driver; where there is no such work, it is for the job's first.
    """
    needs = list(needs)
    zone = Studio.current().zone
    starts: dict[int, list[tuple[date, int, int, str, bool]]] = defaultdict(list)
    rows = Projection.objects.filter(
        operation__job__in={need.job_id for need in needs}, operation__finished_at=None, start__isnull=False
    )
    names = (
        "operation",
        "operation__job",
        "operation__kind",
        "operation__kind__slug",
        "operation__kind__needs_glass",
    )
    for start, operation, job, kind, slug, glass in rows.values_list("start", *names):
        starts[job].append((start.astimezone(zone).date(), operation, kind, slug, glass))
    rates = {slug: set(each.rates) for slug, each in read_rates(_today(at)).items()}
    found = {}
    for need in needs:
        day = need.needed_by
        if not need.day_by_hand:
            day = _start_of(need, starts[need.job_id], rates) or day
        if day is not None:
            found[need.pk] = day
    return found


def _start_of(
    need: Need, starts: list[tuple[date, int, int, str, bool]], rates: Mapping[str, set[str]]
) -> date | None:
    if need.outside_id:
        return min((day for day, operation, *_ in starts if operation == need.outside_id), default=None)
    if need.glass_id:
        wanted = [row for row in starts if row[4]] or [r for r in starts if "piece" in rates.get(r[3], ())]
    elif need.came_id:
        wanted = [row for row in starts if "came_m" in rates.get(row[3], ())]
    else:
        assert need.material is not None
        kinds = {kind.pk for kind in need.material.kinds.all()}
        wanted = [row for row in starts if row[2] in kinds]
        wanted = wanted or [row for row in starts if need.material.driver in rates.get(row[3], ())]
    return min((row[0] for row in wanted or starts), default=None)


def set_needed_by(job: Job, *, at: datetime) -> None:
    """Write down by when the open needs of a job have to be there, in the transaction of the action that calls it."""
    needs = list(job.needs.open().select_related("material").prefetch_related("material__kinds"))
    days = needed_days(needs, at=at)
    for need in needs:
        if days.get(need.pk) not in (None, need.needed_by):
            need.needed_by = days[need.pk]
            need.save(update_fields=["needed_by"])
