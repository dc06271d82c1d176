"""The letter of another day: its two days, its reason by the plan, and a reason that speaks of nobody else."""

from datetime import date

import pytest

from jobs.actions import Refused
from jobs.actions.day_letters import LONGEST, changed_day, checked_reason, reason_for
from jobs.models import Account, Customer, Job, Person, Promise
from tests import cast

NOW = cast.at(2)


@pytest.fixture
def job(shop: None) -> Job:
    return cast.make_job()


def promise(job: Job, by: Account, *days: date) -> None:
    for place, day in enumerate(days):
        Promise.objects.create(
            job=job, day=day, given_at=cast.at(2, f"{8 + place:02}:00"), given_by=by, told="Ada"
        )


def test_the_last_day_and_the_other_one_before(job: Job, office: Account) -> None:
    promise(job, office, date(2026, 4, 1), date(2026, 4, 10), date(2026, 4, 10))
    days = changed_day(job)
    assert (days.before, days.now, days.later) == (date(2026, 4, 1), date(2026, 4, 10), True)


def test_an_earlier_day(job: Job, office: Account) -> None:
    promise(job, office, date(2026, 4, 10), date(2026, 4, 1))
    assert not changed_day(job).later


@pytest.mark.parametrize("days", [(), (date(2026, 4, 1),), (date(2026, 4, 1), date(2026, 4, 1))])
def test_no_other_day(job: Job, office: Account, days: tuple[date, ...]) -> None:
    promise(job, office, *days)
    with pytest.raises(Refused, match="promise the new one first"):
        changed_day(job)


def test_the_reason_names_no_other_job(job: Job) -> None:
    Person.objects.filter(name="Ilse Roth").update(active=False)
    first = cast.make_job("0411", wanted_by=date(2026, 3, 4))
    for number in (1, 2, 3):
        cast.make_panel(first, number=number, kinds=("Beveling",))
    cast.make_panel(job, kinds=("Beveling",))
    reason = reason_for(job, at=NOW)
    assert reason.startswith("Beveling waits for a turn in our workshop")
    assert "0411" not in reason
    assert "Mara" not in reason
    assert checked_reason(job, reason) == reason


def test_no_reason_where_there_is_no_work(job: Job) -> None:
    assert reason_for(job, at=NOW) == ""


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("  ", "Say why"),
        ("x" * (LONGEST + 1), "or fewer"),
        ("It lies behind 0411.", "names job 0411"),
        ("First comes the window of harbor church, then yours.", "names Harbor Church"),
        ("Mara Lind is ill.", "names Mara Lind"),
    ],
)
def test_reasons_that_do_not_go_out(job: Job, typed: str, words: str) -> None:
    harbor = Customer.objects.create(name="Harbor Church")
    cast.make_job("0411", customer=harbor)
    with pytest.raises(Refused, match=words) as refused:
        checked_reason(job, typed)
    assert refused.value.field == "reason"


def test_its_own_name_may_stand_in_it(job: Job) -> None:
    assert checked_reason(job, "The glass for 0412 came late.") == "The glass for 0412 came late."
