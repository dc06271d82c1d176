"""All rows of one database put into another, empty one of either kind, and compared with what they were.

Rows go as the models read them, since the engines keep times, numbers and texts in their own ways. Neither signals nor
`save` run: a row that is moved is not a row that is changed.
"""

from collections.abc import Iterator
from itertools import batched, zip_longest
from typing import Any

from django.apps import apps
from django.core.management.color import no_style
from django.db import DatabaseError, connections, models, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from jobs.actions import Refused

from .engines import engine_of, wipe
from .weighing import weigh

BATCH = 1000


def move(source: str, target: str) -> dict[str, int]:
    """Every row of the database of alias `source` in the empty one of alias `target`; how many, by table.

    Raises Refused, with the target as empty as it was, where it is not empty, the source is of another version, or a
    row cannot be kept by the target as it is.
    """
    if engine_of(connections[target]).tables():
        raise Refused("There are tables already where the rows are to go: name an empty database.")
    try:
        with transaction.atomic(using=source):
            _hold_still(connections[source])
            _same_version(source)
            try:
                _make_tables(connections[target])
                return _copy(source, target)
            except BaseException:
                wipe(connections[target])
                raise
    except DatabaseError as error:
        raise Refused(f"The rows could not be moved: {str(error).strip()}.") from error


def tables(alias: str) -> list[type[models.Model]]:
    """A model for each table, those of many-to-many relations and of the migrations too."""
    found = {
        model._meta.db_table: model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy
    }
    migrations = MigrationRecorder.Migration
    found[migrations._meta.db_table] = migrations
    return [found[name] for name in sorted(found) if name in connections[alias].introspection.table_names()]


def _hold_still(connection: Any) -> None:
    """What is read is of one moment."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")


def _make_tables(connection: Any) -> None:
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def _same_version(alias: str) -> None:
    executor = MigrationExecutor(connections[alias])
    known = set(executor.loader.disk_migrations)
    applied = set(executor.loader.applied_migrations)
    if not applied:
        raise Refused("There is no studio in the database that the rows are to come from.")
    if executor.migration_plan(executor.loader.graph.leaf_nodes()) or applied - known:
        raise Refused(
            "The database is of another version than this program: run manage.py migrate on it first."
        )
    here = {model._meta.db_table for model in tables(alias)}
    if further := sorted(set(connections[alias].introspection.table_names()) - here):
        raise Refused(f"Nobody knows what {further[0]} holds, which is a table of no model: remove it first.")


def _copy(source: str, target: str) -> dict[str, int]:
    """In one transaction, at whose end the target looks at every reference between rows."""
    there, counts = tables(source), {}
    with transaction.atomic(using=target):
        with connections[target].cursor() as cursor:
            for model in there:  # Rows that migrations wrote come again from the source.
                if model._base_manager.using(target).exists():
                    cursor.execute(f"DELETE FROM {_quoted(model, target)}")  # noqa: S608  # nosec B608  # The names are quoted, and the models'.
        for model in there:
            _insert(model, source, target)
        for model in there:
            counts[model._meta.db_table] = _compare(model, source, target)
        _go_on_counting(there, source, target)
        connections[target].check_constraints()
        weigh(connections[target])
    return counts


def _quoted(model: type[models.Model], alias: str) -> str:
    return str(connections[alias].ops.quote_name(model._meta.db_table))


def _fields(model: type[models.Model]) -> list[Any]:
    return [field for field in model._meta.local_concrete_fields if not field.generated]


def _rows(model: type[models.Model], alias: str, fields: list[Any]) -> Iterator[tuple[Any, ...]]:
    ordered = model._base_manager.using(alias).order_by("pk")
    return ordered.values_list(*(field.attname for field in fields)).iterator(chunk_size=BATCH)


def _insert(model: type[models.Model], source: str, target: str) -> None:
    fields, into = _fields(model), connections[target]
    columns = ", ".join(into.ops.quote_name(field.column) for field in fields)
    places = ", ".join(["%s"] * len(fields))
    sql = f"INSERT INTO {_quoted(model, target)} ({columns}) VALUES ({places})"  # noqa: S608  # nosec B608  # The names are quoted, and the models'.
    with into.cursor() as cursor:
        for rows in batched(_rows(model, source, fields), BATCH):
            try:
                cursor.executemany(
                    sql,
                    [
                        [
                            field.get_db_prep_save(value, into)
                            for field, value in zip(fields, row, strict=True)
                        ]
                        for row in rows
                    ],
                )
            except (DatabaseError, ValueError) as error:
                raise Refused(
                    f"A row of {model._meta.db_table} cannot be kept there as it is: {str(error).strip()}."
                ) from error


def _compare(model: type[models.Model], source: str, target: str) -> int:
    fields, count = _fields(model), 0
    for before, after in zip_longest(_rows(model, source, fields), _rows(model, target, fields)):
        if before is None or after is None or _plain(before) != _plain(after):
            raise Refused(
                f"A row of {model._meta.db_table} is not what it was: {(before or after)[0]}. Nothing was moved."
            )
        count += 1
    return count


def _plain(row: tuple[Any, ...]) -> list[Any]:
    return [bytes(value) if isinstance(value, memoryview) else value for value in row]


def _go_on_counting(there: list[type[models.Model]], source: str, target: str) -> None:
    """A number that a deleted row had is not given to a new one: what was written about it would be about that."""
    into = connections[target]
    last = {model: _last_number(model, source) for model in there if _counts(model)}
    with into.cursor() as cursor:
        for sql in into.ops.sequence_reset_sql(no_style(), list(last)):
            cursor.execute(sql)
        for model, number in last.items():
            if number > _last_number(model, target):
                _set_number(cursor, into, model, number)


def _counts(model: type[models.Model]) -> bool:
    return isinstance(model._meta.pk, models.AutoField)


def _last_number(model: type[models.Model], alias: str) -> int:
    table = model._meta.db_table
    with connections[alias].cursor() as cursor:
        if connections[alias].vendor == "sqlite":
            cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
            found = cursor.fetchone()
            return int(found[0]) if found else 0
        cursor.execute(
            "SELECT pg_get_serial_sequence(%s, %s)", [_quoted(model, alias), model._meta.pk.column]
        )
        cursor.execute(f"SELECT last_value, is_called FROM {cursor.fetchone()[0]}")  # noqa: S608  # nosec B608  # A name that the database gave.
        value, called = cursor.fetchone()
        return int(value) if called else int(value) - 1


def _set_number(cursor: Any, into: Any, model: type[models.Model], number: int) -> None:
    table = model._meta.db_table
    if into.vendor == "sqlite":
        cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table])
        cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, number])
    else:
        quoted = into.ops.quote_name(table)
        cursor.execute(
            "SELECT setval(pg_get_serial_sequence(%s, %s), %s)", [quoted, model._meta.pk.column, number]
        )
