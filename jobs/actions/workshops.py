"""Workshops under one roof: made and named, and jobs moved from one to another."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q

from jobs.models import Job, Operation, OperationKind, Station, TimeEntry, Workshop

from .base import Actor, Refused, mark_out_of_date, put, record
from .graph import lock_job
from .names import clean_name, free_slug

FIELDS = ("name", "place")


@transaction.atomic
def add_workshop(name: str, *, by: Actor, at: datetime) -> Workshop:
    """A workshop after all others, without stations, people and jobs yet; its address is made from its name."""
    last = Workshop.objects.order_by("-place").values_list("place", flat=True).first()
    workshop = Workshop(name=clean_name(name, "workshop", 40), place=0 if last is None else last + 1)
    _check(workshop)
    workshop.slug = free_slug(Workshop, workshop.name)
    workshop.save()
    record("added", workshop, by=by, at=at, after={"name": workshop.name})
    mark_out_of_date()
    return workshop


@transaction.atomic
def change_workshop(workshop: Workshop, values: Mapping[str, Any], *, by: Actor, at: datetime) -> Workshop:
    """Change what FIELDS say; its address stays."""
    workshop = Workshop.objects.select_for_update().get(pk=workshop.pk)
    wanted = {name: values[name] for name in FIELDS if name in values}
    if "name" in wanted:
        wanted["name"] = clean_name(wanted["name"], "workshop", 40)
    before, after = put(workshop, wanted)
    if not after:
        return workshop
    _check(workshop)
    workshop.save(update_fields=list(after))
    record("changed", workshop, by=by, at=at, before=before, after=after)
    mark_out_of_date()
    return workshop


@transaction.atomic
def move_job(job: Job, workshop: Workshop, *, why: str = "", by: Actor, at: datetime) -> Job:
    """Another workshop makes it. Refused once work on it has begun, and where that workshop has no such work.

    Each operation becomes that workshop's own kind of the same work; whom it was given to and its turn are forgotten.
    """
    job = lock_job(job)
    if job.workshop_id == workshop.pk:
        raise Refused(f"Job {job.number} is made at {workshop} already.", "workshop")
    rows = list(job.operations.select_for_update(of=("self",)).select_related("kind__station", "panel"))
    _refuse_begun(job, rows)
    before = job.workshop
    for row in rows:
        row.kind = kind_in(row.kind, workshop.pk)
        row.pinned_person, row.pinned_place = None, None
    Operation.objects.bulk_update(rows, ["kind", "pinned_person", "pinned_place"])
    job.workshop = workshop
    job.save(update_fields=["workshop"])
    told = {"workshop": before}, {"workshop": workshop}
    record("moved to another workshop", job, by=by, at=at, before=told[0], after=told[1], why=why.strip())
    mark_out_of_date()
    return job


def _refuse_begun(job: Job, rows: list[Operation]) -> None:
    logged = set(TimeEntry.objects.valid().filter(operation__job=job).values_list("operation", flat=True))
    for row in rows:
        if row.started_at or row.finished_at or row.quantity_done or row.keeper_id or row.pk in logged:
            of = f" of {row.panel.name}" if row.panel else ""
            raise Refused(f"{row}{of} has begun: job {job.number} stays at {job.workshop}.", "workshop")


def kind_in(kind: OperationKind, workshop: int) -> OperationKind:
    """The kind itself, or the same work as that workshop (by id) does it; Refused where it does not.

    Read the kind with its station, then work that is of the workshop costs no query. What cures or is done outside has
    no station and is everybody's.
    """
    if kind.station is None or kind.station.workshop_id == workshop:
        return kind
    root = kind.same_as_id or kind.pk
    alike = OperationKind.objects.filter(Q(pk=root) | Q(same_as=root)).select_related("station")
    found = alike.filter(station__workshop=workshop).order_by("place", "pk").first()
    if found is None:
        raise Refused(
            f"{Workshop.objects.get(pk=workshop)} has no work that is the same as {kind}: "
            "say so at one of its kinds of work.",
            "workshop",
        )
    return found


def check_kind_stays(kind: OperationKind, station: Station | None) -> None:
    """Refuse that work which jobs have is done in another workshop than theirs from now on; `kind` is as it is kept."""
    if kind.pk is None or station is None:
        return
    was = Station.objects.filter(kinds=kind.pk).exclude(workshop=station.workshop_id).first()
    if was is not None and Operation.objects.filter(kind=kind.pk).exists():
        raise Refused(f"Jobs of {was.workshop} have this work, so it stays at a station there.", "station")


def check_same_as(kind: OperationKind, other: OperationKind | None, station: Station | None) -> None:
    """Refuse that two kinds of one workshop are the same work, or a kind that others point at points on."""
    if other is None or station is None:
        return
    if kind.pk is not None and kind.elsewhere.exists():
        raise Refused("Others are the same as this one: say it at those.", "same_as")
    alike = OperationKind.objects.filter(Q(pk=other.pk) | Q(same_as=other)).exclude(pk=kind.pk)
    there = alike.filter(station__workshop=station.workshop_id).first()
    if there is not None:
        raise Refused(f"{station.workshop} does that work already, as {there}.", "same_as")


def must_be_done_for(kind: OperationKind, job: Job) -> None:
    """Refuse work at a bench of another workshop than the job's."""
    if kind.station is not None and kind.station.workshop_id != job.workshop_id:
        raise Refused(f"{kind} is done at {kind.station.workshop}, and this job at {job.workshop}.", "kind")


def _check(workshop: Workshop) -> None:
    if Workshop.objects.filter(name__iexact=workshop.name).exclude(pk=workshop.pk).exists():
        raise Refused(f"There is a workshop {workshop.name} already.", "name")
    if not 0 <= workshop.place <= 32_767:
        raise Refused("The order in lists is a number from 0 on.", "place")
