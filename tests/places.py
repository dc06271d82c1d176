"""Empty databases beside the one of the tests, and rows compared one by one."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.db import connection, connections
from django.db.utils import load_backend


def connect(**settings: Any) -> Any:
    """A connection of its own, with settings as in DATABASES."""
    usual = dict(connections.settings["default"])
    if settings.get("ENGINE", usual["ENGINE"]) != usual["ENGINE"]:
        usual = {**usual, "OPTIONS": {}, "HOST": "", "USER": "", "PASSWORD": "", "PORT": ""}
    usual |= settings
    return load_backend(usual["ENGINE"]).DatabaseWrapper(usual, "aside")


@contextmanager
def sqlite_place(folder: Path) -> Iterator[Any]:
    found = connect(ENGINE="django.db.backends.sqlite3", NAME=str(folder / f"{uuid4().hex}.sqlite3"))
    try:
        yield found
    finally:
        found.close()


@contextmanager
def postgresql_place() -> Iterator[Any]:
    """On the cluster of the tests, which have to run on PostgreSQL."""
    name = f"aside_{uuid4().hex}"
    server = connect(NAME="postgres")
    found = connect(NAME=name)
    try:
        with server.cursor() as cursor:
            cursor.execute(f"CREATE DATABASE {name}")
        yield found
    finally:
        found.close()
        with server.cursor() as cursor:
            cursor.execute(f"DROP DATABASE IF EXISTS {name}")
        server.close()


@contextmanager
def empty_place(folder: Path) -> Iterator[Any]:
    """An empty database of the kind that the tests run on."""
    with postgresql_place() if connection.vendor == "postgresql" else sqlite_place(folder) as found:
        yield found


def all_rows(where: Any) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, in one order."""
    found = {}
    with where.cursor() as cursor:
        for table in where.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            found[table] = sorted(cursor.fetchall(), key=repr)
    return found
