"""Dates in a browser: a promise given by touch and by keyboard, without JavaScript, and accessible to all."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page

from jobs.actions.plan import replan
from jobs.models import Account, Job, PlanState, Promise
from tests import cast
from tests.browser.looks import faults

pytestmark = pytest.mark.django_db(transaction=True)


PATHS = (
    "/dates/",
    "/dates/0412/promise/",
    "/dates/0412/promises/",
    "/dates/0412/why/",
    "/dates/load/?relief=1",
    "/dates/what-if/",
    "/dates/what-if/?saturdays=3",
    "/dates/promises/",
    "/dates/look-back/",
    "/dates/better-order/",
)


def workday(weeks: int) -> date:
    """A Wednesday some weeks from now."""
    today = timezone.localdate()
    return today + timedelta(days=(2 - today.weekday()) % 7 + 7 * weeks)


@pytest.fixture
def jobs(transactional_db: None, office: Account) -> list[Job]:
    """One job at risk, one not promised, one on course."""
    now: datetime = timezone.now()
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 50})
    found = []
    for number, title, day in (
        ("0412", "Hall window", timezone.localdate() + timedelta(days=1)),
        ("0413", "Fan light", None),
        ("0414", "Porch light", workday(9)),
    ):
        job = cast.make_job(number, title)
        cast.make_panel(job)
        cast.make_gate(job, "drawing", expected=workday(1))
        if day:
            Promise.objects.create(
                job=job, day=day, given_at=now, given_by=office, told="Father Aurel", chance=0.9
            )
        found.append(job)
    replan(at=now)
    return found


def test_a_promise_on_the_page_of_its_own_answers(
    live_server: Any, signed_in: Any, office: Account, jobs: list[Job]
) -> None:
    """That page has no row to put the answer into: with scripts, too, it goes on to the dates and says so."""
    page = signed_in(office)
    page.goto(f"{live_server.url}/dates/0413/promise/")
    page.get_by_label("told").fill("Ada Winter")
    page.get_by_role("button", name="Write the promise down").click()
    page.get_by_text("The promise for 0413 is written down.").wait_for()
    assert Promise.objects.filter(job__number="0413").count() == 1


def test_a_date_is_given_by_touch(
    browser: Any, live_server: Any, signed_in: Any, office: Account, jobs: list[Job]
) -> None:
    context = browser.new_context(has_touch=True, viewport={"width": 390, "height": 844})
    page: Page = signed_in(office, context)
    page.goto(f"{live_server.url}/dates/")
    row = page.locator(f"#job-{jobs[1].pk}")
    row.get_by_role("link", name="Give a date").tap()
    row.get_by_label("Promise this day").fill(workday(8).isoformat())
    row.get_by_label("Told to").fill("Sister Agathe")
    row.get_by_role("button", name="Write the promise down").tap()
    row.get_by_text("Told Sister Agathe").wait_for()
    assert page.url == f"{live_server.url}/dates/"
    given = Promise.objects.get(job=jobs[1])
    assert (given.day, given.told) == (workday(8), "Sister Agathe")
    context.close()


def test_what_is_refused_stands_in_the_row(
    live_server: Any, signed_in: Any, office: Account, jobs: list[Job]
) -> None:
    page: Page = signed_in(office)
    page.goto(f"{live_server.url}/dates/")
    row = page.locator(f"#job-{jobs[0].pk}")
    row.get_by_role("link", name="Change date").click()
    row.get_by_label("Promise this day").fill(workday(3).isoformat())
    row.get_by_role("button", name="Write the promise down").click()
    row.get_by_text("Say why it changes.").wait_for()
    assert row.get_by_label("Promise this day").input_value() == workday(3).isoformat()
    assert Promise.objects.filter(job=jobs[0]).count() == 1


def test_it_works_without_javascript(
    browser: Any, live_server: Any, signed_in: Any, office: Account, jobs: list[Job]
) -> None:
    context = browser.new_context(java_script_enabled=False)
    page: Page = signed_in(office, context)
    page.goto(f"{live_server.url}/dates/")
    page.locator(f"#job-{jobs[1].pk}").get_by_role("link", name="Give a date").click()
    page.get_by_label("Promise this day").fill(workday(8).isoformat())
    page.get_by_label("Told to").fill("Sister Agathe")
    page.get_by_role("button", name="Write the promise down").click()
    assert page.url == f"{live_server.url}/dates/"
    page.get_by_text("The promise for 0413 is written down.").wait_for()
    page.locator(f"#job-{jobs[1].pk} .date-told").click()
    page.get_by_role("cell", name="Sister Agathe").wait_for()
    context.close()


def test_a_question_is_asked_in_place(
    live_server: Any, signed_in: Any, lead: Account, jobs: list[Job]
) -> None:
    page: Page = signed_in(lead)
    page.goto(f"{live_server.url}/dates/what-if/")
    page.get_by_label("Mara Lind").first.check()
    page.get_by_label("Until that day, included").fill(workday(6).isoformat())
    page.get_by_role("button", name="Try it out").click()
    page.get_by_role("heading", name="later").wait_for()
    assert "away_until" in page.url
    page.get_by_role("button", name="Write it down").click()
    page.get_by_text("Mara Lind is off until").wait_for()


def test_nothing_bars_anybody(live_server: Any, signed_in: Any, lead: Account, jobs: list[Job]) -> None:
    page: Page = signed_in(lead)
    for path in PATHS:
        page.goto(live_server.url + path)
        if path == "/dates/":
            page.locator(f"#job-{jobs[0].pk}").get_by_role("link", name="Change date").click()
            page.get_by_label("Told to").wait_for()
        assert faults(page) == []
