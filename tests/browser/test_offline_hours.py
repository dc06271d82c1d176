"""Without the line: hours that are written down, what is said of a timer left on, and what signing out takes along."""

import re

import pytest
from playwright.sync_api import Page, expect

from jobs.actions import Actor
from jobs.actions.bench import start
from jobs.models import Account, LateTap, Operation, Tap, TimeEntry
from tests import cast
from tests.bench_page.test_bench import Clock
from tests.bench_page.test_bench import clock as clock
from tests.browser.test_offline import all_sent, press, until, wait_until_acknowledged
from tests.browser.test_offline import beveling as beveling
from tests.browser.test_offline import page as page
from tests.browser.test_offline import panel as panel
from tests.cast import at

pytestmark = pytest.mark.django_db(transaction=True)


def write(page: Page, work: Operation, start: str, stop: str, note: str = "") -> None:
    page.get_by_label("Work").select_option(str(work.pk))
    page.get_by_label("From").fill(start)
    page.get_by_label("To", exact=True).fill(stop)
    page.get_by_label("Note").fill(note)
    page.get_by_role("button", name="Write it down", exact=True).tap()


def test_hours_are_written_down_without_the_line(page: Page, beveling: Operation) -> None:
    until(
        page,
        f"caches.match('/bench/beveling/hours/?of={cast.person('Mara').pk}').then((found) => Boolean(found))",
    )
    page.context.set_offline(True)
    expect(page.locator("#outbox")).to_contain_text("does not answer")
    page.get_by_role("link", name="My hours").tap()
    expect(page.get_by_role("heading", name="Write hours down")).to_be_visible()
    page.get_by_role("button", name="Write it down", exact=True).tap()
    assert page.get_by_label("Work").evaluate("field => field === document.activeElement")
    write(page, beveling, "08:00", "09:00", "the first bevels")
    expect(page.locator("#outbox")).to_contain_text("1 tap waits to be sent")
    write(page, beveling, "08:30", "09:30", "over them")
    expect(page.locator("#outbox")).to_contain_text("2 taps wait to be sent")
    page.reload()
    expect(page.locator("#outbox")).to_contain_text("08:30, 09:30, over them")
    assert not TimeEntry.objects.exists()
    page.context.set_offline(False)
    refused = page.locator(".outbox-refused li")
    expect(refused).to_have_count(1)
    expect(refused).to_contain_text("08:30, 09:30, over them")
    assert TimeEntry.objects.get().minutes == 60
    assert LateTap.objects.get().typed["note"] == "over them"
    refused.get_by_role("link", name="Type it again").tap()
    expect(page.get_by_label("Note")).to_have_value("over them")
    write(page, beveling, "09:00", "09:30", "after them")
    expect(page.locator("#messages")).to_contain_text("Written down.")
    all_sent(page)
    wait_until_acknowledged(page)
    assert sorted(TimeEntry.objects.values_list("minutes", flat=True)) == [30, 60]


def test_what_is_said_of_a_timer_left_on_waits_and_the_work_goes_on(
    page: Page, live_server: object, beveling: Operation, clock: Clock
) -> None:
    mara = cast.person("Mara")
    start(beveling, mara, by=Actor(person=mara), at=at(2, "15:00"))
    page.goto(page.url)
    expect(page.get_by_role("heading", name="When did you stop?")).to_be_visible()
    page.context.set_offline(True)
    page.get_by_role("button", name=re.compile("At the end of the shift")).tap()
    expect(page.locator("#outbox")).to_contain_text("1 tap waits to be sent")
    expect(page.locator(".question")).to_be_hidden()
    press(page, "Start")
    expect(page.locator("#outbox")).to_contain_text("2 taps wait to be sent")
    assert not Tap.objects.exists()
    page.context.set_offline(False)
    wait_until_acknowledged(page)
    all_sent(page)
    first, second = TimeEntry.objects.order_by("started_at")
    assert (first.stopped_at, first.questioned) == (at(2, "16:30"), False)
    assert second.stopped_at is None
    assert not LateTap.objects.exists()


def test_signing_out_takes_the_kept_pages_along(page: Page, tablet: Account, beveling: Operation) -> None:
    assert page.evaluate("caches.has('bench-pages')")
    page.locator(".sign-out button").tap()
    page.get_by_role("heading", name="Sign in").wait_for()
    until(page, "caches.has('bench-pages').then((has) => !has)")
    page.context.set_offline(True)
    page.goto(page.url.split("/sign-in/")[0] + "/bench/beveling/")
    expect(page.get_by_role("heading", name="The studio’s computer does not answer")).to_be_visible()
