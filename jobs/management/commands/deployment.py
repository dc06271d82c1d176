"""`manage.py deployment DIR --host NAME`: the files that run an installation, made for where it lies."""

import getpass
import re
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

UNITS = ("studio-web.service", "studio-worker.service", "studio-backup.service", "studio-backup.timer")
_HOST = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*")


class Command(BaseCommand):
    help = (
        "Write into DIR what runs this installation on a small Linux computer: units of systemd for the pages, the "
        "worker and the nightly backup, TLS in front (Caddyfile), and the settings (settings.env). Nothing outside "
        "DIR is touched; the README says where each goes."
    )
    requires_migrations_checks = False
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", metavar="DIR")
        parser.add_argument(
            "--host", required=True, help="the name under which it is reached: floor.studio.example"
        )
        parser.add_argument(
            "--internal", action="store_true", help="a name that only the studio's own network knows"
        )
        parser.add_argument("--user", default=getpass.getuser(), help="whose account it runs under")
        parser.add_argument(
            "--port", type=int, default=8000, help="of this computer, behind the proxy (8000)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not _HOST.fullmatch(options["host"]):
            raise CommandError(
                "--host is a name such as floor.studio.example, without https:// and without a path."
            )
        if not re.fullmatch(r"[a-z_][a-z0-9_-]*", options["user"]):
            raise CommandError("--user is the name of an account of this computer.")
        folder = Path(options["folder"])
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in deployment(
            options["host"], options["user"], port=options["port"], internal=options["internal"]
        ).items():
            (folder / name).write_text(text)
            self.stdout.write(str(folder / name))


def deployment(host: str, user: str, *, port: int = 8000, internal: bool = False) -> dict[str, str]:
    """The files by name, for this checkout and its VAR_DIR."""
    from_files = settings.BASE_DIR / "studio" / "deployment"
    values = {
        "host": host,
        "user": user,
        "port": str(port),
        "folder": str(settings.BASE_DIR),
        "var": str(settings.VAR_DIR),
        "backups": str(settings.BACKUP_DIR),
        "tls": "tls internal\n\t" if internal else "",
    }
    values["hardening"] = (from_files / "hardening.part").read_text().format_map(values)
    names = (*UNITS, "Caddyfile", "settings.env")
    return {name: (from_files / name).read_text().format_map(values) for name in names}
