"""The panels page in a browser: what waits on beveling, by touch; without JavaScript; accessible to all."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from jobs.models import Account, Hold, Operation
from tests import cast
from tests.browser.looks import faults, small_targets
from tests.browser.test_floor import DRAWING
from tests.pages.plans import plan, settle

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def panels(transactional_db: None, lead: Account) -> None:
    """Twelve panels of four jobs, in every state, with long names and rework."""
    now = timezone.now()
    settle(now)
    kinds = ("Cutting", "Beveling", "Assembly", "Cure", "Lamination", "Blasting")
    for number in range(1, 5):
        job = cast.make_job(
            f"041{number}",
            "Stair hall window with the four rivers",
            wanted_by=timezone.localdate() + timedelta(days=number * 9),
        )
        for one in (1, 2, 3):
            panel = cast.make_panel(
                job, one, kinds=kinds, drawing=DRAWING, where=f"Rack {number}", name="Upper left light"
            )
            cutting, beveling = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
            plan(beveling, now + timedelta(days=number), now + timedelta(days=number + 1), number * 3 - one)
            if one == 1:
                Operation.objects.filter(pk=cutting.pk).update(finished_at=now - timedelta(days=3))
        Hold.objects.create(panel=panel, reason="customer asks for a warmer rose", since=now, held_by="Nora")
    cast.make_gate(job, "drawing", expected=timezone.localdate() + timedelta(days=3))
    again = Operation.objects.create(
        job=job, panel=panel, kind=cutting.kind, label="Cutting again, 2 pieces", estimate=18, place=1
    )
    beveling.after.add(again)


def test_it_is_accessible(live_server: Any, signed_in: Any, lead: Account, panels: None) -> None:
    page = signed_in(lead)
    for query, words in (("", "12 open panels"), ("?waits=beveling", "12 panels wait for beveling")):
        page.goto(f"{live_server.url}/panels/{query}")
        page.get_by_text(words).wait_for()
        assert faults(page) == []


def test_it_is_accessible_when_there_is_nothing(live_server: Any, signed_in: Any, lead: Account) -> None:
    settle(timezone.now())
    page = signed_in(lead)
    for query in ("", "?waits=beveling", "?job=0999"):
        page.goto(f"{live_server.url}/panels/{query}")
        assert faults(page) == []


def test_what_waits_on_beveling_by_touch(
    browser: Any, live_server: Any, signed_in: Any, lead: Account, panels: None
) -> None:
    context = browser.new_context(has_touch=True, is_mobile=True, viewport={"width": 390, "height": 844})
    page: Page = signed_in(lead, context)
    page.goto(f"{live_server.url}/panels/")
    page.get_by_role("link", name="Beveling").tap()
    expect(page.get_by_text("12 panels wait for beveling")).to_be_visible()
    first = page.locator(".wait").first
    expect(first).to_contain_text("0411/3 Upper left light")
    expect(first).to_contain_text("customer asks for a warmer rose")

    page.get_by_label("State").select_option("ready")
    expect(page.get_by_text("4 panels wait for beveling")).to_be_visible()
    assert page.url == f"{live_server.url}/panels/?waits=beveling&state=ready"
    # The stations keep what is chosen, and a link or a reload shows the same.
    page.get_by_label("Job").select_option("0412")
    expect(page.get_by_text("1 panel waits for beveling")).to_be_visible()
    assert page.url == f"{live_server.url}/panels/?waits=beveling&job=0412&state=ready"
    page.reload()
    expect(page.get_by_text("1 panel waits for beveling")).to_be_visible()
    expect(page.get_by_label("Job")).to_have_value("0412")
    page.get_by_role("link", name="Cutting").tap()
    expect(page.get_by_text("2 panels wait for cutting")).to_be_visible()
    expect(page.get_by_label("Job")).to_have_value("0412")

    page.go_back()
    expect(page.get_by_text("1 panel waits for beveling")).to_be_visible()
    assert small_targets(page, targets="main :is(a, select)") == []
    context.close()


def test_somebody_who_was_signed_out_is_asked_to_sign_in(
    live_server: Any, signed_in: Any, lead: Account, panels: None
) -> None:
    page = signed_in(lead)
    page.goto(f"{live_server.url}/panels/")
    page.context.clear_cookies()
    page.get_by_label("State").select_option("ready")
    page.wait_for_url(f"{live_server.url}/sign-in/?next=/panels/*")


def test_it_works_without_javascript(
    browser: Any, live_server: Any, signed_in: Any, lead: Account, panels: None
) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 768, "height": 1024})
    page: Page = signed_in(lead, context)
    page.goto(f"{live_server.url}/panels/")
    page.get_by_role("link", name="Beveling").click()
    page.get_by_label("Place").select_option("Rack 2")
    page.get_by_role("button", name="Show").click()
    expect(page.get_by_text("3 panels wait for beveling")).to_be_visible()
    page.get_by_role("link", name="All panels").click()
    expect(page.get_by_text("3 open panels of 1 job")).to_be_visible()
    context.close()
