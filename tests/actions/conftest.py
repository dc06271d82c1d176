"""Each test of an action is a test of the audit as well."""

from collections.abc import Iterator

import pytest

from tests.audit import watched

# These make their rows within transactions of their own, many times over.
OF_ITS_OWN = {"test_no_change_makes_a_circle_or_loses_work"}


@pytest.fixture(autouse=True)
def every_change_is_written_down(request: pytest.FixtureRequest) -> Iterator[None]:
    """Whatever of a job, panel, operation, hour, promise, rate or permission an action changes leaves an Event."""
    asked = set(request.fixturenames)
    if "db" not in asked or {"transactional_db", "live_server"} & asked:
        yield
        return
    if request.function.__name__ in OF_ITS_OWN:
        yield
        return
    # The studio with which a test begins is nobody's change.
    request.getfixturevalue("shop" if "shop" in request.fixturenames else "db")
    with watched() as found:
        yield
    assert not found.unwritten
