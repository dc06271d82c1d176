"""An event is written once: the database refuses to alter or delete it, whoever asks."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models.signals import post_migrate

from jobs.models import Account, Event, Job
from jobs.models.append_only import arm_after_migrate, disarm, is_armed
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")


@pytest.fixture
def event(lead: Account) -> Event:
    return Event.objects.create(
        at=at(3),
        account=lead,
        verb="promised",
        subject="job",
        subject_id=1,
        job=cast.make_job("0412"),
        before={"day": None},
        after={"day": "2026-05-02"},
        why="asked on the phone",
    )


@pytest.mark.parametrize(
    "values",
    [
        {"at": at(4)},
        {"verb": "cancelled"},
        {"subject_id": 2},
        {"before": {}},
        {"after": {"day": "2026-05-09"}},
        {"why": ""},
    ],
)
def test_nothing_of_an_event_is_altered(event: Event, values: dict[str, object]) -> None:
    with pytest.raises(IntegrityError, match="never altered"), transaction.atomic():
        Event.objects.filter(pk=event.pk).update(**values)
    kept = Event.objects.get(pk=event.pk)
    assert (kept.at, kept.verb, kept.after, kept.why) == (event.at, event.verb, event.after, event.why)


def test_an_event_is_not_given_to_another_account_or_job(event: Event, office: Account) -> None:
    for values in ({"account": office}, {"job": cast.make_job("0413")}):
        with pytest.raises(IntegrityError, match="never altered"), transaction.atomic():
            Event.objects.filter(pk=event.pk).update(**values)


def test_no_event_is_deleted(event: Event) -> None:
    with pytest.raises(IntegrityError, match="never altered or deleted"), transaction.atomic():
        event.delete()
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM jobs_event")
    assert Event.objects.filter(verb="promised").count() == 1


def test_what_an_event_is_about_may_go(event: Event) -> None:
    Job.objects.get(number="0412").delete()
    kept = Event.objects.get(verb="promised")
    assert (kept.job, kept.subject, kept.after) == (None, "job", {"day": "2026-05-02"})


def test_each_migrate_puts_the_triggers_back() -> None:
    disarm(connection)
    assert not is_armed(connection)
    assert any(receiver[1]() is arm_after_migrate for receiver in post_migrate.receivers)
    arm_after_migrate(using="default")
    arm_after_migrate(using="default")
    assert is_armed(connection)
