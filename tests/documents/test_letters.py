"""The letters: the work is complete, and another day with its reason."""

from datetime import date, datetime

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import Account, Customer, Job, LetterSettings, Person, PlanState, Promise, Stage
from tests import cast
from tests.documents.tags import assert_tagged
from tests.documents.tags import text as text_of

DONE = reverse("letter", args=["0412", "completion"])
DAY = reverse("letter-new-day", args=["0412"])


@pytest.fixture
def job(shop: None) -> Job:
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 20})
    job = cast.make_job()
    cast.make_panel(job, kinds=("Beveling",))
    return job


@pytest.fixture
def moved(job: Job, office: Account, monkeypatch: pytest.MonkeyPatch) -> Job:
    monkeypatch.setattr(timezone, "now", lambda: datetime(2026, 3, 2, 8, tzinfo=cast.ZONE))
    for day, hour in ((date(2026, 4, 1), "07:00"), (date(2026, 4, 10), "07:30")):
        Promise.objects.create(job=job, day=day, given_at=cast.at(2, hour), given_by=office, told="Ada")
    return job


def test_it_is_complete(office_client: Client, job: Job) -> None:
    Job.objects.update(stage=Stage.COMPLETE, closed_at=cast.at(6, "15:00"))
    Customer.objects.update(contact="Ada Moss")
    data = office_client.get(DONE).content
    text = text_of(data)
    assert "Dear Ada Moss, we finished the work below on Friday, 6 March 2026." in text
    assert "0412/1 Light 1" in text
    for line in LetterSettings.current().care.splitlines():
        assert line in text
    assert_tagged(data, "Your work 0412 is complete")


def test_it_is_not_complete_yet(office_client: Client, job: Job) -> None:
    assert "when it is complete" in office_client.get(DONE, follow=True).content.decode()


def test_the_reason_is_looked_over_first(office_client: Client, moved: Job) -> None:
    page = office_client.get(DAY).content.decode()
    assert "Most of the time is taken by the handwork itself: beveling." in page


def test_the_letter(office_client: Client, moved: Job) -> None:
    data = office_client.get(DAY, {"reason": "The glass came late."}).content
    text = text_of(data)
    assert "we told you Wednesday, 1 April 2026. That day will not hold" in text
    assert "The new day is Friday, 10 April 2026." in text
    assert "The reason: The glass came late." in text
    assert_tagged(data, "A new day for 0412")


def test_a_sooner_day(office_client: Client, moved: Job, office: Account) -> None:
    day = date(2026, 3, 20)
    Promise.objects.create(job=moved, day=day, given_at=cast.at(2, "07:45"), given_by=office, told="Ada")
    text = text_of(office_client.get(DAY, {"reason": "Others waited."}).content)
    assert "It will be ready sooner than that." in text
    assert "sorry" not in text


@pytest.mark.parametrize(
    ("reason", "words"),
    [("", "required"), ("It lies behind 0411.", "names job 0411"), ("Mara Lind is ill.", "names Mara Lind")],
)
def test_a_reason_that_does_not_go_out(office_client: Client, moved: Job, reason: str, words: str) -> None:
    cast.make_job("0411")
    assert Person.objects.filter(name="Mara Lind").exists()
    answer = office_client.get(DAY, {"reason": reason})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert words in page
    assert reason in page


def test_no_other_day_was_promised(office_client: Client, job: Job) -> None:
    assert "promise the new one first" in office_client.get(DAY, follow=True).content.decode()


def test_who_may_not(tablet_client: Client, job: Job) -> None:
    assert tablet_client.get(DAY).status_code == 403
    assert tablet_client.get(DONE).status_code == 403
    assert tablet_client.post(DAY).status_code == 405
