"""Hundreds of open jobs: the floor asks each question of the plan once, and the dates are shown by pages."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from jobs.models import Account, Job, PlanState, Promise
from jobs.models.plan_asks import grouped
from jobs.views.date_pages import PAGE
from tests import cast
from tests.pages.plans import settle
from tests.pages.test_floor import words

pytestmark = pytest.mark.usefixtures("shop")

MANY = PAGE + 5
SAID = "nobody works at Blasting, where Blasting is done."


def shown(client: Client, asked: str = "") -> str:
    response = client.get(f"/dates/{asked}")
    assert response.status_code == 200
    return response.content.decode()


@pytest.fixture
def jobs(office: Account) -> list[Job]:
    """The last of many is promised for yesterday; the plan says the same of the first three."""
    found = [cast.make_job(f"{number:04}", f"Window {number}") for number in range(MANY)]
    yesterday = timezone.localdate() - timedelta(days=1)
    Promise.objects.create(
        job=found[-1], day=yesterday, given_at=timezone.now(), given_by=office, told="Aurel", chance=0.9
    )
    say([(job.pk, f"{job.number}: {SAID}") for job in [*found[:3], found[0]]])
    return found


def say(said: list[tuple[int | None, str]]) -> PlanState:
    state = settle(timezone.now())
    state.problems = [{"sentence": sentence, "job": job, "operation": None} for job, sentence in said]
    state.save()
    return state


class TestTheFloor:
    def test_what_is_said_of_many_jobs_is_one_thing_to_decide(
        self, lead_client: Client, jobs: list[Job]
    ) -> None:
        html = lead_client.get("/").content.decode()
        # The promise that is broken, and the question.
        assert "2 to decide today" in html
        assert "Nobody works at Blasting, where Blasting is done. See all 3 jobs" in words(html)
        assert "0000: nobody" not in html

    def test_its_link_leads_to_these_jobs(self, lead_client: Client, jobs: list[Job]) -> None:
        (asks,) = grouped(PlanState.current().problems, {job.pk: job.number for job in jobs})
        assert asks.url in lead_client.get("/").content.decode()
        html = lead_client.get(asks.url).content.decode()
        assert f"The plan says of 3 jobs: {SAID}" in html
        assert [job.number for job in jobs if f">{job.number}</a>" in html] == ["0000", "0001", "0002"]
        assert html.count(f"<li>{SAID}</li>") == 3

    def test_what_is_said_of_one_job_names_it(self) -> None:
        asked = grouped(
            [
                {"sentence": "0401: its window cannot be cut.", "job": 1, "operation": 5},
                {"sentence": "0402: Cutting has no station.", "job": 2, "operation": 6},
                {"sentence": "0403: Cutting has no station.", "job": 3, "operation": 7},
                {"sentence": "“glass in” is never cleared.", "job": None},
            ],
            {1: "0401", 2: "0402", 3: "0403"},
        )
        assert [(str(each), each.jobs) for each in asked] == [
            ("0401: its window cannot be cut.", 1),
            ("Cutting has no station.", 2),
            ("“glass in” is never cleared.", 0),
        ]

    def test_jobs_that_are_closed_keep_their_sentence(self) -> None:
        said = [{"sentence": f"040{n}: Cutting has no station.", "job": n} for n in (1, 2)]
        assert [str(each) for each in grouped(said, {})] == [each["sentence"] for each in said]


class TestTheDates:
    def test_a_page_at_a_time_at_risk_first(self, office_client: Client, jobs: list[Job]) -> None:
        first, second = shown(office_client), shown(office_client, "?page=2")
        assert first.count('<li class="date-row') == PAGE
        assert second.count('<li class="date-row') == MANY - PAGE
        assert first.index(f"Window {MANY - 1}<") < first.index("Window 0<")
        assert "Call these customers: 1 promise at risk" in first
        assert f"Not promised yet: {MANY - 1}" in first
        assert "Call these customers" not in second
        assert "Nobody has to be called" not in second
        assert f"{PAGE + 1} to {MANY} of {MANY}" in second

    def test_the_filter_stays_in_the_address(self, office_client: Client, jobs: list[Job]) -> None:
        html = shown(office_client, "?show=not-promised")
        assert 'href="/dates/?show=not-promised&amp;page=2"' in html
        assert 'href="/dates/?show=not-promised" aria-current="page"' in html
        assert "at risk</h2>" not in html
        assert shown(office_client, "?show=at-risk").count('<li class="date-row') == 1
        assert shown(office_client, "?show=asked").count('<li class="date-row') == 3

    @pytest.mark.parametrize("asked", ["?show=on-course", "?says=Nothing+of+the+kind"])
    def test_a_filter_that_finds_nothing(self, office_client: Client, jobs: list[Job], asked: str) -> None:
        html = shown(office_client, asked)
        assert "No job is like that" in html
        assert "Nobody has to be called" not in html

    def test_an_address_that_asks_for_what_is_not(self, office_client: Client, jobs: list[Job]) -> None:
        assert f"1 to {PAGE} of {MANY}" in shown(office_client, "?page=x&show=nonsense")
        # A page beyond the last is the last.
        assert f"{PAGE + 1} to {MANY} of {MANY}" in shown(office_client, "?page=99")

    def test_a_short_list_has_neither_pages_nor_filter(self, office_client: Client) -> None:
        cast.make_job("0412")
        say([])
        html = shown(office_client)
        assert "Which jobs are shown" not in html
        assert "Pages of the list" not in html

    def test_the_number_of_queries_is_the_same(
        self, office_client: Client, office: Account, jobs: list[Job], django_assert_num_queries: Any
    ) -> None:
        for job in jobs[:-1]:
            cast.make_gate(job, "drawing", expected=date(2099, 1, 1))
        for asked in ("", "?page=2", "?show=asked"):
            with django_assert_num_queries(9):
                shown(office_client, asked)
