"""Work that rests for a reason, and goes on again."""

from datetime import date, datetime

from django.db import models
from django.utils.translation import gettext

from jobs.models import Hold, Job, Operation, Panel, Studio

from .base import Actor, Refused, mark_out_of_date, record
from .taps import once
from .timers import locked, must_be_open, stop_all


@once
def hold(
    thing: Operation | Panel | Job, reason: str, *, by: Actor, at: datetime, until: date | None = None
) -> Hold:
    """Hold one operation, a panel or a whole job; the timers on it stop. What is on a bench stays there."""
    reason = reason.strip()
    if not reason:
        raise Refused("Say what it waits for.", "reason")
    if len(reason) > 200:
        raise Refused("Say it in 200 letters or fewer.", "reason")
    if until is not None and until < at.astimezone(Studio.current().zone).date():
        raise Refused("That day is over.", "until")
    key, operations = _held_by(thing, by)
    earlier = Hold.objects.filter(**{key: thing}, released_at__isnull=True).first()
    if earlier is not None:
        raise Refused("It is held already: %(reason)s.", "reason", reason=lambda: gettext(earlier.reason))
    made = Hold.objects.create(**{key: thing}, reason=reason, since=at, until=until, held_by=by.name)
    stop_all(operations, at, by=by, why=f"held: {reason}"[:200])
    record("held", thing, by=by, at=at, after={"until": until}, why=reason)
    mark_out_of_date()
    return made


def _held_by(thing: Operation | Panel | Job, by: Actor) -> tuple[str, models.QuerySet[Operation]]:
    """Which field of a hold the thing goes into, and the operations that rest with it. Locks the thing's row."""
    match thing:
        case Operation():
            operation = locked(thing)
            must_be_open(operation.job)
            if operation.finished_at is not None:
                raise Refused("It is finished already.")
            return "operation", Operation.objects.filter(pk=thing.pk)
        case Panel():
            panel = Panel.objects.select_for_update(of=("self",)).select_related("job").get(pk=thing.pk)
            must_be_open(panel.job)
            return "panel", Operation.objects.filter(panel=thing)
    if not by.is_office:
        raise Refused("Only the office can hold a whole job.")
    must_be_open(Job.objects.select_for_update().get(pk=thing.pk))
    return "job", Operation.objects.filter(job=thing)


@once
def release(held: Hold, *, by: Actor, at: datetime) -> Hold:
    """Let the work go on."""
    held = (
        Hold.objects.select_for_update(of=("self",))
        .select_related("operation__job", "operation__panel", "panel__job", "job")
        .get(pk=held.pk)
    )
    if held.released_at is not None:
        raise Refused("It is not held any more.")
    held.released_at, held.released_by = max(at, held.since), by.name
    held.save(update_fields=["released_at", "released_by"])
    thing = held.operation or held.panel or held.job
    assert thing is not None  # A constraint of holds.
    record("released", thing, by=by, at=at, before={"since": held.since}, why=held.reason)
    mark_out_of_date()
    return held
