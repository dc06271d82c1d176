"""Pieces marked on the drawing: by touch, by keyboard, with the line cut, and beside another tablet."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from jobs.actions import Actor
from jobs.actions.pieces import mark_pieces
from jobs.models import Account, BrokenPiece, Operation, PieceMark, Tap
from tests import cast
from tests.bench_page.test_bench import Clock
from tests.bench_page.test_bench import clock as clock
from tests.browser.looks import LEAST_AT_THE_BENCH, faults, open_all
from tests.browser.test_offline import all_sent, come, wait_until_acknowledged
from tests.cast import at

pytestmark = pytest.mark.django_db(transaction=True)
TABLET = {"width": 768, "height": 1024}


@pytest.fixture
def beveling(transactional_db: None, lead: Account, clock: Clock) -> Operation:
    clock.time = at(3, "10:00")
    panel = cast.make_panel(cast.make_job(), kinds=("Beveling", "Assembly"))
    cast.make_accepted(panel, lead)
    return cast.operation_of(panel, "Beveling")


@pytest.fixture
def page(
    browser: Any, signed_in: Any, tablet: Account, live_server: Any, beveling: Operation
) -> Iterator[Page]:
    """Mara has opened the drawing of the panel of four panes."""
    context = browser.new_context(has_touch=True, viewport=TABLET)
    context.set_default_timeout(15_000)
    page = signed_in(tablet, context)
    come(page, live_server.url)
    page.get_by_role("link", name="Pieces on the drawing").tap()
    expect(page.get_by_role("button", name="Whole")).to_be_visible()
    yield page
    context.close()


def piece(page: Page, number: int) -> Locator:
    return page.locator(f".pc[data-n='{number}']")


def middle(page: Page, number: int) -> dict[str, float]:
    box = piece(page, number).locator("polygon").bounding_box()
    assert box is not None
    return {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}


def touch(page: Page, *moves: list[dict[str, float]]) -> None:
    """Fingers come down at the first places, move through the others, and are lifted."""
    devtools = page.context.new_cdp_session(page)
    for number, points in enumerate(moves):
        fingers = [point | {"id": finger} for finger, point in enumerate(points)]
        kind = "touchMove" if number else "touchStart"
        devtools.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": fingers})
    devtools.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def enlarged(page: Page) -> float:
    """How much larger a piece is shown than it was."""
    box = piece(page, 1).locator("polygon").bounding_box()
    assert box is not None
    return box["width"]


def test_by_touch_beside_another_tablet(page: Page, beveling: Operation) -> None:
    # The first wheel is chosen; a tap marks, and another one takes the mark off.
    piece(page, 1).tap()
    expect(piece(page, 1)).to_have_attribute("aria-label", "Piece 1, Red, coarse done, 1 of 5")
    piece(page, 1).tap()
    expect(piece(page, 1)).to_have_attribute("aria-checked", "false")
    # A stroke over several is one tap.
    page.locator("input[value=felt]").tap()
    one, two, four = (middle(page, number) for number in (1, 2, 4))
    touch(page, [one], [two], [four])
    expect(page.locator("#pieces-head .big")).to_have_text("1")
    expect(piece(page, 4)).to_have_attribute("data-part", "5")
    assert Tap.objects.count() == 3
    # Two fingers enlarge it and mark nothing, whichever comes down first.
    before = enlarged(page)
    touch(page, [one], [one, two], [{"x": one["x"] - 90, "y": one["y"]}, {"x": two["x"] + 90, "y": two["y"]}])
    assert enlarged(page) > 1.3 * before
    page.get_by_role("button", name="Whole").tap()
    expect(page.locator(".drawing")).to_have_attribute(
        "style", "transform: translate(0px, 0px) scale(1); will-change: auto; --k: 1;"
    )
    assert Tap.objects.count() == 3
    # What another tablet marks comes in, while pieces are being chosen here.
    page.locator("input[value=broke]").tap()
    piece(page, 2).tap()
    pattern = PieceMark.objects.values_list("pattern", flat=True)[0]
    mark_pieces(
        beveling,
        cast.person("Ilse"),
        pattern=pattern,
        numbers=[3],
        step="fine",
        by=Actor(),
        at=at(3, "10:00"),
    )
    expect(piece(page, 3)).to_have_attribute("data-part", "3")
    expect(piece(page, 2)).to_have_attribute("data-chosen", "")
    open_all(page)
    assert faults(page, least=LEAST_AT_THE_BENCH) == []
    page.set_viewport_size(TABLET)
    page.get_by_label("How").fill("slipped")
    page.get_by_role("button", name="Write down the breakage").tap()
    expect(page.get_by_text("Written down. New work: Beveling again, 1 piece").first).to_be_visible()
    expect(piece(page, 2)).to_have_attribute("data-part", "broken")
    assert BrokenPiece.objects.get().number == 2
    beveling.refresh_from_db()
    assert (beveling.quantity_done, beveling.quantity) == (2, 3)


def turn_the_wheel(page: Page) -> None:
    """It makes larger what lies under the mouse and smaller again; what is whole, it moves away with the page."""
    drawing, before = page.locator(".drawing"), enlarged(page)
    page.locator("#stage").scroll_into_view_if_needed()
    place, top = middle(page, 1), page.evaluate("scrollY")
    page.mouse.move(place["x"], place["y"])
    page.mouse.wheel(0, -120)
    expect(drawing).to_have_attribute("style", re.compile(r"scale\(1\.3\d+\); will-change: auto"))
    assert enlarged(page) == pytest.approx(1.35 * before, rel=0.01)
    assert middle(page, 1) == pytest.approx(place, abs=1)
    page.mouse.wheel(0, 120)
    expect(drawing).to_have_attribute(
        "style", re.compile(r"translate\(0px, 0px\) scale\(1\); will-change: auto")
    )
    assert page.evaluate("scrollY") == top
    page.mouse.wheel(0, 120)
    page.wait_for_function("top => scrollY > top", arg=top)
    assert not PieceMark.objects.filter(number=1).exists()


def test_by_keyboard_and_in_the_list(page: Page, beveling: Operation) -> None:
    page.locator("input[value=felt]").check(force=True)
    piece(page, 1).focus()
    page.keyboard.press("ArrowRight")
    expect(piece(page, 2)).to_be_focused()
    page.keyboard.press("Enter")
    expect(piece(page, 2)).to_have_attribute("aria-checked", "true")
    page.keyboard.press("ArrowDown")
    expect(piece(page, 4)).to_be_focused()
    page.keyboard.press(" ")
    expect(page.locator("#pieces-head .big")).to_have_text("2")
    before = enlarged(page)
    page.keyboard.press("+")
    page.keyboard.press("Shift+ArrowRight")
    expect(page.locator(".drawing")).to_have_attribute(
        "style", re.compile(r"translate\(-2\d\d.*scale\(1\.4\); will-change: auto; --k: 1\.4;")
    )
    page.keyboard.press("0")
    expect(page.locator(".drawing")).to_have_attribute(
        "style", "transform: translate(0px, 0px) scale(1); will-change: auto; --k: 1;"
    )
    assert enlarged(page) == pytest.approx(before)
    turn_the_wheel(page)
    row = page.locator(".piece-line", has_text="Red").first
    row.get_by_role("checkbox").check()
    page.get_by_role("button", name="Done", exact=True).click()
    expect(row).to_contain_text("done, all 5")
    expect(page.locator("#pieces-head .big")).to_have_text("1")
    beveling.refresh_from_db()
    assert beveling.quantity_done == 3


def test_with_the_line_cut_and_across_a_reload(page: Page, beveling: Operation) -> None:
    page.locator("input[value=felt]").tap()
    page.context.set_offline(True)
    touch(page, [middle(page, 1)], [middle(page, 2)])
    piece(page, 3).tap()
    piece(page, 3).tap()
    expect(page.locator("#outbox")).to_contain_text("3 taps wait to be sent")
    page.reload()
    expect(page.locator("#outbox")).to_contain_text("3 taps wait to be sent")
    expect(piece(page, 2)).to_have_attribute("data-part", "5")
    expect(piece(page, 3)).to_have_attribute("data-part", "4")
    assert not PieceMark.objects.exists()
    page.context.set_offline(False)
    all_sent(page)
    wait_until_acknowledged(page)
    expect(page.locator("#pieces-head .big")).to_have_text("2")
    beveling.refresh_from_db()
    assert (beveling.quantity_done, Tap.objects.count()) == (2, 3)
