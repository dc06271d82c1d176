"""Promises kept, and the dates looked back upon."""

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from jobs.actions.base import SYSTEM, record
from jobs.actions.look_back import LOOKED_BACK
from jobs.models import Account, Event, Job, Operation, Promise, Studio
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
NOW = datetime(2026, 3, 27, 8, tzinfo=ZoneInfo("Europe/Vienna"))


@pytest.fixture(autouse=True)
def friday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)


def kept(number: str, promised: list[int], finished: int, by: Account) -> Job:
    """A complete job, the days of March promised one after another, and the day it was finished."""
    when = datetime(2026, 3, finished, 15, tzinfo=NOW.tzinfo)
    job = cast.make_job(number, stage="complete", closed_at=when + timedelta(days=2))
    cast.make_panel(job, kinds=("Beveling",))
    Operation.objects.filter(job=job).update(finished_at=when)
    for place, day in enumerate(promised):
        Promise.objects.create(
            job=job,
            day=date(2026, 3, day),
            given_at=cast.at(2) + timedelta(hours=place),
            given_by=by,
            told="Father Aurel",
            chance="0.8",
        )
    return job


def test_no_promise_is_decided(office_client: Client) -> None:
    assert "No promised job is complete yet." in office_client.get("/dates/promises/").content.decode()


def test_promises_against_what_they_became(office_client: Client, office: Account) -> None:
    kept("0401", [10], 10, office)  # On its very day.
    kept("0402", [10, 20], 18, office)  # After a change.
    kept("0403", [10], 13, office)
    cast.make_job("0404", stage="complete", closed_at=NOW)  # Never promised.
    html = office_client.get("/dates/promises/").content.decode()
    assert "<strong>67\xa0%</strong> of 3 jobs" in html
    assert "<strong>33\xa0%</strong>" in html
    # Wilson's interval of 2 in 3 at 95 %: 0.208 to 0.939 (Wilson 1927, worked by hand).
    assert "between 21\xa0% and 94\xa0%" in html
    assert "1 of 3" in html
    assert "80\xa0% on average" in html
    assert "3 days late" in html
    assert "kept after a change" in html
    assert "0404" not in html


@pytest.mark.parametrize(
    ("promised", "finished", "words"),
    [
        ([10], 10, "the promise was kept"),
        ([10, 20], 18, "the last promise was kept, not the first"),
        ([10], 13, "3 days after the last promise"),
    ],
)
def test_the_promises_of_a_finished_job_say_what_became_of_them(
    office_client: Client, office: Account, promised: list[int], finished: int, words: str
) -> None:
    kept("0401", promised, finished, office)
    html = office_client.get("/dates/0401/promises/").content.decode()
    assert f"{finished} Mar:" in html
    assert words in html


def test_the_promises_of_an_open_job_say_nothing_of_an_end(office_client: Client, office: Account) -> None:
    Promise.objects.create(
        job=cast.make_job("0401"), day=date(2026, 3, 30), given_at=NOW, given_by=office, told="Father Aurel"
    )
    html = office_client.get("/dates/0401/promises/").content.decode()
    assert "Mon 30 Mar" in html
    assert "It was finished" not in html


def test_the_number_of_queries_does_not_grow(
    office_client: Client, office: Account, django_assert_num_queries: Any
) -> None:
    for number in range(60):
        kept(f"{number:04}", [10, 20], 18, office)
    with django_assert_num_queries(5):
        html = office_client.get("/dates/promises/").content.decode()
    assert "Page 1 of 2" in html


def found(jobs: int) -> dict[str, Any]:
    held = [{"level": level, "share": 0.6, "low": 0.5, "high": 0.7} for level in (0.5, 0.8, 0.95)]
    row = {"words": "all together", "jobs": jobs, "forecasts": 9, "compared": 0, "held": held}
    return {"jobs": jobs, "forecasts": 9, "enough": jobs >= 20, "weeks": 26, "rows": [row]}


def test_nobody_has_looked_back(office_client: Client) -> None:
    html = office_client.get("/dates/look-back/").content.decode()
    assert "Nobody has looked back yet." in html
    assert "Look back over 26 weeks" not in html


def test_what_was_found_is_shown(office_client: Client) -> None:
    record(LOOKED_BACK, Studio.current(), by=SYSTEM, at=NOW, after=found(30))
    html = office_client.get("/dates/look-back/").content.decode()
    assert html.count("too early") == 2  # Of 80 and 95 %; 50 % lies in the interval.
    assert html.count('<span class="kept">right</span>') == 1
    assert "nothing to compare with" in html


def test_too_little_history_is_said(office_client: Client) -> None:
    record(LOOKED_BACK, Studio.current(), by=SYSTEM, at=NOW, after=found(7))
    html = office_client.get("/dates/look-back/").content.decode()
    assert "too little to judge the dates by" in html
    assert "<table" not in html


def test_the_lead_looks_back(lead_client: Client) -> None:
    response = lead_client.post("/dates/look-back/now/", follow=True)
    assert "Looked back over 26 weeks." in response.content.decode()
    assert Event.objects.filter(verb=LOOKED_BACK).count() == 1


def test_who_and_how(office_client: Client, tablet_client: Client, client: Client) -> None:
    for url in ("/dates/promises/", "/dates/look-back/"):
        assert tablet_client.get(url).status_code == 403
        assert client.get(url).status_code == 302
        assert office_client.post(url).status_code == 405
    assert office_client.post("/dates/look-back/now/").status_code == 403
    assert office_client.get("/dates/look-back/now/").status_code in (403, 405)
