"""What the actions of the bench share: who runs which timer, how one is stopped, and how rows are locked."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.db.models import F, Model, Q, QuerySet
from django.utils.translation import gettext_noop

from jobs.models import (
    Gate,
    Hold,
    Job,
    Nature,
    Operation,
    Panel,
    Person,
    Stage,
    Studio,
    TimeEntry,
)
from jobs.models.prepared import Prepared
from jobs.models.working import WorkingHours, hours_of
from jobs.planning.readiness import may_start

from .base import Actor, Refused, record

NOT_ON_THE_FLOOR = {
    Stage.ENQUIRY: gettext_noop("The job is not ordered yet."),
    Stage.QUOTED: gettext_noop("The job is not ordered yet."),
    Stage.COMPLETE: gettext_noop("The job is complete."),
}


def locked(operation: Operation) -> Operation:
    """The operation as it is now, kept from changing until the transaction ends.

    Locked first and read afterwards: on PostgreSQL the rows that are joined to one that had to be waited for are still
    those of before, so that whoever keeps it by now would not be seen.
    """
    _there(_LOCK, operation)
    found: Operation = _there(_LOCKED, operation)
    return found


def locked_person(person: Person) -> Person:
    """The person; two taps of one person come one after the other from here on."""
    found: Person = _there(_LOCKED_PERSON, person)
    return found


def _there(query: Prepared, row: Model) -> Any:
    found = query.first(row.pk)
    if found is None:
        raise ObjectDoesNotExist
    return found


def running_of(person: Person) -> TimeEntry | None:
    """The entry that runs for a person, locked."""
    entry: TimeEntry | None = _LOCKED_RUNNING.first(person.pk)
    return entry


# What the planner's rule says of work at a bench, for the translations.
gettext_noop("The job is cancelled.")
gettext_noop("It is held: %(reason)s.")
gettext_noop("It is held.")
gettext_noop("It cannot be worked on before %(work)s is finished.")
gettext_noop("It cannot be worked on before %(work)s are finished.")
gettext_noop("It cannot be worked on yet, still to come: %(gates)s.")


def reasons_against(operation: Operation, at: datetime) -> tuple[str, ...]:
    """Why no work may be done on the operation at `at`, by the rule that the planner goes by; finished or not."""
    job = operation.job
    if job.stage in NOT_ON_THE_FLOOR:
        return (NOT_ON_THE_FLOOR[Stage(job.stage)],)
    if operation.skipped:
        return (gettext_noop("It is left out of this panel."),)
    before = _UNFINISHED_BEFORE(operation.pk, at)
    needed = operation.kind.gates
    gates = Gate.objects.filter(job=job, kind__in=needed, cleared__isnull=True) if needed else []
    hold = _HOLDS.first(operation.pk, operation.job_id, operation.panel_id or 0)
    return may_start(
        nature=operation.kind.nature,
        unfinished=[str(other) for other in before],
        gates_open=[gate.get_kind_display() for gate in gates],
        held=hold.reason if hold else None,
        cancelled=not job.is_open,
        done=False,
        early=operation.early,
    )


def _holds(operation: int, job: int, panel: int) -> QuerySet[Hold]:
    """The open holds that keep the operation from going on: its own, its panel's and its job's."""
    mine = Q(operation=operation) | Q(job=job) | Q(panel=panel)
    return Hold.objects.filter(mine, released_at__isnull=True)


def must_share_a_workshop(person: Person, operation: Operation) -> None:
    """Refuse that somebody of one workshop works on what another makes."""
    if person.workshop_id != operation.job.workshop_id:
        raise Refused(
            "%(person)s works at %(own)s, and this is made at %(other)s.",
            person=person,
            own=person.workshop,
            other=operation.job.workshop,
        )


def must_be_attended(operation: Operation) -> None:
    if operation.kind.nature != Nature.ATTENDED:
        raise Refused("%(work)s takes nobody’s time at a bench.", work=operation)


def stop_entry(
    entry: TimeEntry,
    at: datetime,
    *,
    by: Actor,
    verb: str = "stopped",
    hours: WorkingHours | None = None,
    why: str = "",
) -> None:
    """Stop a running entry at `at`, and work out what of it counts.

    A timer left on is stopped at the end of its shift and questioned: it counts once its person has answered. One
    that stops in the instant of its start was a slip and is taken back.
    """
    if hours is None:
        hours = hours_of([entry], at, Studio.current())[entry.person_id]
    since = hours.left_on_since(entry, at)
    stop = since or at
    if stop <= entry.started_at:
        entry.voided_at, entry.void_reason = at, gettext_noop("stopped as soon as it started")
        entry.save(update_fields=["voided_at", "void_reason"])
        slip = {"person": entry.person, "from": entry.started_at}
        record("taken back", entry, by=by, at=at, before=slip, why=entry.void_reason)
        return
    entry.stopped_at = stop
    entry.minutes = hours.counted(entry.started_at, stop)
    entry.questioned = since is not None
    entry.save(update_fields=["stopped_at", "minutes", "questioned"])
    after = {"person": entry.person, "from": entry.started_at, "to": stop, "minutes": entry.minutes}
    if entry.questioned:
        after["questioned"] = True
    record(verb, entry, by=by, at=at, after=after, why=why)


def must_have_begun(entry: TimeEntry, at: datetime) -> None:
    """Refuse that a tap which comes late stops a timer that began after it happened."""
    if entry.started_at > at:
        since = entry.started_at.astimezone(Studio.current().zone)
        raise Refused(
            "%(person)s has been at %(work)s since %(time)s, which is later than that.",
            person=entry.person,
            work=entry.operation,
            time=f"{since:%H:%M}",
        )


def stop_all(operations: Iterable[Operation], at: datetime, *, by: Actor, why: str = "") -> list[TimeEntry]:
    """Stop every timer that runs on these operations; Refused where one began after `at`."""
    running = list(
        TimeEntry.objects.running()
        .filter(operation__in=operations)
        .select_for_update(of=("self",))
        .select_related("operation__job", "operation__panel", "operation__kind", "person")
    )
    if running:
        hours = hours_of(running, at, Studio.current())
        for entry in running:
            must_have_begun(entry, at)
            stop_entry(entry, at, by=by, hours=hours[entry.person_id], why=why)
    return running


def unanswered(person: Person, at: datetime) -> TimeEntry | None:
    """A timer that the person left on and has not spoken for: one that still runs, or one stopped for them."""
    entry = questioned_of(person)
    if entry is not None:
        return entry
    running: TimeEntry | None = _RUNNING.first(person.pk)
    if running is None:
        return None
    hours = hours_of([running], at, Studio.current())[person.pk]
    return running if hours.left_on_since(running, at) else None


def questioned_of(person: Person) -> TimeEntry | None:
    """A timer that was stopped for the person at the end of a shift, and that they have not spoken for."""
    # By key, so that the small index of questioned entries serves it and not a person's whole history.
    found = _QUESTIONED.first(person.pk)
    return _told_whole(TimeEntry.objects.filter(pk=found)).get() if found else None


def _told_whole(rows: QuerySet[TimeEntry]) -> QuerySet[TimeEntry]:
    rows = rows.select_related(
        "person", "operation__job", "operation__panel__job", "operation__kind__station"
    )
    return rows.defer("operation__panel__drawing")


# Not by their keys: the planner keeps dates that name this work and this person, and waits for nobody at a bench who
# waits for the planner in turn, to tell that its dates are out of date.
_LOCK = Prepared(
    lambda pk: (
        Operation.objects.filter(pk=pk).order_by().select_for_update(no_key=True).values_list("pk", flat=True)
    )
)
_LOCKED = Prepared(
    lambda pk: (
        Operation.objects.filter(pk=pk)
        .select_related("job", "panel", "kind__station", "keeper", "pinned_person")
        .defer("panel__drawing")
    )
)
_LOCKED_PERSON = Prepared(lambda pk: Person.objects.filter(pk=pk).select_for_update(no_key=True))
_LOCKED_RUNNING = Prepared(
    lambda person: (
        TimeEntry.objects.running()
        .filter(person=person)
        .select_for_update(of=("self",))
        .select_related("operation__job", "operation__panel", "operation__kind", "person")
        .defer("operation__panel__drawing")
    )
)
_UNFINISHED_BEFORE = Prepared(
    lambda operation, at: (
        Operation.objects.filter(then=operation, skipped=False)
        .exclude(finished_at__lte=at)
        .select_related("kind")
    )
)
_HOLDS = Prepared(lambda operation, job, panel: _holds(operation, job, panel)[:1])
_RUNNING = Prepared(lambda person: _told_whole(TimeEntry.objects.running().filter(person=person))[:1])
_QUESTIONED = Prepared(
    lambda person: (
        TimeEntry.objects.valid()
        .filter(person=person, questioned=True)
        .order_by("pk")
        .values_list("pk", flat=True)[:1]
    )
)


def move_panel(panel: Panel | None, where: str) -> None:
    if panel is not None and panel.where != where:
        panel.where = where
        panel.save(update_fields=["where"])


def add_pieces(operation: Operation, person: Person | None, number: int) -> None:
    """Credit pieces to the person's entry on the operation: the running one, or else the last."""
    if person is None or not number:
        return
    entries = TimeEntry.objects.valid().filter(operation=operation, person=person)
    entry = entries.order_by(F("stopped_at").desc(nulls_first=True), "-started_at").first()
    if entry is not None:
        entry.pieces_done = max(0, entry.pieces_done + number)
        entry.save(update_fields=["pieces_done"])


def must_be_open(job: Job) -> None:
    if not job.is_open:
        raise Refused(NOT_ON_THE_FLOOR.get(Stage(job.stage), "The job is cancelled."))
