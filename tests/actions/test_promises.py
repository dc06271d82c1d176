"""Giving a date to a customer: who told whom what, when and with which chance."""

from datetime import date, time
from decimal import Decimal
from typing import Any

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.base import SYSTEM
from jobs.actions.plan import replan
from jobs.actions.promises import OpenDays, chance_if_promised, give_promise, proposed_day
from jobs.models import (
    Account,
    ClosedDay,
    Event,
    ExtraHours,
    Job,
    Person,
    PlanState,
    Projection,
    Promise,
    Shift,
    Studio,
)
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")

NOW = at(2, "10:00")
FRIDAY = date(2026, 3, 6)


@pytest.fixture(autouse=True)
def few_futures(shop: None) -> None:
    state = PlanState.current()
    state.futures = 50
    state.save(update_fields=["futures"])


@pytest.fixture
def job() -> Job:
    job = cast.make_job()
    cast.make_panel(job)
    return job


@pytest.fixture
def emil(office: Account) -> Actor:
    return Actor(account=office)


def refusal(job: Job, by: Actor, **values: Any) -> Refused:
    typed = {"day": FRIDAY, "told": "Father Aurel", "reason": ""} | values
    before = Promise.objects.count()
    with pytest.raises(Refused) as caught:
        give_promise(job, typed["day"], typed["told"], by=by, at=NOW, reason=typed["reason"])
    assert Promise.objects.count() == before
    return caught.value


def test_a_promise_says_who_told_whom_when(job: Job, emil: Actor) -> None:
    before = PlanState.current().revision
    given = give_promise(job, FRIDAY, " Father Aurel ", by=emil, at=NOW)
    kept = Promise.objects.get()
    assert kept == given
    assert (kept.job, kept.day, kept.told, kept.given_by) == (job, FRIDAY, "Father Aurel", emil.account)
    assert (kept.given_at, kept.reason) == (NOW, "")
    assert PlanState.current().revision == before + 1
    event = Event.objects.get()
    assert (event.verb, event.job, event.account) == ("promised", job, emil.account)
    assert event.before == {}
    assert event.after == {"day": "2026-03-06", "told": "Father Aurel", "chance": str(kept.chance)}


def test_the_chance_is_kept_as_it_was(job: Job, emil: Actor) -> None:
    # 13 hours of work one after another: by Monday night hardly, in four weeks certainly.
    tonight = give_promise(job, date(2026, 3, 2), "Father Aurel", by=emil, at=NOW)
    assert Promise.objects.get(pk=tonight.pk).chance < Decimal("0.1")
    later = give_promise(job, date(2026, 3, 30), "Father Aurel", by=emil, at=NOW, reason="more glass")
    assert Promise.objects.get(pk=later.pk).chance == 1


def test_the_row_speaks_of_the_new_promise_at_once(job: Job, emil: Actor) -> None:
    replan(at=NOW)
    assert Projection.objects.get(job=job).chance is None
    given = give_promise(job, date(2026, 3, 2), "Father Aurel", by=emil, at=NOW)
    assert Projection.objects.get(job=job).chance == pytest.approx(float(given.chance), abs=0.001)


def test_a_job_that_cannot_be_planned_can_be_promised_without_a_chance(emil: Actor) -> None:
    job = cast.make_job("0413")
    cast.make_panel(job, kinds=("Blasting",))
    assert give_promise(job, FRIDAY, "Father Aurel", by=emil, at=NOW).chance is None


def test_a_promise_changes_the_order_that_its_chance_is_judged_by() -> None:
    """Two jobs for the same bench of one person: what is promised sooner is taken first."""
    Person.objects.filter(name="Ilse Roth").update(active=False)
    first, second = cast.make_job("0412"), cast.make_job("0413", wanted_by=date(2026, 3, 5))
    for job in (first, second):
        cast.make_panel(job, kinds=("Beveling",))
    tomorrow = date(2026, 3, 3)
    replan(at=NOW)
    assert Projection.objects.get(job=first).p80 > at(4)
    chance = chance_if_promised(first, tomorrow, at=NOW)
    assert chance is not None
    assert chance > 0.5


def test_a_changed_day_needs_its_reason_and_both_are_kept(job: Job, emil: Actor) -> None:
    give_promise(job, FRIDAY, "Father Aurel", by=emil, at=NOW)
    refused = refusal(job, emil, day=date(2026, 3, 9))
    assert (refused.field, refused.sentence) == (
        "reason",
        "Friday 6 March 2026 was promised before. Say why it changes.",
    )
    give_promise(job, date(2026, 3, 9), "Father Aurel", by=emil, at=NOW, reason="the glass came late")
    assert list(Promise.objects.values_list("day", "reason")) == [
        (FRIDAY, ""),
        (date(2026, 3, 9), "the glass came late"),
    ]
    event = Event.objects.filter(verb="promised").first()
    assert event is not None
    assert (event.before, event.why) == ({"day": "2026-03-06"}, "the glass came late")


def test_the_same_day_can_be_told_to_somebody_else(job: Job, emil: Actor) -> None:
    give_promise(job, FRIDAY, "Father Aurel", by=emil, at=NOW)
    give_promise(job, FRIDAY, "the verger", by=emil, at=NOW)
    assert Promise.objects.count() == 2


def test_the_same_promise_sent_twice_is_written_once(job: Job, emil: Actor) -> None:
    give_promise(job, FRIDAY, "Father Aurel", by=emil, at=NOW)
    assert refusal(job, emil).sentence == "Father Aurel was told Friday 6 March 2026 already."


def test_a_day_that_is_over_is_refused_and_today_is_not(job: Job, emil: Actor) -> None:
    refused = refusal(job, emil, day=date(2026, 2, 27))
    assert (refused.field, refused.sentence) == ("day", "Friday 27 February 2026 is over.")
    assert give_promise(job, date(2026, 3, 2), "Father Aurel", by=emil, at=NOW).day == date(2026, 3, 2)


def test_today_is_the_studios_own(job: Job, emil: Actor) -> None:
    # 23:30 UTC on Monday is Tuesday in Vienna.
    late = at(3, "00:30")
    with pytest.raises(Refused, match="Monday 2 March 2026 is over"):
        give_promise(job, date(2026, 3, 2), "Father Aurel", by=emil, at=late)


def test_a_day_far_off_is_refused(job: Job, emil: Actor) -> None:
    assert refusal(job, emil, day=date(2206, 3, 6)).sentence == "That is more than ten years from now."


def test_a_closed_day_is_refused_with_its_name(job: Job, emil: Actor) -> None:
    ClosedDay.objects.create(day=FRIDAY, name="stocktaking")
    ClosedDay.objects.create(day=date(2026, 3, 5))
    refused = refusal(job, emil)
    assert (refused.field, refused.sentence) == (
        "day",
        "The studio is closed on Friday 6 March 2026: stocktaking.",
    )
    closed = refusal(job, emil, day=date(2026, 3, 5))
    assert closed.sentence == "The studio is closed on Thursday 5 March 2026."


def test_a_day_on_which_nobody_works_is_refused(job: Job, emil: Actor) -> None:
    saturday = date(2026, 3, 7)
    assert refusal(job, emil, day=saturday).sentence == "Nobody works on Saturday 7 March 2026."
    ExtraHours.objects.create(person=cast.person("Mara"), day=saturday, start=time(8), stop=time(12))
    assert give_promise(job, saturday, "Father Aurel", by=emil, at=NOW).day == saturday


@pytest.mark.parametrize("told", ["", "  "])
def test_somebody_has_to_be_told(job: Job, emil: Actor, told: str) -> None:
    refused = refusal(job, emil, told=told)
    assert (refused.field, refused.sentence) == ("told", "Say who was told.")


def test_too_many_letters_are_refused(job: Job, emil: Actor) -> None:
    assert refusal(job, emil, told="x" * 81).field == "told"
    assert refusal(job, emil, reason="x" * 201).field == "reason"


@pytest.mark.parametrize(
    ("stage", "sentence"),
    [
        ("enquiry", "0412 is not ordered yet; only ordered work has a place in the plan."),
        ("quoted", "0412 is not ordered yet; only ordered work has a place in the plan."),
        ("complete", "0412 is closed (complete); there is nothing left to promise."),
        ("cancelled", "0412 is closed (cancelled); there is nothing left to promise."),
    ],
)
def test_only_ordered_work_is_promised(job: Job, emil: Actor, stage: str, sentence: str) -> None:
    Job.objects.filter(pk=job.pk).update(stage=stage)
    job.refresh_from_db()
    assert refusal(job, emil).sentence == sentence


def test_a_job_cancelled_meanwhile_is_refused(job: Job, emil: Actor) -> None:
    Job.objects.filter(pk=job.pk).update(stage="cancelled")
    assert "is closed" in refusal(job, emil).sentence


def test_the_bench_gives_no_dates(job: Job, tablet: Account) -> None:
    sentence = "Only the office gives dates to customers."
    assert refusal(job, Actor(account=tablet)).sentence == sentence
    assert refusal(job, SYSTEM).sentence == sentence


class TestProposedDay:
    def planned(self, job: Job) -> Job:
        replan(at=NOW)
        return Job.objects.select_related("projection").get(pk=job.pk)

    def test_it_is_the_day_with_the_studios_confidence(self, job: Job) -> None:
        found = self.planned(job)
        assert proposed_day(found, at=NOW) == found.projection.confident_day

    def test_a_surer_studio_proposes_no_sooner_a_day(self, job: Job) -> None:
        sooner = proposed_day(self.planned(job), at=NOW)
        Studio.objects.update(confidence=Decimal("0.99"))
        PlanState.objects.update(revision=99)
        later = proposed_day(self.planned(job), at=NOW)
        assert sooner is not None
        assert later is not None
        assert later >= sooner

    def test_it_is_a_day_on_which_the_studio_is_open(self, job: Job) -> None:
        found = self.planned(job)
        Projection.objects.filter(job=job).update(confident_day=date(2026, 3, 7))
        ClosedDay.objects.create(day=date(2026, 3, 9))
        found = Job.objects.select_related("projection").get(pk=job.pk)
        assert proposed_day(found, at=NOW) == date(2026, 3, 10)

    def test_it_is_not_in_the_past(self, job: Job) -> None:
        self.planned(job)
        Projection.objects.filter(job=job).update(confident_day=date(2026, 2, 20))
        found = Job.objects.select_related("projection").get(pk=job.pk)
        assert proposed_day(found, at=NOW) == date(2026, 3, 2)

    def test_without_a_plan_there_is_none(self, job: Job) -> None:
        assert proposed_day(job, at=NOW) is None


def test_a_studio_without_hours_is_open_save_for_its_closed_days() -> None:
    Shift.objects.all().delete()
    ClosedDay.objects.create(day=FRIDAY)
    days = OpenDays.read(FRIDAY, date(2026, 3, 20))
    assert days.why_closed(FRIDAY) is not None
    assert days.from_day(FRIDAY) == date(2026, 3, 7)
