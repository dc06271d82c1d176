"""The computer: room on its disks, who may read what is kept, and the files that pages are made of."""

import os
import shutil
import stat
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings

from jobs.management.keeping.files import key_file
from jobs.management.keeping.rotation import backups_in

from .finding import Finding, note

# Below this SQLite and the planner's cache come into trouble before anybody has read the sentence.
LEAST_BYTES = 1_000_000_000


def look_at_place() -> Iterator[Finding]:
    var, backups = Path(settings.VAR_DIR), Path(settings.BACKUP_DIR)
    if not os.access(var, os.W_OK):
        yield Finding(f"Nothing can be written into {var}: name a folder of the program's own in VAR_DIR.")
        return
    yield from _room(var, backups)
    yield from _readers(var)
    yield from _owners(var)
    if not (Path(settings.STATIC_ROOT) / "staticfiles.json").exists():
        yield Finding("The files of the pages are not collected: run manage.py collectstatic --noinput.")
    if backups.is_dir() and _device(backups) == _device(var):
        yield note(
            f"The backups in {backups} lie on the disk that they are to save: name a folder on another one in "
            "BACKUP_DIR, or copy them elsewhere."
        )


def _device(path: Path) -> int:
    return path.stat().st_dev


def _room(var: Path, backups: Path) -> Iterator[Finding]:
    sizes = [path.stat().st_size for path in backups_in(backups).values()]
    wanted = {var: LEAST_BYTES}
    # A backup holds a copy of the database beside it while it is made.
    if backups.is_dir():
        wanted[backups] = max(LEAST_BYTES, 4 * max(sizes, default=0))
    for folder, least in wanted.items():
        free = shutil.disk_usage(folder).free
        if free < least:
            yield Finding(
                f"The disk of {folder} has {free / 1e9:.1f} GB left, of {least / 1e9:.1f} GB that are wanted: make "
                "room, or keep fewer backups."
            )


def _readers(var: Path) -> Iterator[Finding]:
    secret = {"the secret key": key_file(), "the settings": settings.BASE_DIR / ".env"}
    for name, path in secret.items():
        if path and path.exists() and stat.S_IMODE(path.stat().st_mode) & 0o077:
            yield Finding(f"Others on this computer can read {name}: chmod 600 {path}")
    kept = {
        "what is kept": var,
        "kept files": Path(settings.MEDIA_ROOT),
        "backups": Path(settings.BACKUP_DIR),
    }
    for name, path in kept.items():
        if path.exists() and _open_to_others(path):
            yield Finding(f"Others on this computer can read {name}: chmod 700 {path}")


def _open_to_others(folder: Path) -> bool:
    """A folder above that is closed to others closes what is in it."""
    return all(stat.S_IMODE(path.stat().st_mode) & 0o001 for path in (folder, *folder.resolve().parents))


def _owners(var: Path) -> Iterator[Finding]:
    """What somebody else once wrote there, such as root by hand, the program cannot write again."""
    owner = var.stat().st_uid
    names = [
        "studio.sqlite3",
        "studio.sqlite3-wal",
        "secret.key",
        "files",
        "mail",
        "static",
        "numba",
        "backups",
    ]
    for path in (var / name for name in names):
        if path.exists() and path.stat().st_uid != owner:
            yield Finding(f"{path} belongs to another account than {var}: chown -R --reference={var} {path}")
