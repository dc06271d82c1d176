"""The floor reminds of a day to promise once a quote is accepted."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from jobs.models import Account, Job, Promise, Quote, Stage
from tests import cast
from tests.cast import at
from tests.pages.plans import plan_job, settle

# Tuesday, 3 March 2026.
NOW = at(3, "10:00")


@pytest.fixture(autouse=True)
def tuesday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    settle(at(3, "09:45"))


def quoted(number: str, by: Account, when: datetime, state: str = "accepted", **values: Any) -> Job:
    """A job of one panel and its quote."""
    job = cast.make_job(number, f"Window {number}", **values)
    cast.make_panel(job)
    answered = {"answered_at": when, "answered_by": by} if state == "accepted" else {}
    Quote.objects.create(
        job=job,
        version=1,
        state=state,
        made_at=when,
        made_by=by,
        sent_at=when,
        sent_by=by,
        valid_until=date(2026, 4, 1),
        frozen={},
        if_approved_by=date(2026, 3, 10),
        ready_day=date(2026, 3, 27),
        confidence=Decimal("0.80"),
        **answered,
    )
    return job


def promised(job: Job, by: Account) -> Promise:
    return Promise.objects.create(
        job=job, day=date(2026, 3, 30), given_at=NOW, given_by=by, told="Father Aurel", chance="0.9"
    )


def page(client: Client) -> str:
    # These tests write rows by hand, without the events by which the page knows that something has changed.
    cache.clear()
    return client.get("/").content.decode()


def test_an_accepted_job_without_a_day_is_to_decide(office_client: Client, office: Account) -> None:
    plan_job(quoted("0412", office, at(2)), at(24), 0.9)
    quoted("0411", office, at(1))
    html = page(office_client)
    assert "2 to decide today" in html
    assert "2 accepted, no day promised" in html
    # Who has waited longer for a day comes first.
    assert html.index("0411 Window 0411") < html.index("0412 Window 0412")
    assert "accepted Mon 2 Mar" in html
    assert "the quote offered Fri 27 Mar" in html
    assert "80\xa0% by Tue 24 Mar" in html
    assert 'href="/dates/0412/promise/"' in html


def test_what_has_a_day_or_was_not_accepted_is_nothing_to_decide(
    lead_client: Client, office: Account
) -> None:
    promised(quoted("0411", office, at(2)), office)
    quoted("0412", office, at(2), state="sent", stage=Stage.QUOTED)
    quoted("0413", office, at(2), stage=Stage.COMPLETE, closed_at=NOW)
    # Ordered without a quote: it stands on the page of dates as not promised.
    cast.make_panel(cast.make_job("0414"))
    assert "Nothing needs a decision today" in page(lead_client)


def test_it_is_over_once_a_day_is_promised(office_client: Client, office: Account) -> None:
    job = quoted("0412", office, at(2))
    assert "no day promised" in page(office_client)
    office_client.post("/dates/0412/promise/", {"day": "2026-03-30", "told": "Father Aurel"})
    assert job.promises.count() == 1
    assert "no day promised" not in page(office_client)


def test_it_costs_one_query_and_only_while_a_job_has_no_promise(
    office_client: Client, office: Account
) -> None:
    def queries() -> list[str]:
        page(office_client)  # Prepared queries are put together the first time.
        cache.clear()
        with CaptureQueriesContext(connection) as seen:
            office_client.get("/")
        return [each["sql"] for each in seen.captured_queries]

    first, second = quoted("0412", office, at(2)), quoted("0413", office, at(2))
    about_quotes = [sql for sql in queries() if "jobs_quote" in sql]
    assert len(about_quotes) == 1
    promised(first, office)
    promised(second, office)
    assert not [sql for sql in queries() if "jobs_quote" in sql]
