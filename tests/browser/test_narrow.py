"""Every main page with long names on a phone (390 px) and at 200 % zoom (640 px of layout on a desk of 1280 px), and
the way through the pages by keyboard alone."""

from datetime import date
from typing import Any

import pytest

from jobs.models import Account, Customer, DayChange, Hold, Operation, Person, Station, Studio, TimeEntry
from tests import cast
from tests.pages.plans import settle

pytestmark = pytest.mark.django_db(transaction=True)

LONG = "Donaudampfschifffahrtsgesellschaftskapitaensbild of the Two Rivers and Three Lakes"
PAGES = [
    "/",
    "/panels/",
    "/panels/?waits=cutting",
    "/jobs/",
    "/jobs/0412/",
    "/jobs/0412/1/",
    "/jobs/0412/materials/",
    "/jobs/0412/quotes/",
    "/materials/",
    "/mail/",
    "/dates/",
    "/dates/load/",
    "/dates/what-if/",
    "/records/",
    "/rates/",
    "/hours/",
    "/hours/week/",
    "/bench/",
    "/bench/cutting/",
    "/changed/",
    "/changed/ill/",
    "/changed/moved/",
    "/changed/down/",
    "/changed/late/",
    "/changed/rush/",
    "/changed/saturday/",
    "/set-up/",
    "/set-up/people/",
    "/set-up/stations/",
    "/set-up/accounts/",
]
# What an outline of the focus has to be, and that it is on the screen.
FOCUS = """() => {
    const one = document.activeElement, is = one.getBoundingClientRect(), style = getComputedStyle(one);
    return {
        words: one.textContent.trim(),
        outlined: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
        seen: is.width > 0 && is.left >= -1 && is.right <= innerWidth + 1,
    };
}"""


@pytest.fixture
def long_names(lead: Account) -> Account:
    """A studio in which everything is called as long as it may be."""
    Studio.objects.update(name=LONG[:60])
    Person.objects.filter(name__startswith="Mara").update(name=LONG[:60])
    Station.objects.filter(name="Cutting").update(name=LONG[:40])
    job = cast.make_job(title=LONG, wanted_by=date(2026, 3, 20))
    Customer.objects.update(name=LONG, phone="+43 1 2345 6789 0123")
    panel = cast.make_panel(job, name=LONG[:80], where=LONG[:60])
    cutting = cast.operation_of(panel, "Cutting")
    mara = Person.objects.get(name=LONG[:60])
    Operation.objects.filter(pk=cutting.pk).update(keeper=mara, label=LONG[:60])
    TimeEntry.objects.create(person=mara, operation=cutting, started_at=cast.at(2))
    Hold.objects.create(job=job, reason=LONG, since=cast.at(2), held_by=LONG[:80])
    DayChange.objects.create(
        kind="down",
        station=Station.objects.get(slug="cutting"),
        what=LONG[:40],
        why=LONG,
        since=cast.at(2),
        until=date(2100, 1, 1),
        written_by="Nora",
    )
    settle(cast.at(2, "08:00", year=2100), problems=(LONG,))
    return lead


def test_nothing_runs_off_a_phone_or_a_page_at_twice_its_size(
    live_server: Any, signed_in: Any, long_names: Account
) -> None:
    page = signed_in(long_names)
    wide = []
    for address in PAGES:
        answer = page.goto(f"{live_server.url}{address}")
        assert answer.status == 200, address
        for width in (390, 640):
            page.set_viewport_size({"width": width, "height": 800})
            found = page.evaluate("document.documentElement.scrollWidth")
            if found > width:
                wide.append(f"{address} is {found} px wide at {width}")
    assert wide == []


def test_by_keyboard_alone_the_focus_is_always_seen(
    live_server: Any, signed_in: Any, long_names: Account
) -> None:
    page = signed_in(long_names)
    page.set_viewport_size({"width": 390, "height": 800})
    page.goto(f"{live_server.url}/set-up/")
    # The page that is open is among those that are seen, though it is the last of them.
    here = page.locator(".nav [aria-current]").bounding_box()
    assert here is not None
    assert here["x"] >= 0
    assert here["x"] + here["width"] <= 390
    walked = []
    for _ in range(12):
        page.keyboard.press("Tab")
        focus = page.evaluate(FOCUS)
        assert focus["outlined"], focus["words"]
        assert focus["seen"], focus["words"]
        walked.append(focus["words"])
    assert walked[0] == "Skip to the page"
    assert walked[2:] == [
        *("Floor", "Panels", "Jobs", "Materials", "Mail", "Dates", "Records", "Bench", "Hours", "Set-up")
    ]
    for _ in ("their own account", "Sign out", "the first part of the page"):
        page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('.part-nav') !== null")
