"""Rates and records in a browser: a decision by touch, without JavaScript, and pages that everybody can use."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page

from jobs import models
from jobs.estimating.takeoff import Takeoff
from jobs.models import Account, Breakage, Job, Operation, Rate, TimeEntry
from tests import cast
from tests.browser.looks import faults, open_all

pytestmark = pytest.mark.django_db(transaction=True)

PATHS = (
    "/rates/",
    "/rates/cutting/",
    "/rates/beveling/",
    "/records/",
    "/records/?by=panel",
    "/records/?first=yesterday",
    "/records/margins/",
    "/records/outliers/",
    "/records/breakage/",
)


@pytest.fixture
def history(transactional_db: None, lead: Account) -> None:
    """Twelve panels cut within the last weeks, each slower than the rates say, one far slower, one with a breakage."""
    start: datetime = timezone.now() - timedelta(days=9)
    for number in range(12):
        pieces = 10 + 5 * number
        job = cast.make_job(f"{500 + number:04}", stage="complete", closed_at=start + timedelta(days=2))
        panel = cast.make_panel(job, kinds=("Cutting",), pieces=pieces)
        numbers = Takeoff(width_mm=600.0, height_mm=900.0, pieces=pieces).to_json()
        models.Takeoff.objects.create(panel=panel, version=1, numbers=numbers, source="hand", at=start)
        minutes = (45 + 10 * pieces) * (9 if number == 11 else 1)
        row = cast.operation_of(panel, "Cutting")
        stop = start + timedelta(minutes=minutes)
        TimeEntry.objects.create(
            person=cast.person("Jonas"), operation=row, started_at=start, stopped_at=stop, minutes=minutes
        )
        Operation.objects.filter(pk=row.pk).update(estimate=90, started_at=start, finished_at=stop)
        if number == 3:
            Breakage.objects.create(operation=row, pieces=1, at=stop)


def test_the_lead_accepts_by_touch(
    browser: Any, live_server: Any, signed_in: Any, lead: Account, history: None
) -> None:
    context = browser.new_context(has_touch=True, viewport={"width": 390, "height": 844})
    page: Page = signed_in(lead, context)
    page.goto(f"{live_server.url}/rates/")
    page.get_by_role("button", name="Accept the rates of Cutting").tap()
    page.get_by_text("Cutting: the learned rates hold from today.").wait_for()
    assert Rate.objects.filter(driver="piece", minutes__gt=8).exists()
    context.close()


def test_without_javascript_the_record_is_filtered(
    browser: Any, live_server: Any, signed_in: Any, office: Account, history: None
) -> None:
    context = browser.new_context(java_script_enabled=False)
    page: Page = signed_in(office, context)
    page.goto(f"{live_server.url}/records/")
    page.get_by_label("By", exact=True).select_option("job")
    page.get_by_label("Job", exact=True).fill("0503")
    page.get_by_role("button", name="Show").click()
    assert page.locator("tbody tr").count() == 1
    assert "0503" in page.locator("tbody tr").inner_text()
    context.close()


def test_the_file_follows_the_filters(
    live_server: Any, signed_in: Any, office: Account, history: None
) -> None:
    page: Page = signed_in(office)
    page.goto(f"{live_server.url}/records/?by=job&job=0503")
    with page.expect_download() as found:
        page.get_by_role("link", name="As CSV").click()
    assert found.value.suggested_filename == "hours-by-job.csv"
    assert Job.objects.count() == 12
    text = found.value.path().read_text("utf-8-sig")
    assert len(text.splitlines()) == 2


def test_everybody_can_use_the_pages(live_server: Any, signed_in: Any, lead: Account, history: None) -> None:
    page: Page = signed_in(lead)
    for path in PATHS:
        page.goto(f"{live_server.url}{path}")
        open_all(page)
        assert faults(page) == []
