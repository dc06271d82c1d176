"""The site of a job: written down, with who changed it, and what is refused."""

from typing import Any

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.sites import change_site
from jobs.models import Account, Event, Job, PlanState
from tests import cast

SITE: dict[str, Any] = {
    "site_address": " 4 Quay Lane\nHarbor End ",
    "site_contact": "Ada Moss",
    "site_phone": "555-0140",
    "site_access": "Ramp at the back, no lift",
}


@pytest.fixture
def job(shop: None) -> Job:
    return cast.make_job()


def test_the_site_is_written_down(job: Job, office: Account) -> None:
    before = PlanState.current().revision
    change_site(job, **SITE, by=Actor(account=office), at=cast.at(2))
    job.refresh_from_db()
    assert (job.site_address, job.site_access) == ("4 Quay Lane\nHarbor End", "Ramp at the back, no lift")
    event = Event.objects.get(verb="given its site")
    assert (event.job, event.account, event.after["site_contact"]) == (job, office, "Ada Moss")
    assert PlanState.current().revision == before


def test_the_same_again_is_no_event(job: Job, office: Account) -> None:
    for _ in range(2):
        change_site(job, **SITE, by=Actor(account=office), at=cast.at(2))
    assert Event.objects.filter(verb="given its site").count() == 1


@pytest.mark.parametrize(
    ("name", "length"), [("site_contact", 81), ("site_phone", 41), ("site_access", 2001)]
)
def test_too_long(job: Job, office: Account, name: str, length: int) -> None:
    with pytest.raises(Refused, match="At most") as refused:
        change_site(job, **SITE | {name: "x" * length}, by=Actor(account=office), at=cast.at(2))
    assert refused.value.field == name


def test_only_the_office(job: Job, tablet: Account) -> None:
    with pytest.raises(Refused, match="Only the office"):
        change_site(job, **SITE, by=Actor(account=tablet), at=cast.at(2))


def test_it_goes_to_the_customer_where_nothing_is_said(job: Job) -> None:
    job.customer.address = "1 Mill Yard"
    assert job.goes_to == "1 Mill Yard"
    job.site_address = "4 Quay Lane"
    assert job.goes_to == "4 Quay Lane"
