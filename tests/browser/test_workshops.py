"""Workshops in a browser: from the overview to a floor, which renews itself as that of the workshop; for everyone."""

from typing import Any

import pytest

from jobs.models import Account
from tests import cast
from tests.browser.looks import faults
from tests.workshops import make_mill_panel, make_second

pytestmark = pytest.mark.django_db(transaction=True)


def test_from_the_overview_to_a_floor(
    transactional_db: None, lead: Account, signed_in: Any, live_server: Any
) -> None:
    make_second()
    cast.make_panel(cast.make_job())
    make_mill_panel()
    page = signed_in(lead)
    page.goto(f"{live_server.url}/set-up/workshops/")
    assert faults(page) == []
    page.goto(f"{live_server.url}/workshops/")
    assert faults(page) == []
    page.get_by_role("link", name="Mill Street").click()
    page.locator("#station-beveling-mill-street").wait_for()
    # The floor asks for itself anew, as it does every half minute, once its scripts are there.
    page.wait_for_load_state("load")
    with page.expect_response(lambda answer: "workshop=mill-street" in answer.url):
        page.evaluate("htmx.ajax('GET', document.querySelector('#floor').getAttribute('hx-get'), '#floor')")
    assert page.locator("#station-beveling").count() == 0
    page.get_by_role("navigation", name="Workshop").get_by_role("link", name="All workshops").click()
    page.locator("#station-beveling").wait_for()
    assert faults(page) == []
