"""Whether each change of what is audited left its Event: watched at the statements that reach the database.

An action is a transaction: in a test, a savepoint directly within the test's own. What is written outside of one are
the rows with which a test begins.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.db import connection

# The tables of a job, panel, operation, hour, promise, rate and permission, and what hangs on them.
_NAMES = """
job panel operation operation_after hold gate breakage timeentry confirmedday closedweek promise
rate kindsetup laborrate outsideprice quotesettings studio person skill shift dayoff extrahours closedday
station operationkind route routestep account account_groups account_user_permissions
customer customerlink calendarlink apitoken tablet workshop quote quoteline need pattern takeoff photo
lettersettings mailtemplate
"""
AUDITED = frozenset({f"jobs_{name}" for name in _NAMES.split()} | {"auth_group", "auth_group_permissions"})
_WRITES = re.compile(
    r'^\s*(?:INSERT (?:OR \w+ )?INTO|UPDATE|DELETE FROM)\s+"?(\w+)"?(.*)', re.DOTALL | re.IGNORECASE
)
# Columns that change with what is looked at, and say nothing of who works how.
_UNTOLD = {
    "jobs_account": {"last_login"},
    "jobs_customerlink": {"times_read", "first_read_at", "last_read_at"},
    "jobs_apitoken": {"last_used_at"},
    "jobs_tablet": {"seen"},
}
# One row each, which whoever reads first makes with its defaults.
_SETTINGS = {"jobs_lettersettings", "jobs_quotesettings", "jobs_studio"}


@dataclass
class Watched:
    """Transactions that changed audited tables, each with the tables; and those of them that left no Event."""

    changed: int = 0
    unwritten: list[set[str]] = field(default_factory=list)


@contextmanager
def watched() -> Iterator[Watched]:
    found = Watched()
    depth: list[str] = []
    tables: set[str] = set()

    def wrapper(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        result = execute(sql, params, many, context)
        if sql.startswith("SAVEPOINT"):
            if not depth:
                tables.clear()
            depth.append(sql.split()[1])
        elif sql.startswith("ROLLBACK TO SAVEPOINT") and depth[:1] == [sql.split()[3]]:
            tables.clear()  # Django releases it afterwards.
        elif sql.startswith("RELEASE SAVEPOINT") and depth and depth[-1] == sql.split()[2]:
            depth.pop()
            if not depth:
                _close(found, set(tables))
        elif depth and (write := _WRITES.match(sql)) and _counts(write[1], write[2]):
            tables.add(write[1])
        return result

    with connection.execute_wrapper(wrapper):
        yield found


def _counts(table: str, rest: str) -> bool:
    if table == "jobs_event":
        return True
    if table in _SETTINGS and " SET " not in f" {rest}":
        return False
    columns = set(re.findall(r'"(\w+)" = ', rest.split(" WHERE ")[0])) if " SET " in f" {rest}" else set()
    return table in AUDITED and not (columns and columns <= _UNTOLD.get(table, set()))


def _close(found: Watched, tables: set[str]) -> None:
    audited = tables - {"jobs_event"}
    if not audited:
        return
    found.changed += 1
    if "jobs_event" not in tables:
        found.unwritten.append(audited)
