"""Rows as they are answered: each a query of a constant number, whatever the history."""

from datetime import datetime
from typing import Any

from django.db.models import Model, Prefetch, Q, QuerySet

from jobs.models import (
    Customer,
    Event,
    Job,
    Nature,
    Operation,
    Panel,
    Person,
    Projection,
    Promise,
    Skill,
    State,
    Station,
    Studio,
    TimeEntry,
)
from jobs.models.bench import Work, read_whole_bench

# As many as a station can have waiting at the most; what is over is told nobody.
QUEUE = 10_000


Since = QuerySet[Event] | None


def _of(since: QuerySet[Event], subject: type[Model]) -> QuerySet[Event, Any]:
    return since.filter(subject=subject._meta.model_name).values("subject_id")


def jobs(since: Since) -> QuerySet[Job]:
    rows = Job.objects.with_promise()
    return rows if since is None else rows.filter(pk__in=since.filter(job__isnull=False).values("job"))


def panels(since: Since) -> QuerySet[Panel]:
    rows = Panel.objects.defer("drawing")
    return rows if since is None else rows.filter(pk__in=since.filter(panel__isnull=False).values("panel"))


def operations(at: datetime, since: Since, state: str | None) -> QuerySet[Operation]:
    """With `state` and `spent`; of a state other than done only what the floor works on."""
    rows = Operation.objects.open(at) if state and state != State.DONE else Operation.objects.all()
    if since is not None:
        # Hours and holds stand with the panel, or with the job where the work is of all of it.
        of_jobs = since.filter(job__isnull=False, panel__isnull=True)
        rows = rows.filter(
            Q(panel__in=since.filter(panel__isnull=False).values("panel")) | Q(job__in=of_jobs.values("job"))
        )
    return _in_state(rows.with_state(at).with_hours().select_related("kind"), state)


def _in_state(rows: Any, state: str | None) -> QuerySet[Operation]:
    found: QuerySet[Operation] = rows.filter(state=state) if state else rows
    return found


def counts(at: datetime) -> dict[int, dict[str, int]]:
    """How much unfinished work there is in each state, by station. One query."""
    rows: Any = Operation.objects.open(at).filter(kind__nature=Nature.ATTENDED).with_state(at).order_by()
    found: dict[int, dict[str, int]] = {}
    for station, state in rows.values_list("kind__station", "state"):
        of = found.setdefault(station, {})
        of[state] = of.get(state, 0) + 1
    return found


def queue(station: Station, at: datetime, studio: Studio) -> dict[str, Any]:
    bench = read_whole_bench(station, at, studio, QUEUE)
    return {
        "station_id": station.pk,
        "on_bench": [_queued(work) for work in bench.current],
        "ready": [_queued(work) for work in bench.following],
        "held": [_queued(work) for work in bench.held],
        "coming": [_queued(work) for work in bench.coming],
    }


def _queued(work: Work) -> dict[str, Any]:
    operation = work.operation
    return {
        "operation_id": operation.pk,
        "job_id": operation.job_id,
        "panel_id": operation.panel_id,
        "kind": operation.kind.name,
        "state": work.state,
        "keeper_id": operation.keeper_id,
        "minutes_left": work.minutes_left,
        "actual_minutes": work.spent,
        "due": work.due,
        "waits_for": work.waits_for.pk if work.waits_for else None,
    }


def people(since: Since) -> QuerySet[Person]:
    """Without what they are paid, which is not even read."""
    skills = Prefetch("skills", Skill.objects.order_by("station"))
    rows = Person.objects.only("name", "active").prefetch_related(skills)
    return rows if since is None else rows.filter(pk__in=_of(since, Person))


def hours(since: Since) -> QuerySet[TimeEntry]:
    """With the job and panel of each. Of a timer that was started the word stands with its operation."""
    rows = TimeEntry.objects.select_related("operation")
    if since is None:
        return rows
    return rows.filter(Q(pk__in=_of(since, TimeEntry)) | Q(operation__in=_of(since, Operation)))


def promises(since: Since) -> QuerySet[Promise]:
    rows = Promise.objects.all()
    return rows if since is None else rows.filter(job__in=since.filter(job__isnull=False).values("job"))


def dates(job: int | None) -> QuerySet[Projection]:
    """Those of jobs and panels; of one job alone if it is said."""
    found = Projection.objects.filter(operation__isnull=True)
    return found.filter(Q(job=job) | Q(panel__job=job)) if job else found


def customers(since: Since) -> QuerySet[Customer]:
    rows = Customer.objects.all()
    return rows if since is None else rows.filter(pk__in=_of(since, Customer))
