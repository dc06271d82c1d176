"""Read jobs in from a list, all of it or nothing."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from jobs.actions.base import SYSTEM
from jobs.actions.imports import LARGEST_BYTES, ImportRefused, import_jobs, template_list
from jobs.models import Workshop


def _workshop(name: str | None) -> Workshop | None:
    if name is None:
        return None
    found = Workshop.objects.filter(name__iexact=name).first()
    if found is None:
        raise CommandError(f"There is no workshop called {name}.")
    return found


class Command(BaseCommand):
    help = "Makes the jobs of a CSV list; names every bad line and then takes nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", help="the list: CSV in UTF-8")
        parser.add_argument("--workshop", help="the name of the workshop that makes all of them")
        parser.add_argument("--template", action="store_true", help="print an example of such a list instead")

    def handle(
        self, *args: Any, file: str | None, template: bool, workshop: str | None, **options: Any
    ) -> None:
        if template:
            self.stdout.write(template_list(), ending="")
            return
        if not file:
            raise CommandError("Name the file to read, or ask for --template.")
        try:
            with Path(file).open("rb") as opened:
                data = opened.read(LARGEST_BYTES + 1)
        except OSError as error:
            raise CommandError(f"{file} cannot be read: {error.strerror}.") from error
        try:
            jobs = import_jobs(data, _workshop(workshop), by=SYSTEM, at=timezone.now())
        except ImportRefused as refused:
            for fault in refused.faults:
                self.stderr.write(str(fault))
            self.stderr.write(refused.sentence)
            sys.exit(1)
        panels = sum(job.panels.count() for job in jobs)
        self.stdout.write(f"{len(jobs)} jobs with {panels} panels.")
