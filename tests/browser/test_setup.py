"""The set-up pages and signing in, in a browser: usable at every width, light and dark, and under the page's policy."""

from typing import Any

import pytest
from django.urls import reverse

from jobs.models import Account, DayOff, Person, Route, Studio
from tests import cast
from tests.browser.looks import axe, faults

PAGES = [
    ("set-up", ()),
    ("set-up-studio", ()),
    ("set-up-stations", ()),
    ("set-up-people", ()),
    ("set-up-person", ("mara",)),
    ("set-up-closed-days", ()),
    ("set-up-holidays", (2026,)),
    ("set-up-accounts", ()),
    ("set-up-account", ("lead",)),
    ("password", ()),
]


@pytest.fixture
def complaints() -> list[str]:
    return []


@pytest.fixture
def lead_page(transactional_db: None, lead: Account, signed_in: Any, complaints: list[str]) -> Any:
    Studio.objects.update(country="AT")
    Person.objects.create(name="Otto Prax")
    off = cast.at(9, year=2099).date()
    DayOff.objects.create(person=cast.person("Mara"), first=off, last=off, reason="fair")
    page = signed_in(lead)
    page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    return page


def address(live_server: Any, name: str, args: tuple[Any, ...]) -> str:
    keys = {"mara": lambda: cast.person("Mara").pk, "lead": lambda: Account.objects.get(username="lead").pk}
    return f"{live_server.url}{reverse(name, args=[keys.get(arg, lambda arg=arg: arg)() for arg in args])}"


def test_the_pages_are_for_everybody(live_server: Any, lead_page: Any, complaints: list[str]) -> None:
    for name, args in PAGES:
        assert lead_page.goto(address(live_server, name, args)).status == 200
        assert faults(lead_page) == []
    assert complaints == []


def test_signing_in(live_server: Any, page: Any, transactional_db: None, lead: Account) -> None:
    page.goto(f"{live_server.url}{reverse('sign-in')}?next=/set-up/")
    assert faults(page) == []
    page.get_by_label("Name").fill("lead")
    page.get_by_label("Password").fill("wrong")
    page.get_by_role("button", name="Sign in").click()
    assert page.get_by_text("do not go together").is_visible()
    assert axe(page) == []
    assert page.get_by_label("Name").input_value() == "lead"
    page.get_by_label("Password").fill("long enough 1")
    page.get_by_role("button", name="Sign in").click()
    assert page.get_by_role("heading", name="Set-up", level=1).is_visible()


def test_a_refused_week_is_said_beside_its_day(live_server: Any, lead_page: Any) -> None:
    lead_page.goto(address(live_server, "set-up-person", ("mara",)))
    lead_page.get_by_label("Wednesday").fill("8:00-12:00, 11:00-13:00")
    lead_page.get_by_role("button", name="Save the hours").click()
    wednesday = lead_page.get_by_label("Wednesday")
    assert wednesday.get_attribute("aria-invalid") == "true"
    said = lead_page.locator(f"#{wednesday.get_attribute('aria-describedby')}")
    assert "08:00-12:00 and 11:00-13:00 overlap" in said.inner_text()
    assert axe(lead_page) == []


def test_too_many_tries_are_told_to_everybody(
    live_server: Any, page: Any, transactional_db: None, lead: Account, settings: Any
) -> None:
    settings.AXES_ENABLED, settings.AXES_FAILURE_LIMIT = True, 1
    page.goto(f"{live_server.url}{reverse('sign-in')}")
    page.get_by_label("Name").fill("lead")
    page.get_by_label("Password").fill("wrong")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Too many tries").wait_for()
    assert faults(page) == []


def test_the_admin_works_under_the_policy(
    live_server: Any, lead_page: Any, complaints: list[str], route_page: str
) -> None:
    for part in ("", "jobs/route/", "jobs/operationkind/", "jobs/event/", "jobs/person/"):
        assert lead_page.goto(f"{live_server.url}/admin/{part}").status == 200
        # The page of the framework: axe alone, since its sizes and its overflow are not ours.
        assert axe(lead_page) == []
    lead_page.goto(f"{live_server.url}{route_page}")
    lead_page.locator(".select2-selection").first.wait_for()
    assert axe(lead_page) == []
    lead_page.locator(".add-row a").click()
    lead_page.locator(".dynamic-steps .select2-selection").last.click()
    option = lead_page.locator(".select2-results__option", has_text="Lamination")
    option.wait_for()
    assert axe(lead_page) == []
    option.click()
    assert complaints == []


@pytest.fixture
def route_page(lead_page: Any) -> str:
    return reverse("admin:jobs_route_change", args=[Route.objects.get().pk])
