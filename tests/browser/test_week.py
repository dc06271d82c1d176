"""The end of a day at the bench, by touch, and of a week at the lead's desk."""

from typing import Any

import pytest
from playwright.sync_api import expect

from jobs.models import Account, ClosedWeek, ConfirmedDay
from tests import cast
from tests.bench_page.test_bench import Clock
from tests.bench_page.test_bench import clock as clock
from tests.bench_page.test_hours_pages import log
from tests.browser.looks import LEAST_AT_THE_BENCH, faults
from tests.cast import at

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_day_is_confirmed_and_its_week_closed(
    browser: Any, signed_in: Any, lead: Account, tablet: Account, live_server: Any, clock: Clock
) -> None:
    panel = cast.make_panel(cast.make_job())
    log(cast.operation_of(panel, "Cutting"), "Mara", 4, "08:00", "10:07")
    clock.time = at(4, "16:31")
    context = browser.new_context(has_touch=True, viewport={"width": 768, "height": 1024})
    page = signed_in(tablet, context)
    page.goto(f"{live_server.url}/bench/beveling/")
    page.get_by_role("button", name="Mara Lind").tap()
    page.get_by_role("link", name="My hours").tap()
    expect(page.get_by_role("heading", name="Is your day right?")).to_be_visible()
    assert faults(page, least=LEAST_AT_THE_BENCH) == []
    page.get_by_role("button", name="Yes, it is right").first.tap()
    expect(page.get_by_text("that day is confirmed")).to_be_visible()
    assert ConfirmedDay.objects.get().minutes == 127
    context.close()
    clock.time = at(9, "09:00")
    desk = browser.new_context()
    page = signed_in(lead, desk)
    page.goto(f"{live_server.url}/hours/week/?day=2026-03-02")
    assert faults(page) == []
    page.get_by_role("button", name="Close the week").click()
    expect(page.get_by_role("heading", name="Closed")).to_be_visible()
    assert ClosedWeek.objects.get().minutes
    page.goto(f"{live_server.url}/hours/sheet/?day=2026-03-02")
    assert faults(page) == []
    desk.close()
