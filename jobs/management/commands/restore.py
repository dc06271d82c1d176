"""`manage.py restore`: a backup into an empty place."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from jobs.actions import Refused
from jobs.management.keeping.restore import check, restore, set_aside


class Command(BaseCommand):
    help = (
        "Put a backup into an installation that has no database and no files yet. All of it is checked first; "
        "what is damaged, foreign or newer than this program is refused, with nothing changed."
    )
    # The database is not there yet, or not of this version.
    requires_migrations_checks = False
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE")
        parser.add_argument("--check", action="store_true", help="read all of it, and put it nowhere")

        parser.add_argument(
            "--set-aside",
            action="store_true",
            help="first put what is here aside, whole: to go back a version",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        path = Path(options["file"])
        try:
            manifest = check(path)
            if options["set_aside"] and not options["check"]:
                for kept in set_aside(connection, at=timezone.now()):
                    self.stdout.write(f"Set aside: {kept}")
            if not options["check"]:
                restore(path, connection)
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        holds = (
            f"{manifest.studio}, as of {manifest.made_at[:16].replace('T', ' ')} by version {manifest.version}: "
            f"{sum(manifest.rows.values())} rows of {len(manifest.rows)} tables and "
            f"{len(manifest.members) - 1} files"
        )
        if options["check"]:
            self.stdout.write(f"Whole: {holds}.")
        else:
            self.stdout.write(f"Restored: {holds}. Now run manage.py migrate, and manage.py doctor.")
