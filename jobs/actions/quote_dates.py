"""The date of a quote: its job put into the present plan as if it were approved and paid on a day."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import Q

from jobs import planning
from jobs.models import GateKind, Glass, Job, Nature, Operation, Quote, QuoteState, Studio
from jobs.planning import whatif
from jobs.snapshot.footing import Footing, read_footing
from jobs.snapshot.read import read_order

from .base import Actor, Refused, record
from .graph import lock_job
from .materials import Thing, reckon
from .outside_days import MINUTES_A_DAY
from .promises import OpenDays
from .whatif import Base, Effect, stand

# Not a gate of the studio's record, so that the plan has it open on the very day: the date is given for that day.
APPROVED = "approved and paid"
FARTHEST = timedelta(days=730)
_LOOK_AHEAD = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class DateOffer:
    """Ready to install by `day` with `confidence`, if the drawing is approved and the deposit paid by `approved_by`.

    `effect` has what the job would do to the others.
    """

    day: date
    approved_by: date
    confidence: float
    window: planning.Window
    effect: Effect


def date_offer(quote: Quote, approved_by: date, confidence: Decimal, *, at: datetime) -> DateOffer:
    """Plan the shop with the quoted job in it; nothing is written. Refuses what cannot be planned, in its words."""
    job, today = quote.job, at.astimezone(Studio.current().zone).date()
    if job.is_open:
        raise Refused("The job is ordered: its date stands in the plan already.")
    if not Decimal("0.5") <= confidence <= Decimal("0.99"):
        raise Refused("A date holds with a confidence of 50 to 99\N{NO-BREAK SPACE}%.", "confidence")
    if not today <= approved_by <= today + FARTHEST:
        raise Refused("The drawing is approved today or on a day of the next two years.", "if_approved_by")
    try:
        base = stand(at)
        effect = base.effect([_as_new(job, _minutes(quote), base, approved_by, at)])
    except ValueError as impossible:
        raise Refused(str(impossible)) from impossible
    if job.pk not in effect.plan.jobs:
        told = [each.sentence for each in effect.plan.problems if each.job == job.pk]
        raise Refused(" ".join(told) or "There is no work on this job that could be planned.")
    day = effect.plan.day_for(job.pk, float(confidence))
    day = OpenDays.read(day, day + _LOOK_AHEAD).from_day(day)
    return DateOffer(day, approved_by, float(confidence), effect.plan.jobs[job.pk], effect)


def _minutes(quote: Quote) -> Mapping[str, Mapping[str, int]]:
    found: Mapping[str, Mapping[str, int]] = (quote.frozen or {}).get("estimates", {})
    return found


def _as_new(
    job: Job, minutes: Mapping[str, Mapping[str, int]], base: Base, approved_by: date, at: datetime
) -> whatif.NewJob:
    """The job as the planner would read it once ordered, with the quoted hours. All of its work waits for the day."""
    rows = list(job.operations.filter(skipped=False, finished_at=None).select_related("kind").order_by("pk"))
    things = reckon(job).things
    gates = _gates(job, rows, base, approved_by, things)
    # Work done outside takes the days of the supplier who would be chosen, as it will once the job is ordered.
    out = {
        each.row.pk: each.lead_days for each in things if isinstance(each.row, Operation) and each.lead_days
    }
    after = read_order({row.pk for row in rows}, at, Q(job=job))
    footing = read_footing(at)
    totals: dict[tuple[int | None, int], int] = {}
    for row in rows:
        key = (row.panel_id, row.kind_id)
        totals[key] = totals.get(key, 0) + row.estimate
    operations = tuple(
        planning.Operation(
            id=row.pk,
            job=job.pk,
            panel=row.panel_id,
            kind=row.kind_id,
            station=row.kind.station_id,
            minutes=out[row.pk] * MINUTES_A_DAY
            if row.pk in out
            else _quoted(row, minutes, totals[row.panel_id, row.kind_id], footing),
            crew=row.kind.crew,
            after=after.get(row.pk, ()),
            gates=tuple(gate.id for kind, gate in gates if kind is None or kind in row.kind.gates),
            quantity=row.quantity,
        )
        for row in rows
    )
    made = planning.Job(job.pk, job.number, job.wanted_by, float(job.weight))
    return whatif.NewJob(made, operations, tuple(gate for _, gate in gates))


def _quoted(row: Operation, minutes: Mapping[str, Mapping[str, int]], total: int, footing: Footing) -> int:
    """Its share of the hours quoted for its kind; other work takes what it is estimated at, as the planner reads it."""
    quoted = minutes.get(str(row.panel_id or "job"), {}).get(row.kind.slug)
    if row.kind.nature != Nature.ATTENDED:
        return row.estimate
    if not quoted or row.breakage_id is not None:
        return round(row.estimate * footing.factor(row.pk, row.kind, row.panel_id))
    return round(quoted * row.estimate / total) if total else quoted


def _gates(
    job: Job, rows: list[Operation], base: Base, approved_by: date, things: Sequence[Thing]
) -> list[tuple[GateKind | None, planning.Gate]]:
    """The approval that all work waits for, and what only some of it does: the glass, ordered on that day, and the
    measuring on site while it is still to come."""
    first = max((gate.id for gate in base.shop.gates), default=0) + 1_000_000
    found: list[tuple[GateKind | None, planning.Gate]] = [
        (None, planning.Gate(first, APPROVED, job.pk, approved_by, cleared=False))
    ]
    needed = {gate for row in rows for gate in row.kind.gates}
    measured = job.gates.filter(kind=GateKind.MEASURED, cleared=None).first()
    if measured is not None and GateKind.MEASURED in needed:
        label = GateKind.MEASURED.label
        found.append(
            (GateKind.MEASURED, planning.Gate(first + 1, label, job.pk, measured.expected, cleared=False))
        )
    glass_in = job.gates.filter(kind=GateKind.GLASS).exclude(cleared=None).exists()
    days = [
        thing.supplier.days for thing in things if isinstance(thing.row, Glass) and thing.supplier is not None
    ]
    if days and GateKind.GLASS in needed and not glass_in:
        expected = approved_by + timedelta(days=max(days))
        label = GateKind.GLASS.label
        found.append((GateKind.GLASS, planning.Gate(first + 2, label, job.pk, expected, cleared=False)))
    return found


def offer_day(quote: Quote, approved_by: date, confidence: Decimal, *, by: Actor, at: datetime) -> Quote:
    """Write the date into a draft. It is worked out before the transaction, which nobody at a bench then waits for."""
    if by.account is None or not by.is_office:
        raise Refused("Only the office gives dates to customers.")
    offer = date_offer(quote, approved_by, confidence, at=at)
    with transaction.atomic():
        lock_job(quote.job)
        row = Quote.objects.select_for_update(of=("self",)).select_related("job").get(pk=quote.pk)
        if row.state != QuoteState.DRAFT:
            raise Refused(f"Version {row.version} is {row.get_state_display()}; make a new version.")
        row.if_approved_by, row.ready_day, row.confidence = approved_by, offer.day, confidence
        row.save(update_fields=["if_approved_by", "ready_day", "confidence"])
        told = {"ready by": row.ready_day, "if approved by": approved_by, "confidence": confidence}
        record("dated", row, by=by, at=at, after=told)
    return row
