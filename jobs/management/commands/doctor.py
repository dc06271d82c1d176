"""`manage.py doctor`: what is wrong with this installation."""

import sys
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from jobs.management.doctor import examine


class Command(BaseCommand):
    help = (
        "Say in sentences what is wrong with this installation: settings, disk, database, worker, clock, backups, "
        "mail. Ends with 1 where something is."
    )
    requires_migrations_checks = False
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        found = list(examine(at=timezone.now()))
        wrong = [finding for finding in found if finding.wrong]
        for finding in wrong:
            self.stdout.write(f"Wrong: {finding.sentence}")
        for finding in found:
            if not finding.wrong:
                self.stdout.write(f"Note: {finding.sentence}")
        if wrong:
            sys.exit(1)
        self.stdout.write("Nothing is wrong.")
