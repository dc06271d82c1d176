"""A database as one file, whole and of one moment, while others write; and such a file put into an empty database."""

import os
import shutil
import sqlite3
import subprocess  # nosec B404  # Runs what PostgreSQL brings along.
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from jobs.actions import Refused

from .weighing import weigh

# How schemas of PostgreSQL begin that hold what was set aside.
ASIDE = "set_aside_"


@dataclass(frozen=True)
class Contents:
    """What a database holds at one moment."""

    rows: dict[str, int]  # By table.
    migrations: list[str]  # "app.name", in the order of their application.
    studio: str


def contents(run: Callable[[str], list[Any]], tables: list[str]) -> Contents:
    """`run(sql)` gives rows. Raises Refused where it is no studio's database."""
    if not {"django_migrations", "jobs_studio"} <= set(tables):
        raise Refused("There is no studio in this database.")
    rows = {table: run(f'SELECT COUNT(*) FROM "{table}"')[0][0] for table in sorted(tables)}  # noqa: S608  # nosec B608  # Names of our own tables.
    migrations = [f"{app}.{name}" for app, name in run("SELECT app, name FROM django_migrations ORDER BY id")]
    names = run("SELECT name FROM jobs_studio")
    return Contents(rows, migrations, names[0][0] if names else "")


class Sqlite:
    engine, member = "sqlite", "database.sqlite3"

    def __init__(self, connection: Any) -> None:
        self.connection = connection
        self.path = Path(connection.settings_dict["NAME"])

    def dump(self, to: Path) -> Contents:
        """SQLite's online backup in one step: a reader's view, for which no writer waits."""
        with _aside(self.connection) as source, closing(sqlite3.connect(to)) as copy:
            source.connection.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")
            return _sound(copy)

    def tables(self) -> list[str]:
        return sorted(self.connection.introspection.table_names())

    def set_aside(self, folder: Path) -> str:
        """Makes the place empty, and says where what was there is kept."""
        self.connection.close()
        for path in (self.path, *(self.path.with_name(f"{self.path.name}-{end}") for end in ("wal", "shm"))):
            if path.exists():
                path.rename(folder / path.name)
        return str(folder / self.path.name)

    def load(self, source: Path, rows: dict[str, int]) -> None:
        """Whole or not at all: the file is looked through beside its place before it takes it."""
        self.connection.close()
        beside = self.path.with_name(f"{self.path.name}.restoring")
        try:
            shutil.copyfile(source, beside)
            beside.chmod(0o600)
            with closing(sqlite3.connect(beside)) as copy:
                _same(_sound(copy).rows, rows)
            sync(beside)
            beside.replace(self.path)
        finally:
            beside.unlink(missing_ok=True)
        sync(self.path.parent)


class Postgresql:
    engine, member = "postgresql", "database.dump"

    def __init__(self, connection: Any) -> None:
        self.connection = connection

    def dump(self, to: Path) -> Contents:
        """pg_dump of a snapshot, in which the rows are counted too."""
        with _aside(self.connection) as source:
            source.set_autocommit(False)
            with source.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
                cursor.execute("SELECT pg_export_snapshot()")
                snapshot = cursor.fetchone()[0]

                def run(sql: str) -> list[Any]:
                    cursor.execute(sql)
                    return list(cursor.fetchall())

                found = contents(run, source.introspection.table_names(cursor))
                others = f"--exclude-schema={ASIDE}*"
                self._tool("pg_dump", "--format=custom", f"--snapshot={snapshot}", others, f"--file={to}")
            source.rollback()
        return found

    def tables(self) -> list[str]:
        return sorted(self.connection.introspection.table_names())

    def set_aside(self, folder: Path) -> str:
        """Makes the place empty, and says where what was there is kept: another schema, which no backup holds."""
        name = folder.name.replace("-", "_")  # It begins with ASIDE.
        with self.connection.cursor() as cursor:
            cursor.execute(f"ALTER SCHEMA public RENAME TO {self.connection.ops.quote_name(name)}")
            cursor.execute("CREATE SCHEMA public")
        return f"the schema {name}"

    def load(self, source: Path, rows: dict[str, int]) -> None:
        """In one transaction of pg_restore; what came out otherwise than it was kept is taken away again."""
        self._tool("pg_restore", "--single-transaction", "--exit-on-error", str(source))
        with self.connection.cursor() as cursor:

            def run(sql: str) -> list[Any]:
                cursor.execute(sql)
                return list(cursor.fetchall())

            try:
                _same(contents(run, self.tables()).rows, rows)
            except Refused:
                wipe(self.connection)
                raise
        weigh(self.connection)

    def _tool(self, name: str, *args: str) -> None:
        # Not where SQLite is used, which needs no driver of PostgreSQL.
        from psycopg.conninfo import make_conninfo

        if not (tool := shutil.which(name)):
            raise Refused(f"{name} is missing: install PostgreSQL's client programs of the server's version.")
        reached = _reached(self.connection.settings_dict)
        # The password goes through the environment, where the list of processes does not show it.
        environment = os.environ | {"PGPASSWORD": reached.pop("password", "")}
        command = [tool, "--no-owner", "--no-privileges", f"--dbname={make_conninfo(**reached)}", *args]
        done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)  # noqa: S603  # nosec B603  # A list of words, without a shell.
        if done.returncode:
            raise Refused(f"{name} could not do it: {done.stderr.strip() or done.returncode}")


def _reached(settings: dict[str, Any]) -> dict[str, str]:
    """What PostgreSQL's own programs need to reach the same database, of what Django knows."""
    names = {"dbname": "NAME", "user": "USER", "password": "PASSWORD", "host": "HOST", "port": "PORT"}  # nosec B105  # Names of settings.
    found = {name: str(settings[key]) for name, key in names.items() if settings.get(key)}
    return found | {name: value for name, value in settings["OPTIONS"].items() if isinstance(value, str)}


def engine_of(connection: Any) -> Sqlite | Postgresql:
    match connection.vendor:
        case "sqlite":
            return Sqlite(connection)
        case "postgresql":
            return Postgresql(connection)
    raise Refused(f"Backups are made of SQLite and PostgreSQL, not of {connection.display_name}.")


def wipe(connection: Any) -> None:
    """Every table and function taken away again, from a place that was empty before."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA foreign_keys = OFF")
        for table in connection.introspection.table_names(cursor):
            cascade = "" if connection.vendor == "sqlite" else " CASCADE"
            cursor.execute(f"DROP TABLE {connection.ops.quote_name(table)}{cascade}")
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT oid::regprocedure::text FROM pg_proc WHERE pronamespace = 'public'::regnamespace"
            )
            for (name,) in cursor.fetchall():
                cursor.execute(f"DROP ROUTINE {name} CASCADE")


def sync(path: Path) -> None:
    """Flush a file or a folder to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def _aside(connection: Any) -> Iterator[Any]:
    """Another connection to the same database: it sees what is committed, and disturbs nobody's transaction."""
    other = connection.copy()
    try:
        other.ensure_connection()
        yield other
    finally:
        other.close()


def _sound(copy: sqlite3.Connection) -> Contents:
    try:
        [(found,)] = copy.execute("PRAGMA integrity_check(1)").fetchall()
    except sqlite3.DatabaseError as error:
        found = str(error)
    if found != "ok":
        raise Refused(f"The database is damaged: {found}.")

    def run(sql: str) -> list[Any]:
        return copy.execute(sql).fetchall()

    tables = run("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
    return contents(run, [name for (name,) in tables])


def _same(found: dict[str, int], kept: dict[str, int]) -> None:
    if found != kept:
        differ = sorted(table for table in found.keys() | kept if found.get(table) != kept.get(table))
        raise Refused(f"The backup is damaged: other rows came out than were kept, in {', '.join(differ)}.")
