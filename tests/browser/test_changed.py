"""Something changed, in a browser: looked at, and done without JavaScript."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from jobs.models import Account, DayChange, PlanState, Station
from tests import cast
from tests.browser.looks import faults

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_machine_is_down_and_up_again_without_javascript(
    live_server: Any, signed_in: Any, lead: Account, browser: Any
) -> None:
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 20})
    job = cast.make_job(wanted_by=timezone.localdate() + timedelta(days=3))
    cast.make_panel(job)
    cast.make_panel(job, 2)
    bare = browser.new_context(java_script_enabled=False)
    page = signed_in(lead, bare)
    page.goto(live_server.url)
    page.get_by_role("link", name="Something changed").click()
    page.get_by_role("link", name="A machine is down").click()
    page.get_by_label("At which station").select_option(str(Station.objects.get(name="Beveling").pk))
    page.get_by_label("Which machine or bench").fill("wheel 3")
    page.get_by_label("How many benches").fill("2")
    until = timezone.localdate() + timedelta(days=6)
    page.get_by_label("Down until the end of").fill(f"{until:%Y-%m-%d}")
    page.get_by_role("button", name="Which dates move?").click()
    expect(page.get_by_role("heading", name="1 job later, 0 earlier")).to_be_visible()
    seen = signed_in(lead)
    for address in (page.url, f"{live_server.url}/changed/", f"{live_server.url}/changed/saturday/"):
        seen.goto(address)
        assert faults(seen) == []
    page.get_by_role("button", name="Confirm").click()
    expect(page.get_by_text("wheel 3 (Beveling) is down", exact=True)).to_be_visible()
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_text("Taken back.")).to_be_visible()
    assert not DayChange.objects.filter(ended_at=None).exists()
    bare.close()
