"""`manage.py replan`: make the dates anew and print them, one line a job."""

import json
from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from jobs.actions.plan import replan
from jobs.models import Job, PlanState, Projection, Studio


class Command(BaseCommand):
    help = "Make the dates anew from the rows as they stand, and print them. Same rows, time and seed: same dates."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--quiet", action="store_true", help="print nothing")
        parser.add_argument(
            "--at", metavar="TIME", help="plan from this time instead of now: 2026-03-02T10:00"
        )
        parser.add_argument("--futures", type=int, metavar="N", help="how often the floor is run")
        parser.add_argument("--seed", type=int, metavar="N", help="which chances are drawn")
        parser.add_argument("--json", action="store_true", help="print one JSON object")

    def handle(self, *args: Any, **options: Any) -> None:
        studio = Studio.current()
        at = _time(options["at"], studio)
        for name in ("futures", "seed"):
            if options[name] is not None and not 1 <= options[name] <= 1_000_000:
                raise CommandError(f"--{name} is a whole number from 1 to 1000000.")
        state = replan(at=at, seed=options["seed"], futures=options["futures"], force=True)
        if options["quiet"]:
            return
        with timezone.override(studio.zone):
            self.stdout.write(_as_json(state) if options["json"] else _as_text(state))


def _time(typed: str | None, studio: Studio) -> datetime:
    if typed is None:
        return timezone.now()
    try:
        found = parse_datetime(typed)
    except ValueError:
        found = None
    if found is None:
        raise CommandError(f"“{typed}” is not a time; one is 2026-03-02T10:00.")
    return found if timezone.is_aware(found) else found.replace(tzinfo=studio.zone)


def _rows() -> list[tuple[Job, Projection | None]]:
    jobs = Job.objects.open().with_promise().select_related("projection").order_by("number")
    return [(job, getattr(job, "projection", None)) for job in jobs]


def _day(at: datetime) -> str:
    return timezone.localtime(at).date().isoformat()


def _as_text(state: PlanState) -> str:
    lines = [f"{'job':<20}  {'50 %':<10}  {'80 %':<10}  {'95 %':<10}  {'due':<10}  chance"]
    for job, dates in _rows():
        due = job.promised or job.wanted_by  # type: ignore[attr-defined]
        line = f"{job.number:<20}  "
        if dates is None:
            line += f"{'no date':<10}  {'':<10}  {'':<10}  {due or ''}"
        else:
            chance = "" if dates.chance is None else f"{dates.chance * 100:5.1f} %"
            line += f"{_day(dates.p50)}  {_day(dates.p80)}  {_day(dates.p95)}  {due or ''!s:<10}  {chance}"
        lines.append(line.rstrip())
    lines += [problem["sentence"] for problem in state.problems]
    return "\n".join(lines)


def _as_json(state: PlanState) -> str:
    jobs = []
    for job, dates in _rows():
        due = job.promised or job.wanted_by  # type: ignore[attr-defined]
        row: dict[str, Any] = {"number": job.number, "due": due.isoformat() if due else None}
        if dates is not None:
            row |= {
                "p50": timezone.localtime(dates.p50).isoformat(),
                "p80": timezone.localtime(dates.p80).isoformat(),
                "p95": timezone.localtime(dates.p95).isoformat(),
                "day": dates.confident_day.isoformat() if dates.confident_day else None,
                "chance": dates.chance,
            }
        jobs.append(row)
    planned = timezone.localtime(state.planned_at).isoformat() if state.planned_at else None
    found = {
        "planned_at": planned,
        "seed": state.seed,
        "futures": state.futures,
        "tightest": state.tightest.name if state.tightest else None,
        "jobs": jobs,
        "problems": [problem["sentence"] for problem in state.problems],
    }
    return json.dumps(found, ensure_ascii=False, indent=1)
