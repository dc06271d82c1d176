"""Mail in a browser: a draft is changed, sent and kept with the job; and the pages are for everyone."""

from typing import Any

import pytest

from jobs.actions import Actor, mail_drafts
from jobs.models import Account, Mail, MailState
from tests import cast
from tests.browser.looks import faults, open_all

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_draft_is_changed_sent_and_kept(
    transactional_db: None, lead: Account, signed_in: Any, live_server: Any
) -> None:
    cast.make_job()
    page = signed_in(lead)
    page.goto(f"{live_server.url}/jobs/0412/")
    page.get_by_label("Write about").select_option("ready")
    page.get_by_role("button", name="Draft it").click()
    page.get_by_label("Subject").fill("Your window is ready")
    page.get_by_role("button", name="Send").click()
    page.get_by_role("heading", name="As it was sent").wait_for()
    page.goto(f"{live_server.url}/jobs/0412/")
    page.get_by_text("What it said").click()
    page.get_by_text("is finished and packed").wait_for()
    assert Mail.objects.get().state == MailState.SENT


def test_the_pages_are_for_everyone(
    transactional_db: None, lead: Account, signed_in: Any, live_server: Any
) -> None:
    by = Actor(account=lead)
    draft = mail_drafts.write_draft(cast.make_job(), "approval", by=by, at=cast.at(2))
    failed = mail_drafts.write_draft(draft.job, "ready", by=by, at=cast.at(2))
    Mail.objects.filter(pk=failed.pk).update(
        state=MailState.FAILED, message_id="<1@studio>", trouble="The mail server did not answer in time."
    )
    page = signed_in(lead)
    for address in (
        "/mail/",
        "/mail/?show=failed",
        f"/mail/{draft.pk}/",
        f"/mail/{failed.pk}/",
        "/set-up/mail/",
        "/set-up/mail/ready/",
        "/set-up/calendars/",
        "/jobs/0412/",
    ):
        page.goto(f"{live_server.url}{address}")
        open_all(page)
        assert faults(page) == []
