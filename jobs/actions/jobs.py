"""Jobs: made from routes or by copying an earlier one, changed, cancelled, completed, opened again."""

import re
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal

from django.db import IntegrityError, transaction

from jobs.models import Customer, Gate, GateKind, Job, Operation, Panel, Stage, Workshop

from .base import Actor, Refused, changes, mark_out_of_date, record
from .customers import customer_named, fill_in
from .graph import CLOSED, JobGraph, lock_job
from .panels import PanelDraft, StepsRead, make_panel
from .timers import stop_all

NUMBER = re.compile(r"[A-Za-z0-9][A-Za-z0-9.-]{0,19}")
# These are addresses of pages beside those of jobs.
TAKEN_WORDS = frozenset({"new", "import"})


def next_number() -> str:
    """The number after the highest one that is only figures, as wide as that one."""
    numbers = [n for n in Job.objects.values_list("number", flat=True) if n.isascii() and n.isdigit()]
    if not numbers:
        return "0001"
    highest = max(numbers, key=int)
    return str(int(highest) + 1).zfill(len(highest))


def check_number(number: str) -> str:
    number = number.strip()
    if not NUMBER.fullmatch(number) or number.lower() in TAKEN_WORDS:
        raise Refused(
            "A job number has at most 20 letters, figures, hyphens and full stops, a letter or figure first.",
            "number",
        )
    if Job.objects.filter(number__iexact=number).exists():
        raise Refused(f"There is a job {number} already.", "number")
    return number


def check_title(title: str) -> str:
    title = title.strip()
    if not title or len(title) > 120:
        raise Refused("Say what the job is, in at most 120 letters.", "title")
    return title


def check_weight(weight: Decimal) -> Decimal:
    if not Decimal("0.1") <= weight <= 100:
        raise Refused("How much a late day matters is between 0.1 and 100; 1 as a rule.", "weight")
    return weight


@transaction.atomic
def create_job(
    *,
    title: str,
    customer: Customer | str,
    panels: Sequence[PanelDraft] = (),
    number: str = "",
    stage: str = Stage.ORDERED,
    wanted_by: date | None = None,
    weight: Decimal = Decimal(1),
    notes: str = "",
    gates: Mapping[str, date | None] | None = None,
    workshop: Workshop | None = None,
    phone: str = "",
    email: str = "",
    by: Actor,
    at: datetime,
) -> Job:
    """A job with its panels and their work. `gates` are what it waits for, by kind, with the day each is expected.
    `phone` and `email` are the customer's, where none are known yet.

    Without a number it gets the next one, and without a workshop the first one makes it. The refusal of a panel names
    it where there are several.
    """
    job = _insert(number, title, customer, stage, wanted_by, weight, notes, workshop=workshop, by=by, at=at)
    if phone or email:
        fill_in(job.customer, phone=phone, email=email, by=by, at=at)
    for kind, expected in (gates or {}).items():
        if kind not in GateKind.values:
            raise Refused("There is no such gate.", "gates")
        Gate.objects.create(job=job, kind=kind, expected=expected)
    told = {"title": job.title, "customer": job.customer, "wanted by": wanted_by, "panels": len(panels)}
    if workshop is not None:
        told["workshop"] = workshop
    record("entered", job, by=by, at=at, after=told)
    made = []
    read: StepsRead = {}
    for place, draft in enumerate(panels, 1):
        try:
            made.append(make_panel(job, draft, number=place, read=read, by=by, at=at).pk)
        except Refused as refused:
            where = f"{draft.name}: " if len(panels) > 1 else ""
            raise Refused(where + refused.sentence, refused.field) from None
    JobGraph(job).tie_ends(made)
    mark_out_of_date()
    return job


def _insert(
    number: str,
    title: str,
    customer: Customer | str,
    stage: str,
    wanted_by: date | None,
    weight: Decimal,
    notes: str,
    *,
    by: Actor,
    at: datetime,
    workshop: Workshop | None = None,
) -> Job:
    number = check_number(number) if number.strip() else next_number()
    if stage not in (Stage.ENQUIRY, Stage.QUOTED, Stage.ORDERED):
        raise Refused("A new job is an enquiry, quoted or ordered.", "stage")
    if isinstance(customer, str):
        customer = customer_named(customer, by=by, at=at)
    try:
        with transaction.atomic():
            return Job.objects.create(
                number=number,
                title=check_title(title),
                customer=customer,
                stage=stage,
                wanted_by=wanted_by,
                weight=check_weight(weight),
                notes=notes.strip(),
                entered_at=at,
                ordered_at=at if stage == Stage.ORDERED else None,
                **({} if workshop is None else {"workshop": workshop}),
            )
    except IntegrityError:
        raise Refused(f"There is a job {number} already.", "number") from None


@transaction.atomic
def copy_job(
    source: Job,
    *,
    title: str,
    customer: Customer | str,
    number: str = "",
    wanted_by: date | None = None,
    panels: Collection[Panel] | None = None,
    by: Actor,
    at: datetime,
) -> Job:
    """A new job with the panels (all, or those given), the work and the estimates of an earlier one, nothing done.

    What was done again after a breakage is not copied, and what was skipped stays skipped. The gates are copied open.
    """
    chosen = list(source.panels.order_by("number") if panels is None else panels)
    if any(panel.job_id != source.pk for panel in chosen):
        raise Refused("That panel is of another job.", "panels")
    job = _insert(
        number,
        title,
        customer,
        Stage.ORDERED,
        wanted_by,
        source.weight,
        source.notes,
        workshop=source.workshop,
        by=by,
        at=at,
    )
    for gate in source.gates.all():
        Gate.objects.create(job=job, kind=gate.kind)
    copies: dict[int, Panel] = {}
    for place, panel in enumerate(chosen, 1):
        old = panel.pk
        copies[old] = Panel.objects.create(
            job=job,
            number=place,
            **{key: getattr(panel, key) for key in _PANEL_VALUES},
        )
    _copy_operations(source, job, copies)
    record("entered", job, by=by, at=at, after={"title": job.title, "copied from": source.number})
    mark_out_of_date()
    return job


_PANEL_VALUES = (
    "name",
    "width_mm",
    "height_mm",
    "thickness_mm",
    "pieces",
    "copies",
    "route",
    "drawing",
)


def _copy_operations(source: Job, job: Job, panels: Mapping[int, Panel]) -> None:
    rows = source.operations.filter(breakage=None).select_related("panel", "kind").prefetch_related("after")
    made: dict[int, Operation] = {}
    waits: dict[int, list[int]] = {}
    for row in rows:
        waits[row.pk] = [before.pk for before in row.after.all()]
        if row.panel_id is None or row.panel_id in panels:
            panel = panels[row.panel_id] if row.panel_id else None
            # A breakage takes its pieces out of the operation it happened at; the copy starts whole.
            whole = panel.pieces * panel.copies if panel and row.breakages.exists() else row.quantity
            made[row.pk] = Operation.objects.create(
                job=job,
                panel=panel,
                kind=row.kind,
                label=row.label,
                place=row.place,
                estimate=row.estimate,
                quantity=whole if row.kind.counts_pieces else 0,
                skipped=row.skipped,
            )
    for pk, copy in made.items():
        copy.after.set([made[before] for before in waits[pk] if before in made])


@transaction.atomic
def change_job(
    job: Job,
    *,
    title: str,
    customer: Customer | str,
    wanted_by: date | None,
    weight: Decimal,
    notes: str,
    by: Actor,
    at: datetime,
) -> Job:
    """What the job is, for whom, when it is wanted and how much a late day matters."""
    job = lock_job(job)
    if isinstance(customer, str):
        customer = customer_named(customer, by=by, at=at)
    values = {
        "title": check_title(title),
        "customer": customer,
        "wanted_by": wanted_by,
        "weight": check_weight(weight),
        "notes": notes.strip(),
    }
    before, after = changes(job, values)
    if after:
        for key, value in after.items():
            setattr(job, key, value)
        job.save(update_fields=list(after))
        record("changed", job, by=by, at=at, before=before, after=after)
        mark_out_of_date()
    return job


def _locked(job: Job) -> Job:
    return Job.objects.select_for_update().get(pk=job.pk)


def _move(job: Job, stage: Stage, verb: str, *, by: Actor, at: datetime, why: str = "") -> Job:
    before = {"stage": job.stage}
    job.stage = stage
    job.closed_at = at if stage in CLOSED else None
    if stage == Stage.ORDERED and job.ordered_at is None:
        job.ordered_at = at
    job.save(update_fields=["stage", "closed_at", "ordered_at"])
    record(verb, job, by=by, at=at, before=before, after={"stage": job.stage}, why=why)
    mark_out_of_date()
    return job


@transaction.atomic
def order_job(job: Job, *, by: Actor, at: datetime) -> Job:
    """The customer has ordered: the floor works on it from now on."""
    job = _locked(job)
    if job.stage not in (Stage.ENQUIRY, Stage.QUOTED):
        raise Refused(f"Job {job.number} is {job.get_stage_display()} already.")
    return _move(job, Stage.ORDERED, "ordered", by=by, at=at)


@transaction.atomic
def quote_job(job: Job, *, by: Actor, at: datetime) -> Job:
    """A quote has gone out for an enquiry; a job that is quoted or ordered stays as it is."""
    job = _locked(job)
    return _move(job, Stage.QUOTED, "quoted", by=by, at=at) if job.stage == Stage.ENQUIRY else job


@transaction.atomic
def decline_job(job: Job, *, why: str = "", by: Actor, at: datetime) -> Job:
    """The customer does not want it, before it was ordered; it stays for the record."""
    job = _locked(job)
    if job.stage not in (Stage.ENQUIRY, Stage.QUOTED):
        raise Refused(f"Job {job.number} is {job.get_stage_display()}, so it cannot be declined.")
    return _move(job, Stage.DECLINED, "declined", by=by, at=at, why=why)


def _stop_work(job: Job, *, by: Actor, at: datetime, why: str) -> None:
    stop_all(job.operations.all(), at, by=by, why=why)
    for row in job.operations.select_for_update(of=("self",)).exclude(keeper=None):
        row.keeper = None
        row.save(update_fields=["keeper"])


@transaction.atomic
def cancel_job(job: Job, *, why: str, by: Actor, at: datetime) -> Job:
    """The customer does not want it any more. Timers on it stop; hours logged stay."""
    job = _locked(job)
    if job.stage in CLOSED:
        raise Refused(f"Job {job.number} is {job.get_stage_display()} already.")
    why = why.strip()
    if not why or len(why) > 200:
        raise Refused("Say in a few words why it is cancelled.", "why")
    _stop_work(job, by=by, at=at, why="job cancelled")
    return _move(job, Stage.CANCELLED, "cancelled", by=by, at=at, why=why)


@transaction.atomic
def complete_job(job: Job, *, by: Actor, at: datetime, anyway: bool = False) -> Job:
    """All is done and gone. With `anyway` the lead closes it though work is open."""
    job = _locked(job)
    if not job.is_open:
        raise Refused(f"Job {job.number} is {job.get_stage_display()}, so it cannot be completed.")
    left = list(Operation.objects.open(at).filter(job=job).select_related("kind", "panel")[:4])
    if left and not anyway:
        names = ", ".join(f"{row} of {row.panel.name}" if row.panel else str(row) for row in left[:3])
        more = " and more" if len(left) > 3 else ""
        raise Refused(f"Work is open: {names}{more}. Finish or skip it first, or let the lead close the job.")
    if left and not by.is_lead:
        raise Refused("Only the lead can close a job with open work.")
    _stop_work(job, by=by, at=at, why="job complete")
    return _move(job, Stage.COMPLETE, "completed", by=by, at=at, why="with open work" if left else "")


@transaction.atomic
def reopen_job(job: Job, *, by: Actor, at: datetime) -> Job:
    """A closed job goes on: it is ordered again, or an enquiry where it never was ordered."""
    job = _locked(job)
    if job.stage not in CLOSED:
        raise Refused(f"Job {job.number} is open already.")
    stage = Stage.ORDERED if job.ordered_at else Stage.ENQUIRY
    return _move(job, stage, "opened again", by=by, at=at)
