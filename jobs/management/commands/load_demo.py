"""`manage.py load_demo`: fill an empty database with the demo studio.

A real studio loads only its usual stations, kinds and routes: `manage.py loaddata trade`.
"""

from argparse import ArgumentParser
from datetime import datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from jobs.management.demo import staff
from jobs.management.demo.load import Wish, load
from jobs.models import Job, Operation, Panel, TimeEntry


class Command(BaseCommand):
    help = (
        "Load an invented studio with people, history and open jobs, relative to today. "
        "A real studio loads only the usual stations, kinds and routes: manage.py loaddata trade."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--if-empty", action="store_true", help="do nothing when there is any job already"
        )
        parser.add_argument("--seed", type=int, default=1, help="the same seed and day make the same studio")
        parser.add_argument("--years", type=int, default=2, help="length of its history (default 2)")
        parser.add_argument(
            "--dense", action="store_true", help="small jobs and short entries, for measurements"
        )
        parser.add_argument("--open-jobs", type=int, default=30, help="commissions on the floor (default 30)")
        parser.add_argument(
            "--today", help="the day (2026-03-04, taken at 10:20) or time (2026-03-04T14:30) it is to be"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if Job.objects.exists():
            if options["if_empty"]:
                self._say("There are jobs already: the demo studio was not loaded, all is kept.", options)
                return
            raise CommandError(
                "There are jobs in this database: the demo studio is loaded into an empty one."
            )
        if options["years"] < 1 or options["open_jobs"] < 12:
            raise CommandError("The demo studio needs a year of history and a dozen open jobs at least.")
        load(
            Wish(
                _now(options["today"]),
                options["seed"],
                options["years"],
                options["dense"],
                options["open_jobs"],
                selling=not options["dense"],
            )
        )
        self._say(
            f"Loaded the demo studio: {Job.objects.count()} jobs, {Job.objects.open().count()} of them open, "
            f"{Panel.objects.count()} panels, {Operation.objects.count()} operations, "
            f"{TimeEntry.objects.count()} time entries.",
            options,
        )

    def _say(self, sentence: str, options: dict[str, Any]) -> None:
        if options["verbosity"]:
            self.stdout.write(sentence)


def _now(text: str | None) -> datetime:
    """The time it is to be: now, or on the studio's clock what was asked for."""
    if not text:
        return timezone.now()
    try:
        at = datetime.fromisoformat(text)
    except ValueError as error:
        raise CommandError(f"“{text}” is not a day such as 2026-03-04.") from error
    if "T" not in text and " " not in text:
        at = datetime.combine(at.date(), time(10, 20))
    return at.replace(tzinfo=ZoneInfo(staff.ZONE)) if at.tzinfo is None else at
