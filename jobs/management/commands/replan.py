"""`manage.py replan`: make the dates anew and print them, one line a job.

What is printed are the dates of the time that was asked for. Pages show them too, unless newer ones are kept already or
that time is still to come.
"""

import json
from argparse import ArgumentParser
from datetime import date, datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from jobs import planning
from jobs.actions.plan import keep, plan_of
from jobs.models import Job, Station, Studio


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
        reading, plan = plan_of(at, seed=options["seed"], futures=options["futures"])
        if at <= timezone.now():
            keep(reading, plan)
        if not options["quiet"]:
            said = _as_json(plan, studio) if options["json"] else _as_text(plan, studio)
            self.stdout.write(said)


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


def _rows(plan: planning.Plan, studio: Studio) -> list[dict[str, Any]]:
    """The open jobs by number; those without a date have no `p50` and what follows."""
    rows = []
    for job in Job.objects.open().with_promise().order_by("number"):
        due: date | None = job.promised or job.wanted_by  # type: ignore[attr-defined]
        row: dict[str, Any] = {"number": job.number, "due": due.isoformat() if due else None}
        if window := plan.jobs.get(job.pk):
            for name in ("p50", "p80", "p95"):
                row[name] = getattr(window, name).astimezone(studio.zone).isoformat()
            row["day"] = plan.day_for(job.pk, float(studio.confidence)).isoformat()
            row["chance"] = plan.chance(job.pk, due) if due else None
        rows.append(row)
    return rows


def _as_text(plan: planning.Plan, studio: Studio) -> str:
    lines = [f"{'job':<20}  {'50 %':<10}  {'80 %':<10}  {'95 %':<10}  {'due':<10}  chance"]
    for row in _rows(plan, studio):
        line = f"{row['number']:<20}  "
        if "p50" not in row:
            line += f"{'no date':<10}  {'':<10}  {'':<10}  {row['due'] or ''}"
        else:
            days = "  ".join(row[name][:10] for name in ("p50", "p80", "p95"))
            chance = "" if row["chance"] is None else f"{row['chance'] * 100:5.1f} %"
            line += f"{days}  {row['due'] or '':<10}  {chance}"
        lines.append(line.rstrip())
    lines += [problem.sentence for problem in plan.problems]
    return "\n".join(lines)


def _as_json(plan: planning.Plan, studio: Studio) -> str:
    tightest = Station.objects.filter(pk=plan.tightest or 0).first()
    found = {
        "planned_at": plan.now.astimezone(studio.zone).isoformat(),
        "seed": plan.seed,
        "futures": plan.futures,
        "tightest": tightest.name if tightest else None,
        "jobs": _rows(plan, studio),
        "problems": [problem.sentence for problem in plan.problems],
    }
    return json.dumps(found, ensure_ascii=False, indent=1)
