"""A scanner that types, at the bench: what it reads opens, and what a person types stays where it is typed."""

from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from playwright.sync_api import Page, expect

from jobs.models import Account, Panel, Person, Studio, TimeEntry
from tests import cast
from tests.browser.looks import LEAST_AT_THE_BENCH, faults_here

pytestmark = pytest.mark.django_db(transaction=True)
BENCH = "/bench/beveling/"


@pytest.fixture
def panel(transactional_db: None, tablet: Account) -> Panel:
    for number in range(401, 411):
        cast.make_panel(cast.make_job(str(number)), kinds=("Beveling",))
    return cast.make_panel(cast.make_job(), kinds=("Beveling", "Assembly"))


@pytest.fixture
def page(panel: Panel, signed_in: Any, tablet: Account, browser: Any, live_server: Any) -> Any:
    context = browser.new_context(has_touch=True, viewport={"width": 1280, "height": 800})
    found: Page = signed_in(tablet, context)
    found.goto(f"{live_server.url}{BENCH}")
    yield found
    context.close()


def scan(page: Page, text: str, end: str = "Enter") -> None:
    """As a scanner does: each key at once after the other."""
    page.keyboard.type(text)
    page.keyboard.press(end)


def code(panel: Panel, rest: str = "") -> str:
    return f"https://floor.studio.example/s/{panel.pk}/{rest}"


def test_a_scanned_panel_is_there_after_name_and_pin(page: Page, panel: Panel) -> None:
    Studio.objects.update(asks_pin=True)
    Person.objects.filter(name="Mara Lind").update(pin=make_password("4711"))
    scan(page, code(panel))
    page.get_by_text("Scanned: 0412/1 Light 1").wait_for()
    page.get_by_role("button", name="Mara Lind").tap()
    page.get_by_role("link", name="Back to the names").tap()
    expect(page.get_by_text("Scanned: 0412/1 Light 1")).to_be_visible()
    page.get_by_role("button", name="Mara Lind").tap()
    page.get_by_label("PIN").fill("4711")
    page.get_by_role("button", name="Go on").tap()
    region = page.get_by_role("region", name="Scanned: 0412/1 Light 1")
    region.get_by_role("button", name="Start").tap()
    expect(region.get_by_role("button", name="Pause")).to_be_visible()
    assert TimeEntry.objects.running().get().operation.panel == panel
    assert faults_here(page, least=LEAST_AT_THE_BENCH) == []
    # The same panel at another bench, where it waits for what runs here.
    scan(page, code(panel, "assembly/"), "Tab")
    page.wait_for_url(f"**/bench/assembly/?panel={panel.pk}#scanned")
    expect(region).to_contain_text("for Beveling, Mara Lind has it")
    region.get_by_role("link", name="Beveling at Beveling").tap()
    expect(region.get_by_role("button", name="Pause")).to_be_visible()
    region.get_by_role("link", name="All of this bench").tap()
    page.wait_for_url(f"**{BENCH}")
    expect(region).to_have_count(0)


def test_what_is_no_code_of_ours_opens_nothing_and_presses_no_button(page: Page, panel: Panel) -> None:
    page.get_by_role("button", name="Mara Lind").tap()
    page.get_by_role("button", name="Start").first.tap()
    more = page.get_by_role("button", name="+1")
    more.tap()
    expect(page.locator(".work-numbers .big").first).to_have_text("9")
    more.focus()
    scan(page, "4006381333931")
    expect(page.get_by_role("status")).to_contain_text("That is no code of a panel or a bench.")
    more.focus()
    scan(page, "GREY 12 B / 0.5 sheet")
    scan(page, "https://floor.studio.example/jobs/0412/")
    scan(page, "https://floor.studio.example/s/999999/")
    expect(page.get_by_role("status")).to_contain_text("Nothing has the code that was scanned")
    page.context.set_offline(True)
    scan(page, code(panel))
    expect(page.get_by_role("status")).to_contain_text("does not answer. Scan again")
    page.context.set_offline(False)
    assert TimeEntry.objects.running().get().operation.quantity_done == 1
    assert page.url.endswith(BENCH)


def test_a_field_keeps_what_a_person_types_and_not_what_a_scanner_does(
    page: Page, panel: Panel, live_server: Any
) -> None:
    page.get_by_role("button", name="Mara Lind").tap()
    page.get_by_role("link", name="My hours").tap()
    note = page.get_by_label("Note")
    note.focus()
    # Slower than any scanner: it is a person, and the text is theirs.
    page.keyboard.type("/s/1/ x", delay=90)
    expect(note).to_have_value("/s/1/ x")
    scan(page, code(panel))
    expect(note).to_have_value("/s/1/ x")
    expect(page.get_by_role("status")).to_contain_text("What is typed here and not sent would be lost.")
    page.get_by_role("link", name="Open it").tap()
    page.wait_for_url(f"**{BENCH}?panel={panel.pk}#scanned")
    # With nothing else typed it opens at once; from the list of benches as well.
    page.get_by_role("link", name="My hours").tap()
    page.get_by_label("Note").focus()
    scan(page, code(panel, "assembly/"))
    page.wait_for_url("**/bench/assembly/?panel=*#scanned")
    page.goto(f"{live_server.url}/bench/?all")
    scan(page, code(panel))
    page.wait_for_url(f"**{BENCH}?panel={panel.pk}#scanned")
