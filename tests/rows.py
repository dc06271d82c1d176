"""What the rows of all tables are at a moment, to hold one moment against another."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.apps import apps
from django.db import connection

# Rows about who asks and how often, which a refusal may well write.
NOT_COUNTED = frozenset(
    {
        "django_session",
        "jobs_signedin",
        "jobs_asked",
        "axes_accessattempt",
        "axes_accesslog",
        "axes_accessfailurelog",
    }
)


def rows_now() -> dict[str, tuple[int, str]]:
    """How many rows each table has, and a hash of all that is in them."""
    found = {}
    for model in apps.get_models(include_auto_created=True):
        table = model._meta.db_table
        if model._meta.proxy or not model._meta.managed or table in NOT_COUNTED:
            continue
        rows = sorted(repr(row) for row in model._base_manager.values_list())
        found[table] = len(rows), hashlib.sha256("\n".join(rows).encode()).hexdigest()
    return found


def changed(before: dict[str, tuple[int, str]], after: dict[str, tuple[int, str]]) -> list[str]:
    """The tables that are not as they were."""
    return sorted(table for table in before if before[table] != after[table])


@contextmanager
def writes() -> Iterator[list[str]]:
    """The statements that change rows of a table that counts, while this is open."""
    seen: list[str] = []

    def watch(execute: Any, sql: Any, params: Any, many: bool, context: Any) -> Any:
        text = str(sql).lstrip()
        writes_rows = text[:6].upper() in ("INSERT", "UPDATE", "DELETE")
        if writes_rows and not any(f'"{table}"' in text or f" {table} " in text for table in NOT_COUNTED):
            seen.append(text[:200])
        return execute(sql, params, many, context)

    with connection.execute_wrapper(watch):
        yield seen
