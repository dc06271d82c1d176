"""A promise that becomes doubtful is reported once, with its reason."""

from datetime import date, timedelta

import pytest

from jobs.actions.base import mark_out_of_date
from jobs.actions.plan import replan
from jobs.actions.slipping import AT_ONCE, SLIPPED, newly_doubtful
from jobs.models import Account, Event, Job, Mail, Operation, PlanState, Projection, Promise, Studio
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
NOW = at(2, "08:00")


def promised(number: str, day: date, by: Account) -> Job:
    job = cast.make_job(number)
    cast.make_panel(job, kinds=("Assembly",))
    Promise.objects.create(job=job, day=day, given_at=at(1), given_by=by, told="Father Aurel")
    return job


def renew(minutes: int = 0) -> None:
    mark_out_of_date()
    replan(at=NOW + timedelta(minutes=minutes), futures=50)


def test_it_is_reported_once_with_its_chance_and_its_reason(office: Account) -> None:
    job = promised("0412", date(2026, 3, 2), office)
    renew()
    assert not Event.objects.exists()  # Four hours of work by tonight: likely.
    Operation.objects.filter(job=job).update(estimate=6000)
    renew(1)
    event = Event.objects.get(verb=SLIPPED)
    assert (event.verb, event.job, event.subject_id) == (SLIPPED, job, Promise.objects.get().pk)
    assert event.after == {"day": "2026-03-02", "chance": 0.0}
    assert event.why == "Mostly its own work: Assembly."
    (mail,) = Mail.objects.all()
    assert (mail.kind, mail.state, mail.to) == ("at-risk", "draft", "office@two-rivers.example")
    assert "we promised you Hall window for Monday 2 March 2026" in mail.body
    renew(2)
    assert Event.objects.filter(verb=SLIPPED).count() == Mail.objects.count() == 1


def test_a_new_promise_is_a_new_chance_to_break_it(office: Account) -> None:
    job = promised("0412", date(2026, 3, 2), office)
    Operation.objects.filter(job=job).update(estimate=6000)
    renew()
    Promise.objects.create(
        job=job,
        day=date(2026, 3, 3),
        given_at=at(2),
        given_by=office,
        told="Father Aurel",
        reason="more work",
    )
    renew(1)
    assert Event.objects.filter(verb=SLIPPED).count() == 2


def test_a_little_less_than_promised_is_noise(office: Account) -> None:
    """At a confidence of 80 % a promise is reported under three quarters of that, 60 %."""
    promised("0412", date(2026, 3, 2), office)
    renew()
    Projection.objects.filter(job__isnull=False).update(chance=0.61)
    assert newly_doubtful(Studio.current()) == []
    Projection.objects.filter(job__isnull=False).update(chance=0.59)
    assert newly_doubtful(Studio.current()) == [Promise.objects.get()]


def test_only_what_is_open_and_promised_last_is_looked_at(office: Account) -> None:
    job = promised("0412", date(2026, 3, 2), office)
    Operation.objects.filter(job=job).update(estimate=6000)
    Promise.objects.create(
        job=job,
        day=date(2026, 6, 30),
        given_at=at(2),
        given_by=office,
        told="Father Aurel",
        reason="more work",
    )
    renew()
    assert not Event.objects.exists()


def test_many_at_once_are_reported_one_plan_after_another(office: Account) -> None:
    for number in range(AT_ONCE + 2):
        job = promised(f"{number:04}", date(2026, 3, 2), office)
        Operation.objects.filter(job=job).update(estimate=6000)
    renew()
    assert Event.objects.filter(verb=SLIPPED).count() == AT_ONCE
    renew(1)
    assert Event.objects.filter(verb=SLIPPED).count() == AT_ONCE + 2
    assert not PlanState.current().out_of_date
