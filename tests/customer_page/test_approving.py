"""Approving drawings on the customer's page, without a sign-in."""

import pytest
from django.test import Client
from django.utils import timezone

from jobs.actions.quotes import DRAWINGS
from jobs.models import (
    Account,
    CustomerLink,
    DrawingApproval,
    Gate,
    Job,
    Stage,
)
from jobs.templatetags.told_days import plain_day
from tests import cast, customers
from tests.customers import address, text, typed


def test_approves_without_a_sign_in(visitor: Client, job: Job, link: CustomerLink) -> None:
    answer = visitor.post(
        address(link, "approve/"), typed(job), HTTP_USER_AGENT="Old phone", HTTP_ORIGIN="null"
    )
    assert (answer.status_code, answer["Location"]) == (303, address(link, "#drawings"))
    approval = DrawingApproval.objects.get()
    assert (approval.name, approval.agent, approval.link) == ("Anna Berg", "Old phone", link)
    assert Gate.objects.get(kind="drawing").cleared == cast.today()
    page = text(visitor.get(address(link)))
    assert f"Approved by Anna Berg, {plain_day(cast.today())}. Version" in page
    assert approval.version in page
    assert "<form" not in page


def test_a_double_tap_is_one(visitor: Client, job: Job, link: CustomerLink) -> None:
    sent = typed(job)
    assert {visitor.post(address(link, "approve/"), sent).status_code for _ in range(3)} == {303}
    assert DrawingApproval.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"name": ""}, "Please write your name."),
        ({"looked": ""}, "Please look at sizes, glass and layout first"),
        ({"seen": ""}, "There is no drawing to approve."),
        ({"seen": "1-abc"}, "The page was not sent whole"),
        ({"seen": "1-" + "0" * 64}, "A drawing has changed since you opened this page."),
        ({"name": "A" * 81}, "at most 80"),
    ],
)
def test_what_is_refused_is_said_and_what_was_typed_stays(
    visitor: Client, job: Job, link: CustomerLink, more: dict[str, str], sentence: str
) -> None:
    answer = visitor.post(address(link, "approve/"), typed(job, **more))
    page = text(answer)
    assert answer.status_code == 422
    assert sentence in page
    assert f'value="{more.get("name", "Anna Berg")}"' in page or not more.get("name", "Anna Berg")
    assert not DrawingApproval.objects.exists()


def test_a_drawing_changed_while_looking_is_shown_anew(visitor: Client, job: Job, link: CustomerLink) -> None:
    sent = typed(job)
    customers.redraw(job.panels.get())
    page = text(visitor.post(address(link, "approve/"), sent))
    assert "Amber" in page
    now = typed(job)
    assert now["seen"] in page
    assert now["seen"] != sent["seen"]
    # The next tap approves what was shown with the refusal.
    assert visitor.post(address(link, "approve/"), now).status_code == 303


@pytest.mark.parametrize(
    ("stage", "sentence"), [(Stage.CANCELLED, "is cancelled"), (Stage.COMPLETE, "is complete")]
)
def test_a_closed_commission_refuses_with_a_sentence(
    visitor: Client, job: Job, link: CustomerLink, stage: str, sentence: str
) -> None:
    sent = typed(job)
    Job.objects.update(stage=stage, closed_at=timezone.now())
    answer = visitor.post(address(link, "approve/"), sent)
    assert answer.status_code == 422
    assert sentence in text(answer)
    assert "<form" not in text(answer)


def test_approved_by_another_is_said(visitor: Client, job: Job, link: CustomerLink) -> None:
    visitor.post(address(link, "approve/"), typed(job))
    answer = visitor.post(address(link, "approve/"), typed(job, name="Karl Berg"))
    assert answer.status_code == 422
    assert "Anna Berg has approved this already" in text(answer)


def test_the_studio_is_told_to_say_it_on_the_job(office_client: Client, job: Job, link: CustomerLink) -> None:
    answer = office_client.post(address(link, "approve/"), typed(job))
    assert answer.status_code == 422
    assert "You are signed in as the studio" in text(answer)


def test_what_changed_since_is_told_to_both(
    visitor: Client, office_client: Client, job: Job, link: CustomerLink
) -> None:
    visitor.post(address(link, "approve/"), typed(job))
    customers.redraw(job.panels.get())
    Gate.objects.update(cleared=None)
    assert "Changed since you approved it" in text(visitor.get(address(link)))
    assert "changed since it was approved" in text(office_client.get("/jobs/0412/"))


class TestBesideTheQuote:
    """The price is taken with the quote, the drawing on this page: asked once, and it says why."""

    def test_an_unchanged_drawing_is_called_so(
        self, visitor: Client, job: Job, link: CustomerLink, office: Account
    ) -> None:
        quote = customers.make_quote(job, office)
        panel = job.panels.get()
        quote.frozen = {DRAWINGS: {str(panel.pk): customers.seen_of(job)[1]}}
        quote.save(update_fields=["frozen"])
        page = text(visitor.get(address(link)))
        assert "It is the drawing of our quote, unchanged: please approve it below, once." in page
        assert "You have ordered at the price of our quote." in page
        assert "4,812" not in page
        customers.redraw(panel)
        page = text(visitor.get(address(link)))
        assert "unchanged" not in page
        assert "Please look at it and approve it below." in page

    def test_without_a_quote_nothing_is_said_of_one(
        self, visitor: Client, job: Job, link: CustomerLink
    ) -> None:
        page = text(visitor.get(address(link)))
        assert "our quote" not in page
