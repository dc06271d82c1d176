"""The API against its own description: whatever schemathesis asks, the answer is one that the description names.

FUZZ_EXAMPLES says how many questions each address is asked beside those that its bounds suggest.
"""

import os
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import CHECKS

from jobs.api import door
from jobs.api.service import description
from jobs.models import Account, Event
from tests import cast
from tests.api.conftest import token_for

EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "8"))

SCHEMA = schemathesis.openapi.from_dict(description())
SCHEMA.app = get_wsgi_application()
OPERATIONS = [found.ok() for found in SCHEMA.get_all_operations()]


@pytest.fixture
def one_connection() -> Iterator[None]:
    """A server closes connections between requests; the test's own stays, as with Django's test client."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.fixture
def shown(lead: Account, one_connection: None, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """What a token shows that may read all; nobody is stopped for asking often."""
    monkeypatch.setattr(door, "MOST_A_MINUTE", 10**9)
    monkeypatch.setattr(door, "MOST_GUESSES", 10**9)
    cast.make_panel(cast.make_job("0412"))
    return {"Authorization": f"Bearer {token_for(lead, 'office')}"}


def _negated(case: Any, where: str) -> bool:
    parts = case.meta.components.items()
    return any(part.mode is GenerationMode.NEGATIVE for place, part in parts if place.value == where)


@pytest.mark.parametrize("mode", list(GenerationMode))
@pytest.mark.parametrize("operation", OPERATIONS, ids=[operation.path for operation in OPERATIONS])
def test_every_answer_is_as_described(operation: Any, mode: GenerationMode, shown: dict[str, str]) -> None:
    """Both of what the description allows, which has to be answered, and of what it forbids, which may not be."""
    asked: list[int] = []

    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize="FUZZ_EXAMPLES" not in os.environ,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def ask(case: Any) -> None:
        # What no text may hold is turned away before it gets here, with the page that everybody gets.
        left_out = ["content_type_conformance"] if "\\x00" in repr((case.query, case.path_parameters)) else []
        excluded = [check for check in CHECKS.get_all() if check.__name__ in left_out]
        # Where the token's own header is what is wrong, it is sent as wrong as it is.
        headers = {} if _negated(case, "header") else shown
        asked.append(case.call_and_validate(headers=headers, excluded_checks=excluded).status_code)

    before = Event.objects.newest()
    ask()
    assert asked
    assert not [status for status in asked if status >= 500]
    assert mode is GenerationMode.NEGATIVE or 200 in asked or "{" in operation.path
    assert Event.objects.newest() == before
