"""Dates written down by hand, so that a page's test knows what the plan says without making one."""

from datetime import date, datetime, timedelta

from jobs.models import Job, LoadWeek, Operation, Person, PlanState, Projection, Station


def settle(at: datetime, tightest: Station | None = None, problems: tuple[str, ...] = ()) -> PlanState:
    """The dates are as of `at` and nothing has changed since: no reader makes them anew."""
    return PlanState.objects.update_or_create(
        pk=1,
        defaults={
            "revision": 1,
            "planned_revision": 1,
            "planned_at": at,
            "tightest": tightest,
            "problems": [{"sentence": sentence, "job": None, "operation": None} for sentence in problems],
        },
    )[0]


def plan(
    operation: Operation, start: datetime, finish: datetime, rank: int = 0, person: Person | None = None
) -> Projection:
    return Projection.objects.create(
        operation=operation,
        p50=finish,
        p80=finish,
        p95=finish,
        start=start,
        finish=finish,
        rank=rank,
        person=person,
    )


def plan_job(job: Job, finish: datetime, chance: float | None) -> Projection:
    """The job is ready by `finish` with 80 %, a day earlier with 50 %, a day later with 95 %."""
    one = timedelta(days=1)
    return Projection.objects.create(
        job=job, p50=finish - one, p80=finish, p95=finish + one, confident_day=finish.date(), chance=chance
    )


def load(station: Station, monday: date, work: int, capacity: int) -> LoadWeek:
    """Hours, not minutes."""
    return LoadWeek.objects.create(
        station=station, week=monday, work=work * 60, work_80=work * 66, capacity=capacity * 60
    )
