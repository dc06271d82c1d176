"""The bench with the line cut: in the middle of each tap, across a reload and a restart, and with a wrong clock."""

import re
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from playwright.sync_api import Page, Route, expect

from jobs.actions import Actor
from jobs.actions.bench import finish, start
from jobs.models import Account, Breakage, Hold, LateTap, Operation, Panel, Tap, TimeEntry
from tests import cast
from tests.bench_page.test_bench import Clock
from tests.bench_page.test_bench import clock as clock
from tests.cast import at

pytestmark = pytest.mark.django_db(transaction=True)
TABLET = {"width": 768, "height": 1024}


@pytest.fixture
def panel(transactional_db: None, tablet: Account, clock: Clock) -> Panel:
    """One panel that is cut and can be beveled, on a Tuesday at ten."""
    clock.time = at(3, "10:00")
    panel = cast.make_panel(cast.make_job())
    jonas = cast.person("Jonas")
    finish(cast.operation_of(panel, "Cutting"), jonas, by=Actor(person=jonas), at=at(2, "09:10"))
    return panel


@pytest.fixture
def beveling(panel: Panel) -> Operation:
    return cast.operation_of(panel, "Beveling")


@pytest.fixture
def page(browser: Any, signed_in: Any, tablet: Account, live_server: Any, panel: Panel) -> Iterator[Page]:
    context = browser.new_context(has_touch=True, viewport=TABLET)
    context.set_default_timeout(8_000)
    page = signed_in(tablet, context)
    come(page, live_server.url)
    yield page
    context.close()


def come(page: Page, url: str) -> None:
    """Mara taps her name, and the worker has the page, and that of the names before."""
    page.goto(f"{url}/bench/beveling/")
    until(page, """caches.match("/bench/beveling/?kept=names").then((found) => Boolean(found))""")
    page.get_by_role("button", name="Mara Lind").tap()
    page.get_by_role("button", name="Done here").wait_for()
    until(
        page,
        """caches.match("/bench/beveling/?kept=" + document.getElementById("bench").dataset.person)
            .then((found) => Boolean(found))""",
    )


def until(page: Page, promised: str) -> None:
    """Wait until a promise of the page's comes true; the page's own clock may stand still meanwhile."""
    give_up = time.monotonic() + 20
    while not page.evaluate(promised):
        assert time.monotonic() < give_up, promised
        time.sleep(0.05)


def press(page: Page, name: str) -> None:
    page.locator(".bench-now .work").first.get_by_role("button", name=name).first.tap()


def all_sent(page: Page) -> None:
    expect(page.locator("#outbox")).to_be_hidden()
    expect(page.locator("[data-waiting]")).to_have_count(0)


def test_a_shift_without_the_line_is_there_once_and_at_its_times(
    page: Page, beveling: Operation, clock: Clock
) -> None:
    page.context.set_offline(True)
    press(page, "Start")
    expect(page.locator(".work-waiting")).to_contain_text("not sent yet")
    press(page, "+1")
    press(page, "+5")
    expect(page.locator(".big").first).to_have_text("4")
    press(page, "Pause")
    expect(page.locator("#outbox")).to_contain_text("4 taps wait to be sent")
    page.reload()
    expect(page.locator("#outbox")).to_contain_text("4 taps wait to be sent")
    expect(page.locator(".big").first).to_have_text("4")
    press(page, "Go on")
    press(page, "Finish")
    assert not TimeEntry.objects.exists()
    page.context.set_offline(False)
    all_sent(page)
    beveling.refresh_from_db()
    assert beveling.quantity_done == 10
    assert beveling.finished_at is not None
    assert Tap.objects.count() == 6


def wait_until_acknowledged(page: Page) -> None:
    """Until the tablet's own list is empty."""
    until(
        page,
        """new Promise((resolve) => {
            const opening = indexedDB.open("studio-outbox");
            opening.onsuccess = () => {
                const count = opening.result.transaction("taps").objectStore("taps").count();
                count.onsuccess = () => { opening.result.close(); resolve(count.result === 0); };
            };
        })""",
    )


def cut(page: Page, times: int = 1, *, after: bool) -> list[int]:
    """Cut the line in the middle of the next posts: before the server has them, or after it and before its answer."""
    left = [times]

    def handle(route: Route) -> None:
        if route.request.method != "POST" or not left[0]:
            route.continue_()
            return
        left[0] -= 1
        if after:
            route.fetch()
        route.abort("connectionreset")

    page.context.route("**/bench/**", handle)
    return left


def hold_it(page: Page) -> None:
    page.locator(".work summary", has_text="Hold").tap()
    page.get_by_role("button", name="Glass missing").tap()


def break_it(page: Page) -> None:
    page.locator(".work summary", has_text="Broke a piece").tap()
    page.get_by_role("button", name="Write down the breakage").tap()


def running(beveling: Operation) -> None:
    mara = cast.person("Mara")
    start(beveling, mara, by=Actor(person=mara), at=at(3, "09:00"))


def held(beveling: Operation) -> None:
    from jobs.actions.holds import hold

    hold(beveling, "late glass", by=Actor(person=cast.person("Mara")), at=at(3, "09:00"))


def finished(beveling: Operation) -> None:
    mara = cast.person("Mara")
    finish(beveling, mara, by=Actor(person=mara), at=at(3, "09:00"))


# Of each tap of the bench: what has to be there first, how it is tapped, and what is there exactly once afterwards.
TAPS: dict[
    str, tuple[Callable[[Operation], None] | None, Callable[[Page], None], Callable[[Operation], bool]]
] = {
    "start": (None, lambda page: press(page, "Start"), lambda row: row.entries.count() == 1),
    "pause": (
        running,
        lambda page: press(page, "Pause"),
        lambda row: row.entries.get().stopped_at is not None,
    ),
    "pieces": (running, lambda page: press(page, "+5"), lambda row: row.quantity_done == 5),
    "finish": (running, lambda page: press(page, "Finish"), lambda row: row.finished_at is not None),
    "put-back": (running, lambda page: press(page, "Put back"), lambda row: row.keeper is None),
    "hold": (running, hold_it, lambda row: Hold.objects.filter(operation=row).count() == 1),
    "break": (running, break_it, lambda row: Breakage.objects.get(operation=row).pieces == 1),
    "reopen": (
        finished,
        lambda page: page.get_by_role("button", name="Not finished").last.tap(),
        lambda row: row.finished_at is None,
    ),
    "release": (
        held,
        lambda page: page.locator("[id^=bench-release-]").tap(),
        lambda row: not Hold.objects.filter(operation=row, released_at=None).exists(),
    ),
}


def test_what_the_server_has_already_is_counted_once_after_a_reload(page: Page, beveling: Operation) -> None:
    """Its answer is lost by the reload, and the one to sending it again is held back: the page shows it once."""
    running(beveling)
    page.reload()
    held: list[Route] = []

    def handle(route: Route) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        if not route.request.url.endswith("/outbox/"):
            route.fetch()
        held.append(route)

    page.context.route("**/bench/**", handle)
    press(page, "+1")
    for _ in range(200):
        if Tap.objects.count() == 1:
            break
        page.wait_for_timeout(50)
    page.reload()
    expect(page.locator("#outbox")).to_contain_text("1 tap waits to be sent")
    expect(page.locator(".big").first).to_have_text("9")
    for _ in range(200):
        if held[-1].request.url.endswith("/outbox/"):
            break
        page.wait_for_timeout(50)
    expect(page.locator(".big").first).to_have_text("9")
    held[-1].continue_()
    all_sent(page)
    expect(page.locator(".big").first).to_have_text("9")
    assert Tap.objects.count() == 1


@pytest.mark.parametrize("after", [False, True], ids=["before the server", "after the server"])
def test_a_line_cut_in_the_middle_of_any_tap_leaves_it_there_once(
    page: Page, live_server: Any, panel: Panel, clock: Clock, after: bool
) -> None:
    """Every tap is cut once on its way; it comes again by itself and is carried out once."""
    for number, (name, (before, tap, there)) in enumerate(TAPS.items(), start=2):
        panels = cast.make_panel(panel.job, number, kinds=("Beveling",))
        row = cast.operation_of(panels, "Beveling")
        Operation.objects.exclude(pk=row.pk).update(skipped=True)
        TimeEntry.objects.all().delete()
        if before:
            before(row)
        taps = Tap.objects.count()
        cache.clear()  # These rows came without an action.
        page.goto(f"{live_server.url}/bench/beveling/")
        expect(page.locator(f"[data-operation='{row.pk}']")).to_be_visible()
        cuts = cut(page, after=after)
        tap(page)
        expect(page.locator("#bench")).to_have_attribute("data-person", str(cast.person("Mara").pk))
        while cuts != [0]:
            page.wait_for_timeout(20)  # In which the browser's own events are handled.
        wait_until_acknowledged(page)
        all_sent(page)
        page.context.unroute("**/bench/**")
        row.refresh_from_db()
        assert there(row), name
        assert Tap.objects.count() == taps + 1, name
        assert not LateTap.objects.exists(), name


def test_a_restart_and_a_clock_that_is_hours_wrong_change_no_time(
    browser_type: Any,
    browser_type_launch_args: dict[str, Any],
    signed_in: Any,
    tablet: Account,
    live_server: Any,
    beveling: Operation,
    clock: Clock,
    tmp_path: Path,
) -> None:
    """The tablet's clock is five hours ahead, and after the restart nine behind; the studio's is what counts."""
    begun = clock.time
    context = browser_type.launch_persistent_context(
        str(tmp_path), has_touch=True, **browser_type_launch_args
    )
    page = signed_in(tablet, context)
    page.clock.install(time=begun + timedelta(hours=5))
    come(page, live_server.url)
    context.set_offline(True)
    page.clock.run_for("08:00")
    press(page, "Start")
    expect(page.locator(".work-waiting")).to_contain_text("since 10:08")
    page.clock.run_for("08:00")
    press(page, "+5")
    expect(page.locator("#outbox")).to_contain_text("2 taps wait")
    page.close()

    clock.time = begun + timedelta(hours=1)
    page = context.new_page()
    page.clock.install(time=begun - timedelta(hours=9))
    page.goto(f"{live_server.url}/bench/beveling/")
    expect(page.locator("#outbox")).to_contain_text("2 taps wait")
    press(page, "Pause")
    expect(page.locator("#outbox")).to_contain_text("3 taps wait")
    context.set_offline(False)
    clock.time = begun + timedelta(hours=1, minutes=5)
    page.clock.run_for("05:00")
    wait_until_acknowledged(page)
    entry = TimeEntry.objects.get(operation=beveling)
    seconds = [(entry.started_at - begun).total_seconds(), (entry.stopped_at - begun).total_seconds()]
    assert seconds == [pytest.approx(480, abs=30), pytest.approx(3600, abs=60)]
    assert entry.pieces_done == 5
    context.close()


def test_what_is_refused_comes_back_and_stays_until_it_is_answered(page: Page, beveling: Operation) -> None:
    ilse = cast.person("Ilse")
    page.context.set_offline(True)
    press(page, "Start")
    page.locator(".work summary", has_text="Set pieces").tap()
    page.get_by_label("Pieces done in all").fill("11")
    page.get_by_role("button", name="Set", exact=True).tap()
    expect(page.locator("#outbox")).to_contain_text("2 taps wait")
    start(beveling, ilse, by=Actor(person=ilse), at=at(3, "09:00"))
    page.context.set_offline(False)
    refused = page.locator(".outbox-refused li")
    expect(refused).to_contain_text("There are 10 pieces, 10 of them left to do.")
    assert LateTap.objects.filter(stands=False).count() == 1
    assert LateTap.objects.get(stands=True).sentence.startswith("Ilse Roth had it on the bench.")
    page.reload()
    expect(refused).to_contain_text("There are 10 pieces")
    seen = refused.get_by_role("button", name=re.compile("I have read it"))
    seen.focus()
    page.keyboard.press("Enter")
    all_sent(page)


def test_somebody_else_can_come_and_go_without_the_line(page: Page, beveling: Operation) -> None:
    """By keyboard: who has been at this tablet is known to it, whoever has not is told so."""
    page.context.set_offline(True)
    leave = page.get_by_role("button", name="Done here")
    leave.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Who is here?")).to_be_visible()
    page.get_by_role("button", name="Ilse Roth").press("Enter")
    expect(page.locator("#outbox")).to_contain_text("that page is not kept on this tablet")
    page.get_by_role("button", name="Mara Lind").press("Enter")
    page.locator(".bench-now .work").first.get_by_role("button", name="Start").press("Enter")
    expect(page.locator("#outbox")).to_contain_text("1 tap waits")
    page.context.set_offline(False)
    wait_until_acknowledged(page)
    assert TimeEntry.objects.get().person == cast.person("Mara")


def test_the_outbox_waits_for_the_sign_in_and_kept_pages_do_not_outlive_it(
    page: Page, signed_in: Any, tablet: Account, live_server: Any, beveling: Operation
) -> None:
    page.context.set_offline(True)
    press(page, "Start")
    expect(page.locator("#outbox")).to_contain_text("1 tap waits")
    page.context.clear_cookies()
    page.context.set_offline(False)
    expect(page.locator("#outbox")).to_contain_text("Nobody is signed in here any more.")
    page.get_by_role("link", name="Sign in").tap()
    page.get_by_role("heading", name="Sign in").wait_for()
    until(page, "caches.has('bench-pages').then((has) => !has)")
    assert not TimeEntry.objects.exists()
    page.get_by_label("Name").fill(tablet.username)
    page.get_by_label("Password").fill("long enough 1")
    page.get_by_role("button", name="Sign in").tap()
    expect(page.get_by_role("heading", name="Who is here?")).to_be_visible()
    wait_until_acknowledged(page)
    assert TimeEntry.objects.get().person == cast.person("Mara")
