"""`manage.py export_csv FILE`: all rows as CSV in one zip, with a dictionary."""

import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from jobs.actions.base import SYSTEM
from jobs.actions.exports import note_export
from jobs.exports import write


class Command(BaseCommand):
    help = (
        "Write all rows, of one moment and while people work, as CSV files with a dictionary into the new zip FILE. "
        "Passwords, PINs and whatever opens a secret link are left out; what people are paid is in it unless you say "
        "otherwise, so keep the file as you keep your books."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE")
        parser.add_argument("--without-pay", action="store_true", help="leave out what people are paid")

    def handle(self, *args: Any, **options: Any) -> None:
        path, with_pay, at = Path(options["file"]), not options["without_pay"], timezone.now()
        beside = path.with_name(f"{path.name}.part")
        if path.exists():
            raise CommandError(f"{path} is there already: name a new file.")
        try:
            # For nobody else's eyes, from the first byte.
            with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as target:
                written = write(target, at=at, with_pay=with_pay)
            beside.rename(path)
        except OSError as error:
            raise CommandError(f"{path} could not be written: {error.strerror or error}.") from error
        finally:
            beside.unlink(missing_ok=True)
        note_export(rows=written.total, with_pay=with_pay, by=SYSTEM, at=at)
        self.stdout.write(
            f"{path}: {written.total} rows of {len(written.rows)} tables, {path.stat().st_size / 1e6:.1f} MB."
        )
