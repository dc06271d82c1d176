"""A scanner that types, at the bench: what it reads opens, and what a person types stays where it is typed."""

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from jobs.models import Account, Panel
from tests import cast

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def panel(transactional_db: None, tablet: Account) -> Panel:
    return cast.make_panel(cast.make_job())


@pytest.fixture
def page(panel: Panel, signed_in: Any, tablet: Account, live_server: Any) -> Page:
    found: Page = signed_in(tablet)
    found.goto(f"{live_server.url}/bench/beveling/")
    return found


def test_a_scanned_address_opens_here_whatever_host_it_names(page: Page, panel: Panel) -> None:
    page.keyboard.type(f"https://floor.studio.example/s/{panel.pk}/cutting/")
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/cutting/**")
    expect(page.get_by_role("heading", level=1)).to_have_text("Cutting")


def test_what_is_typed_into_a_field_stays_there(page: Page, panel: Panel) -> None:
    page.evaluate("document.querySelector('main').append(document.createElement('textarea'))")
    field = page.locator("main > textarea")
    field.focus()
    page.keyboard.type(f"https://floor.studio.example/s/{panel.pk}/cutting/")
    page.keyboard.press("Enter")
    expect(field).to_have_value(f"https://floor.studio.example/s/{panel.pk}/cutting/\n")
    assert "/bench/beveling/" in page.url


def test_another_address_opens_nothing(page: Page, panel: Panel) -> None:
    page.keyboard.type("https://floor.studio.example/jobs/0412/")
    page.keyboard.press("Enter")
    page.keyboard.type(f"https://floor.studio.example/s/{panel.pk}/assembly/")
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/assembly/**")
