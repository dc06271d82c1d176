"""Put a backup into an empty place: looked through to its end first, and all of it or nothing."""

from contextlib import ExitStack
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.conf import settings
from django.core.files import File
from django.core.files.storage import FileSystemStorage, Storage
from django.db.migrations.loader import MigrationLoader

from jobs.actions import Refused

from . import files
from .archive import CHUNK, Backup, Manifest, opened
from .engines import engine_of, sync


def check(path: Path) -> Manifest:
    """Read all of a backup; says what it holds. Raises Refused where it is damaged or none."""
    with opened(path) as backup:
        backup.check()
        return backup.manifest


def restore(path: Path, connection: Any) -> Manifest:
    """The backup's rows and files in this empty installation.

    Raises Refused, with nothing changed, where it is damaged, of another program, of a newer version, of the other
    kind of database, or where there is anything here already.
    """
    engine = engine_of(connection)
    with opened(path) as backup, ExitStack() as undo:
        _fits(backup.manifest, engine)
        if engine.tables():
            raise Refused("There is a database here already: a backup is restored into an empty place.")
        for name, store in files.stores().items():
            if first := next(files.names(store), None):
                raise Refused(f"There are {name} here already, such as {first}: restore into an empty place.")
        backup.check()
        with TemporaryDirectory(prefix="studio-restore-") as folder:
            dump = Path(folder) / engine.member
            with backup.open(engine.member) as source, dump.open("wb") as target:
                while chunk := source.read(CHUNK):
                    target.write(chunk)
            for name, store in files.stores().items():
                _put_files(backup, f"{name}/", store, undo)
            _put_key(backup, undo)
            engine.load(dump, backup.manifest.rows)
        undo.pop_all()
        return backup.manifest


def set_aside(connection: Any, *, at: datetime) -> list[str]:
    """Make the place empty for a restore; where the database, files and mail that were here are kept."""
    folder = Path(settings.VAR_DIR) / f"set-aside-{at:%Y%m%d-%H%M%S}"
    folder.mkdir(mode=0o700)
    kept = [engine_of(connection).set_aside(folder)]
    for name, store in files.stores().items():
        if not isinstance(store, FileSystemStorage):
            raise Refused(f"The {name} lie elsewhere: make that place empty by hand.")
        place = Path(store.location)
        if place.exists():
            place.rename(folder / name)
            kept.append(str(folder / name))
    return kept


def _fits(manifest: Manifest, engine: Any) -> None:
    known = {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}
    newer = [name for name in manifest.migrations if name not in known]
    if newer:
        raise Refused(
            f"This backup was made by a newer version ({manifest.version}), which knows {newer[-1]}: "
            "install that version first."
        )
    if manifest.engine != engine.engine:
        raise Refused(
            f"This is a backup of {manifest.engine}, and DATABASE_URL names {engine.engine}. Restore it where "
            "it came from, then take its rows over with manage.py move_database."
        )


def _put_files(backup: Backup, folder: str, store: Storage, undo: ExitStack) -> None:
    for name in backup.names(folder):
        wanted = name.removeprefix(folder)
        with backup.open(name) as source:
            got = store.save(wanted, File(source))
        undo.callback(store.delete, got)
        if got != wanted:
            raise Refused(f"{wanted} could not be put under its own name.")


def _put_key(backup: Backup, undo: ExitStack) -> None:
    """An installation whose key is given by the environment keeps that one."""
    path = files.key_file()
    if path is None or files.KEY not in backup.names():
        return
    undo.callback(path.write_bytes, path.read_bytes())
    with backup.open(files.KEY) as source:
        path.write_bytes(source.read())  # The file that is there has mode 600, and keeps it.
    sync(path)
