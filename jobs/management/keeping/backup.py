"""Make a backup: under a name that nobody takes for one until it is whole."""

import fcntl
import os
import shutil
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.conf import settings

from jobs.actions import Refused

from . import files
from .archive import Manifest, Writer
from .engines import engine_of, sync
from .rotation import name_at

UNFINISHED = ".unfinished"


def version() -> str:
    """Of this program."""
    with (settings.BASE_DIR / "pyproject.toml").open("rb") as file:
        return str(tomllib.load(file)["project"]["version"])


def make_backup(folder: Path, connection: Any, *, at: datetime) -> tuple[Path, Manifest]:
    """A backup of the database, files, mail and secret key in `folder`, which is made if need be.

    The database is copied first: each file that its rows name is there by then. Raises Refused with nothing left
    behind where another backup is being made there, the database is damaged, or the disk is full.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with _alone(folder):
            _clear(folder)
            path = folder / name_at(at)
            if path.exists():
                raise Refused(f"{path.name} is there already.")
            unfinished = path.with_name(f".{path.name}{UNFINISHED}")
            try:
                manifest = _write(unfinished, connection, at)
                sync(unfinished)
                unfinished.rename(path)
            finally:
                unfinished.unlink(missing_ok=True)
            sync(folder)
            return path, manifest
    except OSError as error:
        raise Refused(f"The backup could not be written: {error.strerror or error}.") from error


def _write(to: Path, connection: Any, at: datetime) -> Manifest:
    engine = engine_of(connection)
    os.close(os.open(to, os.O_CREAT | os.O_EXCL, 0o600))
    writer = Writer(to, at)
    try:
        with TemporaryDirectory(suffix=UNFINISHED, dir=to.parent) as folder:
            dump = Path(folder) / engine.member
            kept = engine.dump(dump)
            with dump.open("rb") as copy:
                writer.add(engine.member, copy)
        for name, store in files.stores().items():
            for inside in files.names(store):
                try:
                    file = store.open(inside)
                except FileNotFoundError:
                    continue  # Taken away since the folder was read.
                with file:
                    writer.add(f"{name}/{inside}", file)
        if key := files.key_file():
            with key.open("rb") as secret:
                writer.add(files.KEY, secret)
        manifest = Manifest(
            version(), at.isoformat(), kept.studio, engine.engine, kept.migrations, kept.rows, writer.members
        )
        writer.finish(manifest)
    finally:
        writer.close()
    return manifest


def _clear(folder: Path) -> None:
    """Take away what backups left that were killed."""
    for left in folder.glob(f"*{UNFINISHED}"):
        if left.is_dir():
            shutil.rmtree(left)
        else:
            left.unlink()


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """One backup at a time in a folder; the lock goes with the process that holds it."""
    with (folder / ".lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise Refused("Another backup is being made in this folder.") from error
        yield
