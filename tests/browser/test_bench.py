"""The bench in a browser: a shift by touch on a tablet and a phone and without JavaScript, large targets, axe."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from jobs.actions import Actor
from jobs.actions.bench import finish, start
from jobs.actions.holds import hold
from jobs.actions.hours import log_span
from jobs.models import Account, Breakage, Panel, Station, TimeEntry
from tests import cast
from tests.bench_page.test_bench import Clock
from tests.bench_page.test_bench import clock as clock
from tests.browser.looks import EVERY_TARGET, LEAST_AT_THE_BENCH, faults
from tests.cast import at

pytestmark = pytest.mark.django_db(transaction=True)
TABLET, PHONE = {"width": 768, "height": 1024}, {"width": 390, "height": 844}


@pytest.fixture
def bevel_shop(transactional_db: None, tablet: Account, clock: Clock) -> list[Panel]:
    """Six panels: two to bevel, one with others, one held, one coming, one whose drawing is known."""
    clock.time = at(3, "08:00")
    job = cast.make_job()
    panels = [cast.make_panel(job, number) for number in range(1, 7)]
    jonas, ilse = cast.person("Jonas"), cast.person("Ilse")
    for panel in panels[:5]:
        finish(
            cast.operation_of(panel, "Cutting"),
            jonas,
            by=Actor(person=jonas),
            at=at(2, f"09:1{panel.number}"),
        )
    start(cast.operation_of(panels[2], "Beveling"), ilse, by=Actor(person=ilse), at=at(3, "07:50"))
    hold(cast.operation_of(panels[3], "Beveling"), "late glass", by=Actor(person=ilse), at=at(2, "10:00"))
    squares = [[x * 120, y * 450, x * 120 + 120, y * 450 + 450] for y in range(2) for x in range(5)]
    Panel.objects.update(
        drawing={
            "pieces": [
                {"points": [[a, b], [c, b], [c, d], [a, d]], "beveled": True} for a, b, c, d in squares
            ]
        }
    )
    return panels


@pytest.fixture(params=["tablet", "phone", "tablet without JavaScript"])
def page(request: Any, browser: Any, signed_in: Any, tablet: Account) -> Iterator[Page]:
    """The bevel bench's tablet, or its account on a phone, by touch."""
    context = browser.new_context(
        has_touch=True,
        viewport=PHONE if request.param == "phone" else TABLET,
        java_script_enabled="without" not in request.param,
    )
    context.set_default_timeout(8_000)
    yield signed_in(tablet, context)
    context.close()


def press(page: Page, name: str, within: str = ".bench-now .work") -> None:
    page.locator(within).first.get_by_role("button", name=name).first.tap()


def come_back(page: Page, clock: Clock, time: str) -> None:
    """Mara comes to the tablet again, which shows the names meanwhile."""
    clock.time = at(3, time)
    page.reload()
    page.get_by_role("button", name="Mara Lind").tap()
    page.get_by_role("button", name="Done here").wait_for()


def test_a_shift_at_the_bevel_bench(
    page: Page, live_server: Any, bevel_shop: list[Panel], clock: Clock
) -> None:
    beveling = cast.operation_of(bevel_shop[0], "Beveling")
    other = cast.operation_of(bevel_shop[1], "Beveling")
    problems: list[str] = []
    page.on("console", lambda message: problems.append(message.text) if message.type == "error" else None)
    page.goto(f"{live_server.url}/bench/")
    expect(page.get_by_role("heading", name="Who is here?")).to_be_visible()
    page.get_by_role("button", name="Mara Lind").tap()
    expect(page.get_by_text("Do next")).to_be_visible()
    for shown in ("late glass", "Ilse Roth has it", "after Cutting"):
        expect(page.get_by_text(shown).first).to_be_visible()

    press(page, "Start")
    expect(page.get_by_text("since 08:00")).to_be_visible()
    come_back(page, clock, "10:00")
    press(page, "+1")
    expect(page.locator(".big").first).to_have_text("9")
    press(page, "+5")
    expect(page.locator(".big").first).to_have_text("4")
    first = page.locator(".bench-now .work").first
    first.locator("summary", has_text="Set pieces").tap()
    first.get_by_label("Pieces done in all").fill("12")
    first.get_by_role("button", name="Set", exact=True).tap()
    expect(page.get_by_text("There are 10 pieces")).to_be_visible()
    expect(first.get_by_label("Pieces done in all")).to_have_value("12")
    first.get_by_label("Pieces done in all").fill("8")
    first.get_by_role("button", name="Set", exact=True).tap()
    expect(page.locator(".big").first).to_have_text("2")

    come_back(page, clock, "11:00")
    page.locator(".line", has_text="0412/2").get_by_role("button", name="Start").tap()  # Stops the first.
    expect(page.locator(".work-running .work-code")).to_contain_text("0412/2")
    assert TimeEntry.objects.get(operation=beveling).minutes == 180
    come_back(page, clock, "13:00")
    press(page, "Pause")
    expect(page.locator(".work-running")).to_have_count(0)
    expect(page.get_by_text("paused")).to_have_count(2)
    assert TimeEntry.objects.get(operation=other).minutes == 90  # Half an hour of it was her break.
    page.locator(".work", has_text="0412/1").get_by_role("button", name="Finish").tap()
    expect(page.get_by_text("2 of 10 pieces are not counted as done yet.")).to_be_visible()
    page.locator(".work", has_text="0412/1").get_by_role("button", name="All are done: finish").tap()
    expect(page.get_by_role("heading", name="Finished today")).to_be_visible()
    expect(page.get_by_text("Beveling is finished.")).to_be_visible()
    page.locator(".line-finished").get_by_role("button", name="Not finished").tap()
    expect(page.get_by_text("Beveling is open again.")).to_be_visible()
    page.locator(".work", has_text="0412/1").get_by_role("button", name="Finish").tap()
    page.locator(".work", has_text="0412/1").get_by_role("button", name="All are done: finish").tap()
    expect(page.get_by_text("Beveling is finished.")).to_be_visible()

    work = page.locator(".work", has_text="0412/2")
    work.locator("summary", has_text="Hold").tap()
    work.get_by_role("button", name="Glass missing").tap()
    expect(page.get_by_text("held for glass missing")).to_be_visible()
    page.locator(".line", has_text="0412/2").get_by_role("button", name="Held no longer").tap()
    expect(page.locator(".work", has_text="0412/2")).to_be_visible()

    page.get_by_role("button", name="Done here").tap()
    expect(page.get_by_role("heading", name="Who is here?")).to_be_visible()
    assert not TimeEntry.objects.running().filter(person=cast.person("Mara")).exists()
    # A refusal answers with 422, which browsers report; everything else would be a fault of the page.
    assert [text for text in problems if "422" not in text] == []


def test_a_breakage(page: Page, live_server: Any, bevel_shop: list[Panel], clock: Clock) -> None:
    page.goto(f"{live_server.url}/bench/beveling/")
    page.get_by_role("button", name="Mara Lind").tap()
    press(page, "Start")
    expect(page.get_by_text("since 08:00")).to_be_visible()
    work = page.locator(".bench-now .work").first
    work.locator("summary", has_text="Broke a piece").tap()
    work.get_by_label("Pieces broken").fill("2")
    work.get_by_label("Which, or how").fill("slipped off the cork wheel")
    write = work.get_by_role("button", name="Write down the breakage")
    write.scroll_into_view_if_needed()
    before = page.evaluate("scrollY")
    write.tap()
    expect(page.get_by_text("New work: Cutting again, 2 pieces; Beveling again, 2 pieces.")).to_be_visible()
    expect(page.locator(".line", has_text="Beveling again, 2 pieces")).to_contain_text("after Cutting again")
    # The page is not carried to its foot by what it is renewed with: the work stays under the finger.
    assert page.evaluate("scrollY") <= before + 200
    assert Breakage.objects.get().note == "slipped off the cork wheel"
    page.goto(f"{live_server.url}/bench/cutting/")
    expect(page.locator(".line", has_text="Cutting again, 2 pieces")).to_be_visible()


def test_two_taps_of_one_finger_are_one(
    browser: Any, signed_in: Any, tablet: Account, live_server: Any, bevel_shop: list[Panel]
) -> None:
    context = browser.new_context(has_touch=True, viewport=TABLET)
    page = signed_in(tablet, context)
    page.goto(f"{live_server.url}/bench/beveling/")
    page.get_by_role("button", name="Mara Lind").tap()
    press(page, "Start")
    expect(page.get_by_text("since 08:00")).to_be_visible()
    page.evaluate("""() => {
        const form = document.querySelector(".work form[action$='/pieces/']");
        const body = new URLSearchParams([...new FormData(form), ["add", "1"]]);
        const send = () => fetch(form.action, {method: "POST", body});
        return Promise.all([send(), send(), send()]);
    }""")
    assert cast.operation_of(bevel_shop[0], "Beveling").quantity_done == 1
    context.close()


def test_the_names_come_back_by_themselves(
    browser: Any, signed_in: Any, tablet: Account, live_server: Any, bevel_shop: list[Panel]
) -> None:
    context = browser.new_context(has_touch=True, viewport=TABLET)
    page = signed_in(tablet, context)
    page.clock.install()
    page.goto(f"{live_server.url}/bench/beveling/")
    page.get_by_role("button", name="Mara Lind").tap()
    expect(page.get_by_text("Do next")).to_be_visible()
    page.clock.fast_forward("09:00")
    expect(page.get_by_text("Do next")).to_be_visible()
    page.clock.fast_forward("01:30")
    expect(page.get_by_role("heading", name="Who is here?")).to_be_visible()
    context.close()


def test_a_timer_left_on_is_answered(
    page: Page, live_server: Any, bevel_shop: list[Panel], clock: Clock
) -> None:
    mara = cast.person("Mara")
    entry = start(
        cast.operation_of(bevel_shop[0], "Beveling"), mara, by=Actor(person=mara), at=at(3, "15:00")
    )
    clock.time = at(4, "08:00")
    page.goto(f"{live_server.url}/bench/beveling/")
    page.get_by_role("button", name="Mara Lind").tap()
    expect(page.get_by_role("heading", name="When did you stop?")).to_be_visible()
    page.get_by_label("Stopped at").fill("14:00")
    page.get_by_role("button", name="It was then").tap()
    expect(page.get_by_text("It ends before it begins.").first).to_be_visible()
    expect(page.get_by_label("Stopped at")).to_have_value("14:00")
    page.get_by_role("button", name="At the end of the shift").tap()
    expect(page.get_by_text("paused")).to_be_visible()
    entry.refresh_from_db()
    assert (entry.stopped_at, entry.minutes) == (at(3, "16:30"), 90)


def _pages(page: Page, url: str, bevel_shop: list[Panel], clock: Clock) -> Iterator[str]:
    """Every page of the bench, one after the other, with all there can be on it."""
    mara = cast.person("Mara")
    page.goto(f"{url}/bench/?all")
    yield "benches"
    page.goto(f"{url}/bench/beveling/")
    yield "names"
    page.get_by_role("button", name="Mara Lind").tap()
    page.get_by_text("Do next").wait_for()
    yield "next"
    press(page, "Start")
    page.locator(".work-running").wait_for()
    for summary in page.locator(".work-running summary").all():
        summary.tap()
    press(page, "Set", ".work-running details[open]")
    page.locator("[aria-invalid=true]").wait_for()
    yield "work"
    operation = cast.operation_of(bevel_shop[1], "Beveling")
    entry = log_span(
        operation, mara, at(2, "10:00"), at(2, "11:00"), by=Actor(person=mara), at=at(3, "08:00")
    )
    page.goto(f"{url}/bench/beveling/hours/?change={entry.pk}")
    yield "hours"
    clock.time += timedelta(hours=9, minutes=50)
    page.goto(f"{url}/bench/beveling/")
    page.get_by_role("button", name="Mara Lind").tap()
    page.get_by_text("When did you stop?").wait_for()
    yield "question"


def test_every_page_is_accessible_and_its_targets_are_large(
    browser: Any,
    signed_in: Any,
    tablet: Account,
    live_server: Any,
    bevel_shop: list[Panel],
    clock: Clock,
) -> None:
    context = browser.new_context(has_touch=True, viewport=TABLET)
    page = signed_in(tablet, context)
    for name in _pages(page, live_server.url, bevel_shop, clock):
        assert faults(page, least=LEAST_AT_THE_BENCH, targets=EVERY_TARGET) == [], name
    context.close()


def test_the_leads_hours_are_accessible(
    signed_in: Any, lead: Account, live_server: Any, bevel_shop: list[Panel], clock: Clock
) -> None:
    mara = cast.person("Mara")
    operation = cast.operation_of(bevel_shop[0], "Beveling")
    entry = log_span(
        operation, mara, at(2, "10:00"), at(2, "11:00"), by=Actor(person=mara), at=at(3, "08:00")
    )
    start(operation, mara, by=Actor(person=mara), at=at(3, "08:00"))
    clock.time = at(4, "09:00")
    page = signed_in(lead)
    page.goto(f"{live_server.url}/hours/?change={entry.pk}")
    page.get_by_role("heading", name="Timers left on").wait_for()
    assert faults(page) == []
    assert Station.objects.get(name="Beveling").active
