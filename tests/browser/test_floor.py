"""The floor in a browser: it renews itself, works without JavaScript, and is accessible to all."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.utils import timezone
from playwright.sync_api import Page

from jobs.models import Account, Hold, Operation, Promise, Station, TimeEntry
from tests import cast
from tests.browser.looks import faults
from tests.pages.plans import load, plan, plan_job, settle

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def floor(transactional_db: None, lead: Account) -> None:
    """Something of everything: work going on and to come, load, and one of each decision."""
    now = timezone.now()
    today = timezone.localdate()
    beveling = Station.objects.get(name="Beveling")
    for week in range(4):
        load(beveling, today - timedelta(days=today.weekday()) + timedelta(weeks=week), 50, 40)
    settle(now, tightest=beveling, problems=tuple(f"Nobody can do work {n}." for n in range(6)))
    for number in range(1, 7):
        job = cast.make_job(f"041{number}", "Hall window")
        panel = cast.make_panel(job, drawing=DRAWING)
        Promise.objects.create(
            job=job, day=today + timedelta(days=number), given_at=now, given_by=lead, told="Father Aurel"
        )
        plan_job(job, now + timedelta(days=20), 0.2)
        for place, operation in enumerate(panel.operations.all()):
            start = now + timedelta(days=place)
            plan(operation, start, start + timedelta(hours=2), number, cast.person("Mara"))
    cast.make_gate(job, "deposit", expected=today - timedelta(days=2))
    Hold.objects.create(
        panel=panel, reason="no answer", since=now - timedelta(days=9), until=today, held_by="Nora"
    )
    cuttings = Operation.objects.filter(kind__name="Cutting")
    for operation, name, ago in zip(cuttings, ("Mara", "Jonas"), (0, 3), strict=False):
        operation.keeper, operation.started_at = cast.person(name), now - timedelta(days=ago, minutes=1)
        operation.save()
        TimeEntry.objects.create(
            person=operation.keeper, operation=operation, started_at=operation.started_at
        )
    cure = cast.make_panel(job, 2, kinds=("Cure",)).operations.get()
    cure.started_at, cure.finished_at = now - timedelta(hours=1), now + timedelta(days=1)
    cure.save()


DRAWING = {
    "width": 600,
    "height": 900,
    "pieces": [
        {"points": [[0, y], [600, y], [600, y + 300], [0, y + 300]], "glass": "clear", "beveled": True}
        for y in (0, 300, 600)
    ],
}


def test_it_is_accessible(live_server: Any, signed_in: Any, lead: Account, floor: None) -> None:
    page = signed_in(lead)
    page.goto(live_server.url)
    page.get_by_text("2 more").first.click()
    assert faults(page) == []


def test_it_is_accessible_when_there_is_nothing(live_server: Any, signed_in: Any, lead: Account) -> None:
    settle(timezone.now())
    page = signed_in(lead)
    page.goto(live_server.url)
    page.get_by_text("Nothing needs a decision today").wait_for()
    assert faults(page) == []


def renew(page: Page) -> None:
    """What its timer does every half minute, now."""
    page.evaluate("htmx.ajax('GET', '/', {source: '#floor', target: '#floor', swap: 'outerHTML'})")


def test_it_renews_itself_and_keeps_what_is_open(
    live_server: Any, signed_in: Any, lead: Account, floor: None
) -> None:
    page = signed_in(lead)
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda message: message.type == "error" and errors.append(message.text))
    page.goto(live_server.url)
    assert page.locator("#floor").get_attribute("hx-trigger") == "every 30s"
    page.locator("#more-problems summary").click()
    page.locator("#station-beveling .pane-name a").first.focus()
    Station.objects.filter(name="Blasting").update(name="Carving")
    cache.clear()  # Written by hand, so no event tells that the floor has changed.
    renew(page)
    page.get_by_role("heading", name="Carving").wait_for()
    assert page.locator("#floor").count() == 1
    assert page.get_by_text("Nobody can do work 5.").is_visible()
    assert page.evaluate("document.activeElement.textContent") == "Beveling"
    assert errors == []


def test_it_waits_while_somebody_types(live_server: Any, signed_in: Any, lead: Account, floor: None) -> None:
    page = signed_in(lead)
    page.goto(live_server.url)
    page.evaluate("document.querySelector('h1').append(document.createElement('input'))")
    page.locator("h1 input").focus()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    renew(page)
    page.wait_for_timeout(200)
    assert asked == []
    page.locator("h1 input").evaluate("input => input.blur()")
    with page.expect_response(f"{live_server.url}/"):
        renew(page)


def test_somebody_who_was_signed_out_is_asked_to_sign_in(
    live_server: Any, signed_in: Any, lead: Account, floor: None
) -> None:
    page = signed_in(lead)
    page.goto(live_server.url)
    page.context.clear_cookies()
    renew(page)
    page.wait_for_url(f"{live_server.url}/sign-in/?next=/")
    assert page.locator("#floor").count() == 0


def test_it_works_without_javascript(
    browser: Any, live_server: Any, signed_in: Any, lead: Account, floor: None
) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 768, "height": 1024})
    page = signed_in(lead, context)
    page.goto(live_server.url)
    page.locator("#station-beveling").get_by_text("waiting").click()
    assert page.url == f"{live_server.url}/panels/?waits=beveling&state=waiting"
    context.close()


def test_fingers_find_their_targets(
    browser: Any, live_server: Any, signed_in: Any, lead: Account, floor: None
) -> None:
    context = browser.new_context(has_touch=True, is_mobile=True, viewport={"width": 390, "height": 844})
    page = signed_in(lead, context)
    page.goto(live_server.url)
    heights = page.locator("#floor a, #floor summary").evaluate_all(
        "all => all.map(one => [one.textContent.trim(), (one.querySelector('.bench-title') || one)"
        ".getBoundingClientRect().height]).filter(([, height]) => height && height < 44)"
    )
    assert heights == []
    context.close()
