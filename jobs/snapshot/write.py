"""Planning result -> rows: all that the present plan says, in place of what the last one said."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from jobs import planning
from jobs.models import (
    Job,
    LoadWeek,
    Operation,
    Panel,
    Person,
    PersonWeek,
    PlanState,
    Projection,
    Stage,
    Station,
)


def write_plan(
    plan: planning.Plan,
    *,
    due: Mapping[int, date | None],
    confidence: float,
    state: PlanState,
    revision: int,
) -> None:
    """Replace all projections and loads by those of `plan`, which was made from the rows of `revision`.

    The caller is in a transaction and has locked `state`. `due`: by job, the day promised or wished; `confidence`:
    that of a promise. What went or was closed while the plan was made is left out.
    """
    jobs = set(Job.objects.open().values_list("pk", flat=True))
    panels = set(Panel.objects.filter(job__stage=Stage.ORDERED).values_list("pk", flat=True))
    operations = set(Operation.objects.filter(job__stage=Stage.ORDERED).values_list("pk", flat=True))
    stations = set(Station.objects.values_list("pk", flat=True))
    rows = [_of_job(plan, job, due.get(job), confidence) for job in plan.jobs if job in jobs]
    rows += [Projection(panel_id=pk, **_window(at)) for pk, at in plan.panels.items() if pk in panels]
    rows += [_of_operation(each) for pk, each in plan.operations.items() if pk in operations]
    Projection.objects.all().delete()
    Projection.objects.bulk_create(rows)
    LoadWeek.objects.all().delete()
    LoadWeek.objects.bulk_create(_load(week) for week in plan.load if week.station in stations)
    people = set(Person.objects.values_list("pk", flat=True))
    PersonWeek.objects.all().delete()
    PersonWeek.objects.bulk_create(_of_person(week) for week in plan.people if week.person in people)
    _note(plan, state, revision, plan.tightest if plan.tightest in stations else None)


def _note(plan: planning.Plan, state: PlanState, revision: int, tightest: int | None) -> None:
    state.planned_revision = revision
    state.planned_at = plan.now
    state.seed = plan.seed
    state.futures = plan.futures
    state.tightest_id = tightest
    state.problems = [
        {"sentence": each.sentence, "job": each.job, "operation": each.operation} for each in plan.problems
    ]
    state.save(update_fields=["planned_revision", "planned_at", "seed", "futures", "tightest", "problems"])


def _window(at: planning.Window) -> dict[str, Any]:
    return {"p50": at.p50, "p80": at.p80, "p95": at.p95}


def _of_job(plan: planning.Plan, job: int, due: date | None, confidence: float) -> Projection:
    return Projection(
        job_id=job,
        **_window(plan.jobs[job]),
        confident_day=plan.day_for(job, confidence),
        chance=plan.chance(job, due) if due is not None else None,
    )


def _of_operation(each: planning.OperationPlan) -> Projection:
    alike = planning.Window(each.finish, each.finish, each.finish)
    return Projection(
        operation_id=each.id,
        **_window(each.finish_window or alike),
        start=each.start,
        finish=each.finish,
        person_id=each.person,
        rank=each.rank,
    )


def _load(week: planning.LoadWeek) -> LoadWeek:
    return LoadWeek(
        station_id=week.station,
        week=week.week,
        work=week.work_minutes,
        work_80=week.work_minutes_80,
        # Whoever is called away from one operation for another counts as busy with both, which may leave less than
        # nothing. No week has fewer minutes than none, and all dates would be lost with this row.
        capacity=max(week.capacity_minutes, 0),
    )


def _of_person(week: planning.PersonWeek) -> PersonWeek:
    return PersonWeek(
        person_id=week.person,
        week=week.week,
        work=week.work_minutes,
        work_80=week.work_minutes_80,
        there=week.there_minutes,
    )
