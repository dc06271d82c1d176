"""Counts of who asks: in rows that all processes share, exact also where many ask at once."""

from datetime import timedelta
from threading import Thread

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import RequestFactory, override_settings

from jobs.actions.throttle import count, counted, forget_asked
from jobs.models import Asked
from jobs.views.throttle import household_of
from tests.cast import at

NOW = at(2, "09:00")


def test_each_span_counts_from_one(db: None) -> None:
    asks = {"a": 60, "b": 600}
    assert [count(asks, at=NOW) for _ in range(2)] == [{"a": 1, "b": 1}, {"a": 2, "b": 2}]
    assert count(asks, at=NOW + timedelta(seconds=60)) == {"a": 1, "b": 3}
    assert counted({**asks, "c": 60}, at=NOW) == {"a": 2, "b": 3, "c": 0}


def test_what_is_over_is_forgotten(db: None) -> None:
    count({"a": 60, "b": 600}, at=NOW)
    assert forget_asked(at=NOW + timedelta(seconds=59)) == 0
    assert forget_asked(at=NOW + timedelta(seconds=60)) == 1
    assert Asked.objects.get().what.startswith("b:600:")
    call_command("worker", "--once")
    assert not Asked.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_requests_of_several_processes_are_counted_together() -> None:
    """Each thread has a connection of its own, as a process has: nothing but the rows is shared."""
    found: list[int] = []

    def ask() -> None:
        try:
            found.extend(count({"a": 60}, at=NOW)["a"] for _ in range(15))
        finally:
            connection.close()

    threads = [Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(found) == list(range(1, 61))


@pytest.mark.parametrize(
    ("address", "household"),
    [
        ("198.51.100.7", "198.51.100.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("::ffff:198.51.100.7", "198.51.100.7"),
        ("somewhere", ""),
    ],
)
def test_who_has_a_network_of_their_own_is_one(address: str, household: str) -> None:
    """The 64 bits in front are a household's own (RFC 6177); 2001:db8::/32 is for examples (RFC 3849)."""
    request = RequestFactory().get("/", REMOTE_ADDR=address)
    with override_settings(BEHIND_PROXY=False):
        assert household_of(request) == household
