"""Fixtures of all tests: the cast, signed-in clients, and a browser that works in a container."""

import os
import shutil
from collections.abc import Callable
from typing import Any

import pytest
from django.core.cache import caches
from django.db import connection
from django.test import Client, TransactionTestCase
from playwright.sync_api import expect

from jobs.actions.whatif import forget
from jobs.models import Account, Role, Station
from jobs.models.append_only import disarm
from tests import cast

# The browser's driver runs an event loop of its own; the database is still used from one thread.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


# Folders whose tests meet the database by the queries of actions and models alone, which have tests of their own.
PAGES = {"api", "customer_page", "documents", "exports", "fuzz", "pages"}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--database-only",
        action="store_true",
        help="only tests that use the database, without a browser: what another engine may answer otherwise",
    )
    parser.addoption(
        "--without-pages",
        action="store_true",
        help="leave out pages and papers that use the database: `make postgresql` asks for those in the same run",
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """A browser on a busy machine may lose a race that no person would: it gets two more tries, which are reported."""
    for item in items:
        if item.path.parent.name == "browser":
            item.add_marker(pytest.mark.flaky(reruns=2))
    if config.getoption("--database-only"):
        _leave_out(config, items, lambda item: not _uses_the_database(item))
    if config.getoption("--without-pages"):
        _leave_out(config, items, lambda item: item.path.parent.name in PAGES and _uses_the_database(item))


def _leave_out(
    config: pytest.Config, items: list[pytest.Item], unwanted: Callable[[pytest.Item], bool]
) -> None:
    left = [item for item in items if unwanted(item)]
    config.hook.pytest_deselected(items=left)
    items[:] = [item for item in items if item not in set(left)]


def _uses_the_database(item: pytest.Item) -> bool:
    asked = set(getattr(item, "fixturenames", ()))
    uses = item.get_closest_marker("django_db") or asked & {"db", "transactional_db", "live_server"}
    return bool(uses) and item.path.parent.name != "browser"


@pytest.fixture(scope="session", autouse=True)
def patience() -> None:
    """A busy machine is slow, not wrong: what a browser test expects may take longer than a person would wait."""
    expect.set_options(timeout=20_000)


@pytest.fixture(autouse=True)
def empty_cache() -> None:
    """What one test has drawn is not shown in the next, whose rows have the same ids."""
    for cache in caches.all(initialized_only=True):
        cache.clear()
    forget()


@pytest.fixture(scope="session", autouse=True)
def emptied_between_tests() -> None:
    """Tests whose rows others see are emptied by deleting all rows, which the database refuses for events."""
    empty = TransactionTestCase._fixture_teardown

    def without_triggers(case: TransactionTestCase) -> None:
        disarm(connection)
        empty(case)  # It ends as `migrate` does, and so puts them back.

    TransactionTestCase._fixture_teardown = without_triggers  # type: ignore[method-assign]


@pytest.fixture
def shop(db: None) -> None:
    cast.make_studio()
    cast.make_shop()


@pytest.fixture
def lead(shop: None) -> Account:
    return cast.make_account("lead", Role.LEAD, first_name="Nora", last_name="Feld")


@pytest.fixture
def office(shop: None) -> Account:
    return cast.make_account("office", Role.OFFICE, first_name="Emil", last_name="Horn")


@pytest.fixture
def tablet(shop: None) -> Account:
    """The tablet of the bevel bench."""
    return cast.make_account("bevel-tablet", Role.BENCH, station=Station.objects.get(name="Beveling"))


def _client(account: Account) -> Client:
    client = Client()
    client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def lead_client(lead: Account) -> Client:
    return _client(lead)


@pytest.fixture
def office_client(office: Account) -> Client:
    return _client(office)


@pytest.fixture
def tablet_client(tablet: Account) -> Client:
    return _client(tablet)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    found = shutil.which("chromium") or shutil.which("google-chrome")
    if found is None:
        pytest.fail("The browser tests need Chromium: run .ci/setup dev.")
    flags = (
        "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
        "--disable-component-update --disable-sync"
    )
    return {**browser_type_launch_args, "executable_path": found, "args": flags.split()}


@pytest.fixture
def signed_in(live_server: Any, context: Any) -> Any:
    """Sign a browser in as an account: `signed_in(account)` gives a page of it."""
    from django.conf import settings
    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY

    from studio.sessions import SessionStore

    def sign_in(account: Account, in_context: Any = None) -> Any:
        session = SessionStore()
        session[SESSION_KEY] = str(account.pk)
        session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
        session[HASH_SESSION_KEY] = account.get_session_auth_hash()
        session.save()
        where = in_context or context
        where.add_cookies(
            [
                {
                    "name": settings.SESSION_COOKIE_NAME,
                    "value": str(session.session_key),
                    "url": live_server.url,
                }
            ]
        )
        return where.new_page()

    return sign_in
