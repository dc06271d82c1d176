"""The studio's side of the customer's page: its link, its preview, what was approved."""

import re
from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from jobs.models import (
    Account,
    CustomerLink,
    DrawingApproval,
    Event,
    Job,
)
from tests import cast, customers
from tests.customers import address, promise, text, typed


def test_the_office_makes_changes_renews_and_revokes(office_client: Client, job: Job) -> None:
    assert "Make a link" in text(office_client.get("/jobs/0412/"))
    day = (timezone.localdate() + timedelta(days=40)).isoformat()
    assert 'name="last_day"' in text(office_client.get("/jobs/0412/?edit=link"))
    made = {"last_day": day, "shows_window": "on"}
    answer = office_client.post("/jobs/0412/customers-page/make/", made)
    assert (answer.status_code, answer["Location"]) == (303, "/jobs/0412/#customers-page")
    link = CustomerLink.objects.get()
    assert (link.shows_window, link.shows_papers, link.shows_prices) == (True, False, False)
    page = text(office_client.get("/jobs/0412/"))
    assert f"http://testserver/c/{link.token}/" in page
    assert "not yet" in page
    assert office_client.post("/jobs/0412/customers-page/make/", made).status_code == 422
    changed = {"last_day": day, "shows_prices": "on"}
    assert office_client.post("/jobs/0412/customers-page/change/", changed).status_code == 303
    assert CustomerLink.objects.get().shows_prices
    assert office_client.post("/jobs/0412/customers-page/renew/").status_code == 303
    new = CustomerLink.objects.get(revoked_at=None)
    assert new.token != link.token
    assert office_client.post("/jobs/0412/customers-page/revoke/").status_code == 303
    answer = office_client.post("/jobs/0412/customers-page/revoke/")
    assert answer.status_code == 422
    assert "There is no link" in text(answer)
    assert [event.verb for event in Event.objects.filter(subject="customerlink")] == [
        "revoked",
        "made anew",
        "changed",
        "made",
    ]
    assert "Link of the customer&#x27;s page" in text(office_client.get("/jobs/0412/"))


def test_a_day_that_is_over_is_refused_beside_the_field(office_client: Client, job: Job) -> None:
    answer = office_client.post("/jobs/0412/customers-page/make/", {"last_day": "2020-01-01"})
    assert answer.status_code == 422
    assert "That day is over." in text(answer)
    assert 'value="2020-01-01"' in text(answer)


@pytest.mark.parametrize("where", ["customers-page/nothing/", "change/link/"])
def test_no_such_verb(office_client: Client, job: Job, where: str) -> None:
    assert office_client.post(f"/jobs/0412/{where}").status_code == 404


def test_an_expired_link_is_told(office_client: Client, link: CustomerLink) -> None:
    CustomerLink.objects.update(last_day=date(2026, 1, 1))
    page = text(office_client.get("/jobs/0412/"))
    assert "The link has expired" in page
    assert link.token not in page


def test_a_link_made_under_another_key_is_told(office_client: Client, link: CustomerLink) -> None:
    CustomerLink.objects.update(digest="0" * 64)
    assert "cannot be shown again" in text(office_client.get("/jobs/0412/"))


def test_the_preview_is_the_customers_page(
    office_client: Client, visitor: Client, link: CustomerLink
) -> None:
    seen = text(office_client.get("/jobs/0412/customers-page/"))
    assert "This is what the customer sees now" in seen
    assert "<form" not in seen
    heads = re.compile(r"<h[123][^>]*>(.*?)</h[123]>")
    assert heads.findall(seen) == heads.findall(text(visitor.get(address(link))))


def test_there_is_a_preview_without_a_link(office_client: Client, job: Job, office: Account) -> None:
    promise(job, office)
    page = text(office_client.get("/jobs/0412/customers-page/"))
    assert "This is what the customer would see; no link" in page
    assert "/c/" not in page


def test_the_studio_sees_which_version_was_approved(
    office_client: Client, visitor: Client, job: Job, link: CustomerLink
) -> None:
    visitor.post(address(link, "approve/"), typed(job), HTTP_USER_AGENT="Old phone")
    approval = DrawingApproval.objects.get()
    job_page = text(office_client.get("/jobs/0412/"))
    assert f"version {approval.version}" in job_page
    assert "by Anna Berg" in job_page
    page = text(office_client.get(f"/jobs/0412/approvals/{approval.pk}/"))
    for said in ("Anna Berg", "Old phone", "127.0.0.1", approval.digest, "still drawn like this", "Rose"):
        assert said in page
    customers.redraw(job.panels.get())
    page = text(office_client.get(f"/jobs/0412/approvals/{approval.pk}/"))
    assert "drawn otherwise by now" in page
    assert "Rose" in page
    assert "Amber" not in page
    DrawingApproval.objects.update(withdrawn_at=timezone.now())
    assert "asked for again" in text(office_client.get(f"/jobs/0412/approvals/{approval.pk}/"))


def test_an_approval_of_another_job_is_not_there(office_client: Client, job: Job) -> None:
    approval = DrawingApproval.objects.create(
        panel=job.panels.get(), digest="0" * 64, shown={}, name="Anna", at=cast.at(2)
    )
    cast.make_job("0999")
    assert office_client.get(f"/jobs/0999/approvals/{approval.pk}/").status_code == 404
