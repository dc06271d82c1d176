"""A prepared query gives what its queryset gives, for every value, and refuses what it could not put in."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Hold, Job, Operation, Panel, Tap
from jobs.models.prepared import Prepared
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")

STATES = Prepared(
    lambda job, when: (
        Operation.objects.filter(job=job)
        .with_state(when)
        .order_by("pk")
        .values_list("pk", "state", "job__wanted_by")
    )
)


@pytest.fixture
def panels() -> list[Panel]:
    found = [cast.make_panel(cast.make_job(f"041{n}", wanted_by=date(2026, 5, n))) for n in (1, 2, 3)]
    cutting = Operation.objects.filter(kind__name="Cutting", job=found[1].job)
    cutting.update(finished_at=at(3))
    Hold.objects.create(panel=found[2], reason="late glass", since=at(2), held_by="Nora Feld")
    return found


def test_it_gives_what_the_queryset_gives(panels: list[Panel]) -> None:
    for panel in panels:
        for when in (at(3) - timedelta(minutes=1), at(3), at(4)):
            assert STATES(panel.job_id, when) == list(STATES.build(panel.job_id, when))


def test_it_reads_rows_with_those_they_belong_to_and_asks_once(panels: list[Panel]) -> None:
    prepared = Prepared(
        lambda day: Job.objects.filter(wanted_by__gte=day).select_related("customer").order_by("pk")
    )
    for day in (1, 3):
        with CaptureQueriesContext(connection) as asked:
            assert [job.customer.name for job in prepared(date(2026, 5, day))] == [
                "Parish of the Two Rivers"
            ] * (4 - day)
        assert len(asked) == 1


@pytest.mark.parametrize(
    ("build", "value"),
    [
        (lambda day: Job.objects.filter(wanted_by=day), None),
        (lambda keys: Job.objects.filter(pk__in=keys), [1, 2]),
        (lambda unused: Job.objects.all(), 7),
    ],
)
def test_what_it_cannot_put_in_is_an_error(build: object, value: object) -> None:
    with pytest.raises((TypeError, ValueError)):
        Prepared(build)(value)  # type: ignore[arg-type]


def test_it_finds_one_row_by_text_or_by_the_id_of_a_tap(panels: list[Panel]) -> None:
    tap = Tap.objects.create(client_id=uuid4(), at=at(3), verb="start")
    by_number = Prepared(lambda number: Job.objects.filter(number=number))
    by_id = Prepared(lambda client_id: Tap.objects.filter(client_id=client_id))
    assert [by_number.first(number) for number in ("0412", "0413", "none")] == [
        panels[1].job,
        panels[2].job,
        None,
    ]
    assert by_id.first(tap.client_id) == tap
    assert by_id.first(uuid4()) is None
