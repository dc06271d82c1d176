"""Three web and two worker processes over one database, some killed under load: nothing is lost, nobody is signed out.

The large run, with its counts printed, is `make machines`.
"""

import os
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from django.db import connection

from tests.bench.machines import run_machines

pytestmark = pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lies on one machine")


@pytest.fixture
def database(transactional_db: None) -> Iterator[str]:
    """The address of the tests' own database, whose rows are deleted afterwards."""
    tests = urlsplit(os.environ["DATABASE_URL"])
    yield tests._replace(path=f"/{connection.settings_dict['NAME']}").geturl()
    with connection.cursor() as cursor:
        cursor.execute("DROP TRIGGER IF EXISTS note_plan ON jobs_planstate")
        cursor.execute("DROP FUNCTION IF EXISTS note_plan")
        cursor.execute("DROP TABLE IF EXISTS plans_kept")


def test_what_is_killed_loses_nothing(database: str) -> None:
    counts = run_machines(database, tablets=6, taps=10, bundles=1, kills=2)
    print(counts)
    assert sum(counts.kills.values()) == 2
    assert min(counts.served) > 0, "One web process served nobody."
    assert (counts.acknowledged, counts.rows, counts.pieces, counts.events) == (60, 60, 60, 60)
    assert (counts.signed_out, counts.wrong) == (0, [])
    assert (counts.asked, counts.opened, counts.stopped) == (2, 2, 0)
    assert (counts.planned_twice, counts.unfinished, counts.failed, counts.up_to_date) == (0, 0, [], True)
    assert counts.plans > 0
