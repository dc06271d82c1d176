"""What the database itself holds to: an event is written once, and never altered or deleted.

Triggers on both engines, put there after each `migrate`, since a change of the table may drop them. What an event is
about may go (a panel that is taken back): then the event's link to it is cut, and its kind and number still say what
it was.
"""

from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import ForeignKey

from .events import Event

SENTENCE = "What was recorded stays as it was: an event is never altered or deleted."
TABLE = Event._meta.db_table
ALTERED, DELETED = f"{TABLE}_not_altered", f"{TABLE}_not_deleted"


def arm(connection: BaseDatabaseWrapper) -> None:
    """Put the triggers there, anew where they are there already."""
    disarm(connection)
    with connection.cursor() as cursor:
        for statement in _on_postgresql() if connection.vendor == "postgresql" else _on_sqlite():
            cursor.execute(statement)


def disarm(connection: BaseDatabaseWrapper) -> None:
    """Take the triggers away: only for what empties a whole database, such as the tests' own."""
    on = f" ON {TABLE}" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        for name in (ALTERED, DELETED):
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")


def is_armed(connection: BaseDatabaseWrapper) -> bool:
    names = (
        "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
        if connection.vendor == "postgresql"
        else "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    )
    with connection.cursor() as cursor:
        cursor.execute(names)
        return {ALTERED, DELETED} <= {name for (name,) in cursor.fetchall()}


def arm_after_migrate(*, using: str, **_: Any) -> None:
    """A receiver of `post_migrate`: nothing where the table is not there, or not yet."""
    from django.db import connections

    connection = connections[using]
    if TABLE in connection.introspection.table_names():
        arm(connection)


def _unchanged(same: str) -> str:
    """That an update changes nothing but to cut links; `same` is the engine's comparison that knows NULL."""
    parts = []
    for field in Event._meta.concrete_fields:
        part = f"NEW.{field.column} {same} OLD.{field.column}"
        parts.append(f"({part} OR NEW.{field.column} IS NULL)" if isinstance(field, ForeignKey) else part)
    return " AND ".join(parts)


def _on_sqlite() -> list[str]:
    refuse = f"BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END"
    return [
        f"CREATE TRIGGER {ALTERED} BEFORE UPDATE ON {TABLE} WHEN NOT ({_unchanged('IS')}) {refuse}",
        f"CREATE TRIGGER {DELETED} BEFORE DELETE ON {TABLE} {refuse}",
    ]


def _on_postgresql() -> list[str]:
    refuse = f"EXECUTE FUNCTION {TABLE}_stays()"
    return [
        f"CREATE OR REPLACE FUNCTION {TABLE}_stays() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"RAISE EXCEPTION '{SENTENCE}' USING ERRCODE = 'integrity_constraint_violation'; END $$",
        f"CREATE TRIGGER {ALTERED} BEFORE UPDATE ON {TABLE} FOR EACH ROW "
        f"WHEN (NOT ({_unchanged('IS NOT DISTINCT FROM')})) {refuse}",
        f"CREATE TRIGGER {DELETED} BEFORE DELETE OR TRUNCATE ON {TABLE} FOR EACH STATEMENT {refuse}",
    ]
