"""The dates page: who has to be called, and giving a date."""

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions.plan import replan
from jobs.models import Account, Hold, Job, PlanState, Projection, Promise, Quote, QuoteState
from jobs.views.date_rows import Axis, in_words, read_axis, short
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")

# A Monday morning in Vienna, fixed for every test of this file.
NOW = datetime(2026, 3, 2, 10, tzinfo=ZoneInfo("Europe/Vienna"))


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 50})


@pytest.fixture
def job() -> Job:
    job = cast.make_job()
    cast.make_panel(job)
    return job


def promise(job: Job, day: date, by: Account, told: str = "Father Aurel") -> Promise:
    return Promise.objects.create(
        job=job, day=day, given_at=NOW - timedelta(days=9), given_by=by, told=told, chance=0.9
    )


def page(client: Client) -> str:
    response = client.get(reverse("dates"))
    assert response.status_code == 200
    return response.content.decode()


def test_no_job_is_open(office_client: Client) -> None:
    assert "No job is open" in page(office_client)


def test_a_promise_at_risk_stands_first(office_client: Client, office: Account, job: Job) -> None:
    promise(job, date(2026, 3, 2), office)  # Twelve hours of work by tonight.
    sure = cast.make_job("0411", "Porch light")
    cast.make_panel(sure)
    promise(sure, date(2026, 4, 24), office)
    cast.make_panel(cast.make_job("0410", "Fan light"))
    html = page(office_client)
    assert "Call these customers: 1 promise at risk" in html
    assert "as good as missed" in html
    assert "Not promised yet: 1" in html
    assert "On course: 1" in html
    assert html.index("Hall window") < html.index("Fan light") < html.index("Porch light")


def test_nobody_has_to_be_called(office_client: Client, office: Account, job: Job) -> None:
    promise(job, date(2026, 4, 24), office)
    html = page(office_client)
    assert "no promise is at risk" in html
    assert "100\xa0%, safe" in html


def test_a_doubtful_promise_says_since_when_and_why(office_client: Client, office: Account, job: Job) -> None:
    promise(job, date(2026, 3, 2), office)
    html = page(office_client)
    assert "Doubtful since today. Mostly its own work: Cutting, Beveling and Assembly." in html


def test_a_promise_that_has_passed_is_overdue(office_client: Client, office: Account, job: Job) -> None:
    promise(job, date(2026, 2, 27), office)
    assert "overdue" in page(office_client)


def test_a_row_says_its_days_and_draws_them(office_client: Client, job: Job) -> None:
    html = page(office_client)
    kept = Projection.objects.get(job=job)
    for share, when in (("50\xa0%", kept.p50), ("80\xa0%", kept.p80), ("95\xa0%", kept.p95)):
        words = short(when.astimezone(NOW.tzinfo).date(), NOW.date())
        assert f"<dt>{share}</dt><dd>{words}</dd>" in html
    assert 'class="window-bar"' in html


def test_a_row_says_what_it_waits_for(office_client: Client, job: Job) -> None:
    cast.make_gate(job, "drawing", expected=date(2026, 3, 9))
    cast.make_gate(job, "glass", expected=date(2026, 2, 20))
    cast.make_gate(job, "deposit")
    cast.make_gate(job, "measured", cleared=date(2026, 2, 20))
    panel = job.panels.get()
    hold = {"since": NOW, "held_by": "Nora"}
    Hold.objects.create(operation=cast.operation_of(panel, "Beveling"), reason="wheel is worn", **hold)
    Hold.objects.create(panel=panel, reason="crack seen", **hold)
    Hold.objects.create(job=job, reason="customer thinks", released_at=NOW, **hold)
    html = page(office_client)
    assert "drawing approved: expected Mon 9 Mar" in html
    assert "glass in: was expected Fri 20 Feb" in html
    assert "deposit in: no day given" in html
    assert "measured on site" not in html
    assert "Beveling of Light 1 held: wheel is worn" in html
    assert "Light 1 held: crack seen" in html
    assert "customer thinks" not in html
    assert "held without a day to go on" in html


def test_a_job_that_cannot_be_planned_is_named(office_client: Client, office: Account) -> None:
    job = cast.make_job("0413", "Carved screen")
    cast.make_panel(job, kinds=("Blasting",))
    promise(job, date(2026, 4, 24), office)
    html = page(office_client)
    assert "no date" in html
    assert "nobody works at Blasting" in html
    assert "1 promise at risk" in html


def test_the_page_says_how_old_its_dates_are(office_client: Client, job: Job) -> None:
    replan(at=NOW)
    assert ">10:00</time>" in page(office_client)
    PlanState.objects.update(revision=99)
    assert "being renewed" in page(office_client)


@pytest.mark.parametrize("jobs", [2, 40])
def test_the_number_of_queries_does_not_grow(
    office_client: Client, office: Account, jobs: int, django_assert_num_queries: Any
) -> None:
    for number in range(jobs):
        job = cast.make_job(f"{number:04}")
        panel = cast.make_panel(job)
        promise(job, date(2026, 4, 24), office)
        cast.make_gate(job, "drawing")
        Hold.objects.create(panel=panel, reason="crack seen", since=NOW, held_by="Nora")
    replan(at=NOW)
    with django_assert_num_queries(9):
        page(office_client)


def test_who_may_look(tablet_client: Client, client: Client, lead_client: Client, job: Job) -> None:
    for name, args in (("dates", []), ("promise-give", ["0412"]), ("promises", ["0412"])):
        url = reverse(name, args=args)
        assert tablet_client.get(url).status_code == 403
        assert client.get(url).status_code == 302
        assert lead_client.get(url).status_code == 200


def test_wrong_methods(office_client: Client, job: Job) -> None:
    assert office_client.post(reverse("dates")).status_code == 405
    assert office_client.post(reverse("promises", args=["0412"])).status_code == 405
    assert office_client.delete(reverse("promise-give", args=["0412"])).status_code == 405


def test_a_job_that_is_not_there(office_client: Client) -> None:
    assert office_client.get(reverse("promise-give", args=["9999"])).status_code == 404
    assert office_client.get(reverse("promises", args=["9999"])).status_code == 404


def test_who_gives_a_date_reads_what_the_quote_offered(
    office_client: Client, office: Account, job: Job
) -> None:
    offered = {"ready_day": date(2026, 5, 8), "if_approved_by": date(2026, 3, 6), "confidence": 0.8}
    made = {"made_at": NOW, "made_by": office, "sent_at": NOW, "sent_by": office, "frozen": {}}
    row = Quote.objects.create(
        job=job, version=1, state=QuoteState.SENT, valid_until=date(2026, 4, 1), **made, **offered
    )
    url = reverse("promise-give", args=["0412"])
    assert "offered" not in office_client.get(url).content.decode()
    Quote.objects.filter(pk=row.pk).update(state=QuoteState.ACCEPTED, answered_at=NOW, answered_by=office)
    html = office_client.get(url).content.decode()
    assert "Quote version 1 offered Fri 8 May, if approved and paid by Fri 6 Mar." in html


class TestGivingADate:
    url = "/dates/0412/promise/"
    typed = {"day": "2026-03-16", "told": "Father Aurel"}

    def test_the_form_proposes_the_day_that_holds(self, office_client: Client, job: Job) -> None:
        replan(at=NOW)
        html = office_client.get(self.url).content.decode()
        kept = Projection.objects.get(job=job)
        assert f'value="{kept.confident_day}"' in html
        assert "Why it changes" not in html

    def test_without_javascript_it_is_a_page_and_goes_back_to_the_dates(
        self, office_client: Client, office: Account, job: Job
    ) -> None:
        response = office_client.post(self.url, self.typed, follow=True)
        assert response.redirect_chain == [("/dates/", 302)]
        assert "The promise for 0412 is written down." in response.content.decode()
        given = Promise.objects.get()
        assert (given.day, given.told, given.given_by) == (date(2026, 3, 16), "Father Aurel", office)

    def test_with_htmx_the_row_is_answered_anew(self, office_client: Client, job: Job) -> None:
        replan(at=NOW)
        form = office_client.get(self.url, headers={"HX-Request": "true"}).content.decode()
        assert "<html" not in form
        response = office_client.post(self.url, self.typed, headers={"HX-Request": "true"})
        assert response["HX-Retarget"] == f"#job-{job.pk}"
        html = response.content.decode()
        assert html.lstrip().startswith("<li")
        assert "Told Father Aurel: Mon 16 Mar" in html
        assert "100\xa0%, safe" in html

    def test_what_is_refused_stands_beside_what_was_typed(self, office_client: Client, job: Job) -> None:
        response = office_client.post(self.url, self.typed | {"day": "2026-03-14"})
        assert response.status_code == 422
        html = response.content.decode()
        assert "Nobody works on Saturday 14 March 2026." in html
        assert 'value="2026-03-14"' in html
        assert 'value="Father Aurel"' in html
        assert not Promise.objects.exists()

    @pytest.mark.parametrize(
        "typed",
        [
            {},
            {"day": "soon", "told": "x"},
            {"day": "2026-03-16", "told": ""},
            {"day": "2026-03-16", "told": "a\0b"},
        ],
    )
    def test_bad_input(self, office_client: Client, job: Job, typed: dict[str, str]) -> None:
        assert office_client.post(self.url, typed).status_code == 422
        assert not Promise.objects.exists()

    def test_a_change_asks_for_its_reason(self, office_client: Client, office: Account, job: Job) -> None:
        promise(job, date(2026, 3, 20), office)
        response = office_client.post(self.url, self.typed)
        assert response.status_code == 422
        assert "Say why it changes." in response.content.decode()
        assert office_client.post(self.url, self.typed | {"reason": "glass came early"}).status_code == 302
        assert Promise.objects.count() == 2

    def test_a_closed_job_is_refused(self, office_client: Client, job: Job) -> None:
        Job.objects.filter(pk=job.pk).update(stage="complete")
        response = office_client.post(self.url, self.typed)
        assert response.status_code == 422
        assert "there is nothing left to promise" in response.content.decode()


def test_the_promises_of_a_job(office_client: Client, office: Account, job: Job) -> None:
    assert "Nobody has been told a date" in office_client.get("/dates/0412/promises/").content.decode()
    promise(job, date(2026, 3, 20), office)
    promise(job, date(2026, 3, 27), office, told="the verger")
    html = office_client.get("/dates/0412/promises/").content.decode()
    assert html.index("Father Aurel") < html.index("the verger")
    assert "90\xa0%" in html
    assert "Emil Horn" in html


@pytest.mark.parametrize(
    ("chance", "words"),
    [(1, "safe"), (0.8, "likely"), (0.7, "rather likely"), (0.5, "even"), (0.2, "unlikely"), (None, "")],
)
def test_a_chance_in_words(chance: float | None, words: str) -> None:
    assert in_words(chance) == words


def test_the_year_is_said_of_distant_days_only() -> None:
    assert short(date(2026, 12, 7), date(2026, 3, 2)) == "Mon 7 Dec"
    assert short(date(2027, 3, 1), date(2026, 3, 2)) == "Mon 1 Mar 2027"


class TestAxis:
    def test_its_ticks_are_mondays_and_its_months_stand_once(self) -> None:
        axis = Axis(date(2026, 12, 7), date(2027, 2, 15))
        assert [mark.words for mark in axis.mondays] == [
            *("7", "14", "21", "28", "4", "11", "18", "25", "1", "8"),
            "",
        ]
        assert [mark.words for mark in axis.months] == ["Dec 2026", "Jan 2027", "Feb"]
        assert axis.mondays[0].place == 0
        assert axis.mondays[-1].place == 100

    def test_a_month_without_room_for_its_name_is_left_to_the_next(self) -> None:
        axis = Axis(date(2026, 11, 23), date(2027, 2, 15))
        assert [mark.words for mark in axis.months] == ["Dec 2026", "Jan 2027", "Feb"]

    def test_days_beyond_it_lie_at_its_ends(self) -> None:
        axis = Axis(date(2026, 12, 7), date(2027, 2, 15))
        assert (axis.place(date(2026, 1, 1)), axis.place(date(2030, 1, 1))) == (0, 100)

    def test_it_covers_what_is_open_and_no_more_than_half_a_year(self, office: Account, job: Job) -> None:
        short_one = read_axis(NOW)
        assert (short_one.first, short_one.last) == (date(2026, 3, 2), date(2026, 4, 6))
        promise(job, date(2026, 2, 25), office)
        assert read_axis(NOW).first == date(2026, 2, 23)
        promise(job, date(2029, 2, 23), office)
        assert read_axis(NOW).last == date(2026, 9, 7)


def test_the_page_of_a_promise_says_how_old_its_dates_are(office_client: Client) -> None:
    cast.make_panel(cast.make_job("0499"))
    assert "No dates yet" in office_client.get("/dates/0499/promise/").content.decode()
