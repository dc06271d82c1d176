"""Drawings approved by the customer, on the customer's page."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from jobs.models import CustomerLink, DrawingApproval, GateKind, Job, Operation, Panel, Stage
from jobs.models.approvals import Drawing, Drawings, read_drawings, shown_of

from .base import Actor, Refused, mark_out_of_date, record
from .customer_links import today_of
from .gates import clear_gate, open_again

CLOSED = {
    Stage.CANCELLED: "This commission is cancelled, so there is nothing to approve. Please speak with us.",
    Stage.DECLINED: "This commission is closed, so there is nothing to approve. Please speak with us.",
    Stage.COMPLETE: "This commission is complete, so there is nothing left to approve.",
}
CHANGED = (
    "A drawing has changed since you opened this page. The new one is shown below: please look at it again."
)


@dataclass(frozen=True, slots=True)
class Signed:
    """What the customer typed, and from where: `looked` that sizes, glass and layout were looked at."""

    name: str
    looked: bool
    address: str | None = None
    agent: str = ""


@transaction.atomic
def approve_drawings(
    link: CustomerLink, seen: Mapping[int, str], signed: Signed, *, by: Actor, at: datetime
) -> list[DrawingApproval]:
    """The customer approves the drawings that were seen: the hash of each by the number of its panel.

    Once no drawing is left to approve the job need not wait for it any more, and its work may start. The same tap
    twice is one approval.
    """
    job = _lock(link, by, at)
    name = _check_signed(signed)
    drawings = read_drawings(job, _locked_panels(job))
    chosen = _chosen(drawings, seen)
    if all(row.approved for row in chosen):
        return _approved_already(chosen, name)
    if drawings.gate is None or drawings.gate.cleared is not None:
        raise Refused("The drawings are approved already; there is nothing left to approve.")
    made = [_approve(row, link, name, signed, at) for row in chosen if not row.approved]
    for approval in made:
        told = {"by": name, "version": approval.version}
        record("approved", approval, by=by, at=at, after=told, why="on the customer's page")
    if read_drawings(job).all_approved:
        clear_gate(job, GateKind.DRAWING, by=by, at=at)
    return made


def _lock(link: CustomerLink, by: Actor, at: datetime) -> Job:
    if by.account is not None:
        raise Refused(
            "You are signed in as the studio: only the customer approves here. "
            "On the job's page you can say that the approval came."
        )
    job = Job.objects.select_for_update().get(pk=link.job_id)
    row = CustomerLink.objects.select_for_update().get(pk=link.pk)
    if not row.is_live(today_of(at)):
        raise Refused("This link does not open anything any more. Please ask us for a new one.")
    if job.stage in CLOSED:
        raise Refused(CLOSED[Stage(job.stage)])
    return job


def _check_signed(signed: Signed) -> str:
    name = " ".join(signed.name.split())
    if not name:
        raise Refused("Please write your name.", "name")
    if len(name) > 80:
        raise Refused("Please write your name in at most 80 letters.", "name")
    if not signed.looked:
        raise Refused("Please look at sizes, glass and layout first, and say that you have.", "looked")
    return name


def _locked_panels(job: Job) -> list[Panel]:
    return list(job.panels.select_for_update(of=("self",)).order_by("number"))


def _chosen(drawings: Drawings, seen: Mapping[int, str]) -> list[Drawing]:
    """The drawings that were seen, where each is still the same."""
    rows = {row.panel.number: row for row in drawings.rows if row.digest}
    if not seen:
        raise Refused("There is no drawing to approve.")
    if any(number not in rows or rows[number].digest != digest for number, digest in seen.items()):
        raise Refused(CHANGED)
    return [rows[number] for number in sorted(seen)]


def _approved_already(chosen: list[Drawing], name: str) -> list[DrawingApproval]:
    approvals = [row.approved for row in chosen if row.approved]
    other = next((a for a in approvals if a.name.casefold() != name.casefold()), None)
    if other is not None:
        raise Refused(f"{other.name} has approved this already; there is nothing left to approve.")
    return approvals


def _approve(row: Drawing, link: CustomerLink, name: str, signed: Signed, at: datetime) -> DrawingApproval:
    return DrawingApproval.objects.create(
        panel=row.panel,
        digest=row.digest,
        shown=shown_of(row.panel),
        pattern=row.panel.patterns.filter(accepted_at__isnull=False).order_by("-version").first(),
        name=name,
        at=at,
        link=link,
        address=signed.address,
        agent=signed.agent[:200],
    )


def ask_again(panel: Panel, *, by: Actor, at: datetime) -> None:
    """To be called in the transaction that has changed what a panel's drawing shows, or added a panel: where the
    customer has approved drawings of the job on their page, but not this one, the job waits for the approval again.

    Not once all work that waits for it is done: what is cut is cut.
    """
    job = panel.job
    if not DrawingApproval.objects.standing().filter(panel__job=job).exists():
        return
    drawings = read_drawings(job)
    gate = drawings.gate
    approved = any(row.approved for row in drawings.rows if row.panel.pk == panel.pk)
    if gate is None or gate.cleared is None or approved:
        return
    waiting = Operation.objects.filter(job=job, kind__needs_drawing=True, skipped=False)
    if waiting.filter(finished_at__isnull=True).exists():
        gate.job = job
        open_again(gate, by=by, at=at, why="a drawing has changed since it was approved")
        mark_out_of_date()
