"""`manage.py backup`: all of an installation in one file, while it is in use."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from jobs.actions import Refused
from jobs.management.keeping.backup import make_backup
from jobs.management.keeping.rotation import Keep, backups_in, rotate
from jobs.models import Studio


class Command(BaseCommand):
    help = (
        "Write the database, kept files, mail and secret key into one checked file in DIR, while people work; "
        "then remove the backups there that are older than what is to be kept. The file opens everything that "
        "the studio knows: keep it as you keep its keys, and a copy of it in another place."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", nargs="?", metavar="DIR", help="by default BACKUP_DIR")
        usual = Keep()
        parser.add_argument("--daily", type=int, default=usual.daily, metavar="N", help="days to keep (7)")
        parser.add_argument("--weekly", type=int, default=usual.weekly, metavar="N", help="weeks to keep (5)")
        parser.add_argument(
            "--monthly", type=int, default=usual.monthly, metavar="N", help="months to keep (12)"
        )
        parser.add_argument("--keep-all", action="store_true", help="remove none")

    def handle(self, *args: Any, **options: Any) -> None:
        folder = Path(options["folder"] or settings.BACKUP_DIR)
        try:
            keep = Keep(options["daily"], options["weekly"], options["monthly"])
            path, manifest = make_backup(folder, connection, at=timezone.now())
        except ValueError as error:
            raise CommandError(str(error)) from error
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        self.stdout.write(
            f"{path}: {sum(manifest.rows.values())} rows of {len(manifest.rows)} tables and "
            f"{len(manifest.members) - 1} files, {path.stat().st_size / 1e6:.1f} MB."
        )
        if options["keep_all"]:
            return
        gone = rotate(folder, keep, Studio.current().zone)
        self.stdout.write(f"{len(gone)} older ones are removed, {len(backups_in(folder))} are kept.")
