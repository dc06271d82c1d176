"""The customer's page in a browser: approved on a phone without scripts, and a link that opens nothing any more."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from jobs.actions import Actor
from jobs.actions.customer_links import revoke_link
from jobs.models import Account, CustomerLink, DrawingApproval, Gate, Job, Projection, Promise
from tests import cast, customers
from tests.browser.looks import faults

pytestmark = pytest.mark.django_db(transaction=True)
PHONE = {"width": 390, "height": 844}
# All of the page is for tapping, so that its links that look like buttons are looked at as well.
TARGETS = "main :is(button, .button, input:not([type=hidden]), .papers a)"


@pytest.fixture
def commission(transactional_db: None, office: Account) -> Job:
    """Two drawn panels, one being cut already, with a promise, a window and a deposit that is not in."""
    job = customers.make_commission(panels=2)
    now = timezone.now()
    Promise.objects.create(
        job=job, day=timezone.localdate() + timedelta(days=40), given_at=now, given_by=office, told="Vicar"
    )
    days = [now + timedelta(days=days) for days in (20, 30, 38)]
    Projection.objects.create(job=job, p50=days[0], p80=days[1], p95=days[2])
    cast.make_gate(job, "deposit", expected=date(2026, 4, 1))
    cast.make_gate(job, "glass", expected=timezone.localdate() + timedelta(days=9))
    cutting = cast.operation_of(job.panels.get(number=1), "Cutting")
    type(cutting).objects.filter(pk=cutting.pk).update(started_at=now)
    return job


def test_approves_comes_back_and_finds_the_link_closed(
    commission: Job, office: Account, browser: Any, live_server: Any
) -> None:
    link = customers.make_customer_link(commission, office)
    address = f"{live_server.url}/c/{link.token}/"
    context = browser.new_context(viewport=PHONE, java_script_enabled=False, has_touch=True)
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    page.get_by_role("link", name="Go to the drawings").tap()
    page.get_by_role("button", name="I approve").tap()
    expect(page.get_by_role("textbox", name="Your name")).to_have_accessible_description(
        "Please write your name."
    )
    page.get_by_label("Your name").fill("Anna Berg")
    page.get_by_role("button", name="I approve").tap()
    expect(page.get_by_text("Please look at sizes, glass and layout first")).to_be_visible()
    expect(page.get_by_label("Your name")).to_have_value("Anna Berg")
    page.get_by_label("I have looked at sizes, glass and layout").check()
    page.get_by_role("button", name="I approve").tap()
    expect(page.get_by_text("Approved by Anna Berg")).to_have_count(2)
    expect(page.get_by_role("button")).to_have_count(0)
    assert Gate.objects.get(kind="drawing").cleared == cast.today()
    assert DrawingApproval.objects.get(panel__number=1).agent.startswith("Mozilla")

    page.goto(address)
    expect(page.get_by_text("Approved by Anna Berg")).to_have_count(2)
    assert CustomerLink.objects.get().times_read == 3
    # The customer's phone is sent nowhere else, and keeps nothing.
    assert all(url.startswith(live_server.url) for url in asked)
    assert context.cookies() == []

    answers = []
    tampered = f"{live_server.url}/c/{link.token[:-2]}__/"
    answers.append(page.goto(tampered).text())
    CustomerLink.objects.update(last_day=timezone.localdate() - timedelta(days=1))
    answers.append(page.goto(address).text())
    CustomerLink.objects.update(last_day=timezone.localdate())
    expect(page.get_by_role("heading", name="This link opens nothing")).to_be_visible()
    revoke_link(commission, by=Actor(account=office), at=timezone.now())
    answers.append(page.goto(address).text())
    assert len(set(answers)) == 1
    assert "0412" not in answers[0]
    context.close()


def test_a_drawing_that_changes_while_it_is_looked_at(
    commission: Job, office: Account, browser: Any, live_server: Any
) -> None:
    link = customers.make_customer_link(commission, office)
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(f"{live_server.url}/c/{link.token}/")
    page.get_by_label("Your name").fill("Anna Berg")
    page.get_by_label("I have looked at sizes, glass and layout").check()
    customers.redraw(commission.panels.get(number=2))
    page.get_by_role("button", name="I approve").click()
    expect(page.get_by_role("alert")).to_contain_text("A drawing has changed since you opened this page")
    expect(page.get_by_text("Amber")).to_be_visible()
    assert faults(page, targets=TARGETS) == []
    page.get_by_role("button", name="I approve").click()
    expect(page.get_by_text("Approved by Anna Berg")).to_have_count(2)
    context.close()


def test_the_customers_page_is_for_everyone(
    commission: Job, office: Account, browser: Any, live_server: Any
) -> None:
    link = customers.make_customer_link(commission, office, shows_prices=True)
    context = browser.new_context()
    page = context.new_page()
    for address in (f"/c/{link.token}/", "/c/nowhere/"):
        page.goto(f"{live_server.url}{address}")
        page.get_by_role("heading", level=1).wait_for()
        assert faults(page, targets=TARGETS) == []
    context.close()


def test_the_studios_side_is_for_everyone(
    commission: Job, office: Account, signed_in: Any, live_server: Any
) -> None:
    page = signed_in(office)
    page.goto(f"{live_server.url}/jobs/0412/")
    page.get_by_role("link", name="Make a link").click()
    page.get_by_role("checkbox", name="Prices").check()
    assert faults(page) == []
    page.get_by_role("button", name="Make the link").click()
    expect(page.get_by_text("The link is made")).to_be_visible()
    expect(page.get_by_label("Link, for this customer alone")).to_have_value(
        f"{live_server.url}/c/{CustomerLink.objects.get().token}/"
    )
    assert faults(page) == []
    page.get_by_role("link", name="See what they see").click()
    expect(page.get_by_text("your looking is not counted")).to_be_visible()
    assert faults(page, targets=TARGETS) == []
    approval = DrawingApproval.objects.create(
        panel=commission.panels.get(number=1),
        digest="0" * 64,
        shown={
            "width_mm": "600.00",
            "height_mm": "900.00",
            "thickness_mm": "6.35",
            "copies": 1,
            "drawing": customers.DRAWING,
        },
        name="Anna Berg",
        at=timezone.now(),
    )
    page.goto(f"{live_server.url}/jobs/0412/approvals/{approval.pk}/")
    page.get_by_role("heading", name="as it was approved").wait_for()
    assert faults(page) == []
