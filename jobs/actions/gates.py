"""Gates: what a job waits for that is not work of ours."""

from datetime import date, datetime

from django.db import transaction

from jobs.models import DrawingApproval, Gate, GateKind, Job, MailKind, Studio

from .base import Actor, Refused, mark_out_of_date, record
from .graph import lock_job
from .mail_drafts import draft_for, drop_drafts, gate_named, notice_done


@transaction.atomic
def set_gate(job: Job, kind: str, expected: date | None, *, by: Actor, at: datetime) -> Gate:
    """Let a job wait for something, expected on a day or on nobody knows which; or move that day."""
    job = lock_job(job)
    gate, new = Gate.objects.get_or_create(
        job=job, kind=_known(kind), defaults={"expected": expected, "cleared": None}
    )
    before = gate.expected
    if not new:
        if gate.cleared is not None:
            raise Refused(f"“{gate.get_kind_display()}” is cleared already.", "expected")
        gate.expected = expected
        gate.save(update_fields=["expected"])
    told = {"gate": gate.get_kind_display(), "expected": expected}
    record("added" if new else "expected", gate, by=by, at=at, before={"expected": before}, after=told)
    if new and kind == GateKind.DRAWING:
        notice_done(at=at, job=job)
    mark_out_of_date()
    return gate


def _known(kind: str) -> str:
    if kind not in GateKind.values:
        raise Refused("There is no such gate.", "kind")
    return kind


def _locked(job: Job, kind: str) -> Gate:
    job = lock_job(job)
    gate = Gate.objects.select_for_update(of=("self",)).filter(job=job, kind=_known(kind)).first()
    if gate is None:
        raise Refused(f"Job {job.number} does not wait for that: {GateKind(kind).label}.")
    gate.job = job
    return gate


@transaction.atomic
def clear_gate(job: Job, kind: str, *, by: Actor, at: datetime, day: date | None = None) -> Gate:
    """It has come, today or on an earlier day."""
    gate = _locked(job, kind)
    if gate.cleared is not None:
        raise Refused(f"“{gate.get_kind_display()}” is cleared already.")
    today = at.astimezone(Studio.current().zone).date()
    day = day or today
    if day > today:
        raise Refused("That day has not come yet; say when it is expected instead.", "day")
    gate.cleared = day
    gate.save(update_fields=["cleared"])
    record("cleared", gate, by=by, at=at, after={"gate": gate.get_kind_display(), "cleared": day})
    if kind == GateKind.DRAWING:
        drop_drafts(gate.job, MailKind.APPROVAL, why="it is approved", at=at)
    mark_out_of_date()
    return gate


@transaction.atomic
def reopen_gate(job: Job, kind: str, *, by: Actor, at: datetime) -> Gate:
    """It has not come after all; what has begun meanwhile goes on. Drawings that the customer has approved are asked
    about again."""
    gate = _locked(job, kind)
    if gate.cleared is None:
        raise Refused(f"“{gate.get_kind_display()}” is not cleared yet.")
    if kind == GateKind.DRAWING:
        DrawingApproval.objects.standing().filter(panel__job=gate.job).update(withdrawn_at=at)
    open_again(gate, by=by, at=at)
    mark_out_of_date()
    return gate


def open_again(gate: Gate, *, by: Actor, at: datetime, why: str = "") -> None:
    """For actions that hold the lock of the job: the gate is not cleared any more, and the Event tells `why`."""
    before, gate.cleared = gate.cleared, None
    gate.save(update_fields=["cleared"])
    told = {"gate": gate.get_kind_display(), "cleared": None}
    record("opened again", gate, by=by, at=at, before={"cleared": before}, after=told, why=why)
    if gate.kind == GateKind.DRAWING:
        draft_for(MailKind.APPROVAL, gate.job, f"{gate_named(gate)} {at:%Y-%m-%d %H:%M:%S}", at=at)


@transaction.atomic
def remove_gate(job: Job, kind: str, *, by: Actor, at: datetime) -> None:
    """The job need not wait for it."""
    gate = _locked(job, kind)
    told = {"gate": gate.get_kind_display(), "expected": gate.expected, "cleared": gate.cleared}
    record("taken out", gate, by=by, at=at, before=told)
    if kind == GateKind.DRAWING:
        drop_drafts(gate.job, MailKind.APPROVAL, why="it is not waited for", at=at)
    gate.delete()
    mark_out_of_date()
