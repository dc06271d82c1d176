"""The pages about papers in a browser: a new day's letter, what letters say, and the count of papers being made."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import Account, PlanState, Promise
from jobs.tasks import queue
from jobs.views import all_papers
from tests import cast
from tests.browser.looks import faults

pytestmark = pytest.mark.django_db(transaction=True)


def test_the_pages_about_papers_are_for_everybody(
    live_server: Any,
    lead: Account,
    signed_in: Any,
    settings: Any,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    settings.MEDIA_ROOT = str(tmp_path)
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 20})
    job = cast.make_job()
    cast.make_panel(job)
    now = timezone.now()
    for days, hours in ((30, 2), (40, 1)):
        day, given_at = timezone.localdate() + timedelta(days=days), now - timedelta(hours=hours)
        Promise.objects.create(job=job, day=day, given_at=given_at, given_by=lead, told="Ada")
    page = signed_in(lead)
    page.goto(live_server.url + reverse("letter-new-day", args=["0412"]))
    page.get_by_role("heading", name="A new day for 0412").wait_for()
    assert faults(page) == []
    page.goto(live_server.url + reverse("set-up-letters"))
    page.get_by_role("button", name="Save").first.wait_for()
    assert faults(page) == []
    # Every paper is one too many to be made at once, and nobody begins to make them.
    monkeypatch.setattr(all_papers, "AT_ONCE", 0)
    monkeypatch.setattr(queue, "start", lambda work: None)
    page.goto(live_server.url + reverse("paper-all", args=["0412"]))
    page.get_by_role("progressbar", name="Papers that are made").wait_for()
    assert faults(page) == []
