"""Two screens at once: a tap at one bench shows on the other and on the floor, and never under somebody's hands."""

from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from jobs.actions import Actor
from jobs.actions.bench import pause, start
from jobs.models import Account, Operation
from tests import cast
from tests.bench_page.test_bench import Clock
from tests.bench_page.test_bench import clock as clock
from tests.cast import at

pytestmark = pytest.mark.django_db(transaction=True)
WITHIN = 3_000  # Milliseconds, which the issue of live screens allows.


@pytest.fixture
def beveling(transactional_db: None, tablet: Account, clock: Clock) -> Operation:
    clock.time = at(3, "10:00")
    return cast.operation_of(cast.make_panel(cast.make_job(), kinds=("Beveling",)), "Beveling")


def come(page: Page, url: str, name: str) -> None:
    page.goto(f"{url}/bench/beveling/")
    page.get_by_role("button", name=name).click()
    page.get_by_role("button", name="Done here").wait_for()


def test_a_tap_shows_on_the_floor_and_on_another_tablet_without_a_reload(
    browser: Any, signed_in: Any, lead: Account, tablet: Account, live_server: Any, beveling: Operation
) -> None:
    mine, other, office = (browser.new_context() for _ in range(3))
    floor = signed_in(lead, office)
    floor.goto(live_server.url)
    ilse, mara = signed_in(tablet, other), signed_in(tablet, mine)
    come(ilse, live_server.url, "Ilse Roth")
    come(mara, live_server.url, "Mara Lind")
    mara.get_by_role("button", name="Start").first.click()
    expect(ilse.get_by_text("Mara Lind has it")).to_be_visible()
    expect(floor.locator("#station-beveling")).to_contain_text("1 of 2 benches in use")
    for context in (mine, other, office):
        context.close()


def test_a_change_is_there_within_three_seconds(
    browser: Any, signed_in: Any, tablet: Account, lead: Account, live_server: Any, beveling: Operation
) -> None:
    """By the pages' own clocks, which stand still but for the three seconds that are let go of them."""
    mine, other, office = (browser.new_context() for _ in range(3))
    ilse, mara, floor = signed_in(tablet, other), signed_in(tablet, mine), signed_in(lead, office)
    for page in (ilse, floor):
        page.clock.install()
    come(ilse, live_server.url, "Ilse Roth")
    floor.goto(live_server.url)
    shown = [ilse.get_by_text("Mara Lind has it"), floor.get_by_text("1 of 2 benches in use")]
    for page in (ilse, floor):
        assert int(page.locator("#changed").get_attribute("data-every") or "9999") < WITHIN
        page.clock.pause_at(page.evaluate("Date.now()") / 1000 + 30)
    come(mara, live_server.url, "Mara Lind")
    mara.get_by_role("button", name="Start").first.click()
    expect(mara.locator(".work-running")).to_be_visible()
    for page, change in zip((ilse, floor), shown, strict=True):
        expect(change).to_have_count(0)
        # No answer is due before the page asks, and it asks within the time that is let go.
        with page.expect_response(lambda answer: answer.url.endswith("/pulse/") and answer.status == 200):
            page.clock.run_for(WITHIN)
        expect(change).to_be_visible()
    for context in (mine, other, office):
        context.close()


def hold_back(page: Page, address: str) -> list[Any]:
    """Keep back the answer to the next renewal of this address, as it is by now; what it gives is let go of by `()`."""
    held: list[Any] = []

    def handle(route: Route) -> None:
        if held or not route.request.headers.get("x-renews"):
            route.continue_()
            return
        answer = route.fetch()
        held.append(lambda: route.fulfill(response=answer))

    page.route(address, handle)
    return held


def wait_for(held: list[Any], page: Page) -> None:
    """Until the page has asked and the answer is held."""
    for _ in range(200):
        if held:
            return
        page.wait_for_timeout(50)
    raise AssertionError("The page has not asked.")


def test_a_form_opened_before_the_answer_comes_stays_open(
    browser: Any, signed_in: Any, tablet: Account, live_server: Any, beveling: Operation
) -> None:
    """The order is forced: the page asks, the form is opened, and only then the answer comes."""
    mara = cast.person("Mara")
    start(beveling, mara, by=Actor(person=mara), at=at(3, "09:00"))
    context = browser.new_context()
    page = signed_in(tablet, context)
    come(page, live_server.url, "Mara Lind")
    held = hold_back(page, f"{live_server.url}/bench/beveling/")
    pause(beveling, mara, by=Actor(person=mara), at=at(3, "09:30"))
    wait_for(held, page)
    page.locator("summary", has_text="Broke a piece").click()
    note = page.get_by_label("Which, or how")
    note.fill("the corner by the hinge")
    held[0]()
    expect(page.locator("#changed")).to_be_visible()
    expect(note).to_have_value("the corner by the hinge")
    expect(page.locator(".work-running")).to_be_visible()
    # An answer to a tap is drawn at once, and leaves open what was opened meanwhile.
    page.get_by_role("button", name="+1").first.click()
    expect(page.locator(".work-running")).to_have_count(0)
    expect(note).to_have_value("the corner by the hinge")
    page.locator(".bench-now .work summary", has_text="Broke a piece").click()
    note.evaluate("field => { field.value = field.defaultValue; field.blur() }")
    expect(page.locator("#changed")).to_be_hidden()
    context.close()


def test_what_somebody_types_is_not_taken_from_under_their_hands(
    browser: Any, signed_in: Any, tablet: Account, live_server: Any, beveling: Operation
) -> None:
    mara = cast.person("Mara")
    start(beveling, mara, by=Actor(person=mara), at=at(3, "09:00"))
    context = browser.new_context()
    page = signed_in(tablet, context)
    come(page, live_server.url, "Mara Lind")
    page.locator("summary", has_text="Broke a piece").click()
    note = page.get_by_label("Which, or how")
    note.fill("the corner by the hinge")
    pause(beveling, mara, by=Actor(person=mara), at=at(3, "09:30"))
    expect(page.locator("#changed")).to_be_visible()
    expect(note).to_have_value("the corner by the hinge")
    expect(page.locator(".work-running")).to_be_visible()
    page.get_by_role("button", name="Show it").click()
    expect(page.get_by_text("paused")).to_be_visible()
    expect(page.locator("#changed")).to_be_hidden()
    context.close()
