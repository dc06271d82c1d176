"""Links to customers' pages: some read, one with approved drawings, one that waits for the approval."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from jobs import models
from jobs.actions import Actor
from jobs.actions.customer_links import Shared, make_link, usual_last_day
from jobs.management.demo.rows import Rows, moment
from jobs.models.approvals import hash_of, shown_of

LINKS = 6
AGENT = "Mozilla/5.0 (Linux; Android 9)"


def write_links(rows: Rows, office: models.Account) -> None:
    """For open jobs with drawings: those that wait for an approval first, then those of the longest standing."""
    now = moment(rows.now)
    gates = models.Gate.objects.filter(kind=models.GateKind.DRAWING, job__stage=models.Stage.ORDERED)
    waiting = [gate.job for gate in gates.filter(cleared=None).select_related("job")[:2]]
    approved = list(gates.filter(cleared__lt=now.date() - timedelta(days=2)).select_related("job"))[:LINKS]
    for place, job in enumerate([*waiting, *(gate.job for gate in approved)][:LINKS]):
        shared = Shared(usual_last_day(job, at=now), shows_prices=place == 1)
        made = max(now - timedelta(days=9, hours=place), job.ordered_at or job.entered_at)
        link = make_link(job, shared, by=Actor(account=office), at=made)
        if place != 1:
            _read(link, made, now, place + 2)
    for gate in approved[:2]:
        _approve(gate, rows)


def _read(link: models.CustomerLink, made: datetime, now: datetime, times: int) -> None:
    """A link that was read some times since it was made."""
    link.times_read = times
    link.first_read_at, link.last_read_at = made + (now - made) / 10, now - (now - made) / 20
    link.save(update_fields=["times_read", "first_read_at", "last_read_at"])


def _approve(gate: models.Gate, rows: Rows) -> None:
    """As the customer did on the day on which the gate was cleared, from a phone."""
    assert gate.cleared is not None
    job = gate.job
    at = moment(rows.floor.at(gate.cleared, time(7, 40)))
    for panel in job.panels.all():
        shown = shown_of(panel)
        approval = models.DrawingApproval.objects.create(
            panel=panel,
            digest=hash_of(shown),
            shown=shown,
            name=job.customer.contact,
            at=at,
            # A block of addresses for documentation (RFC 5737).
            address="198.51.100.24",
            agent=AGENT,
        )
        models.Event.objects.create(
            at=at,
            verb="approved",
            subject="drawingapproval",
            subject_id=approval.pk,
            job=job,
            panel=panel,
            after={"by": approval.name, "version": approval.version},
            why="on the customer's page",
        )
