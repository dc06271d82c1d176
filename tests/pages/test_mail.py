"""Mail: drafts of what happened, written, sent, and kept with the job; and the words it starts from."""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from jobs.actions import Actor, Refused, mail_drafts
from jobs.actions.customer_links import Shared, make_link
from jobs.documents import mail_papers
from jobs.documents.customer_papers import CustomerPaper
from jobs.models import Account, Mail, MailKind, MailState, MailTemplate
from tests import cast
from tests.mail import MAILERS, NEVER, Server

AT = cast.at(2, "10:00")


@pytest.fixture(autouse=True)
def server(settings: Any) -> None:
    settings.MAILERS = MAILERS
    Server.fresh()


@pytest.fixture
def emil(office: Account) -> Actor:
    return Actor(account=office)


@pytest.fixture
def draft(emil: Actor) -> Mail:
    return mail_drafts.write_draft(cast.make_job(), "ready", by=emil, at=AT)


def do(client: Client, mail: Mail, verb: str, **typed: Any) -> Any:
    words = {"to": mail.to, "subject": mail.subject, "body": mail.body}
    return client.post(reverse("mail-do", args=[mail.pk, verb]), words | typed)


def test_a_draft_is_changed_sent_and_kept_with_the_job(office_client: Client, draft: Mail) -> None:
    assert do(office_client, draft, "save", subject="It is ready").status_code == 302
    answer = do(office_client, draft, "send", subject="It is ready", body="Come and see <b>it</b>.")
    assert answer.status_code == 302
    draft.refresh_from_db()
    assert draft.state == MailState.SENT
    assert Server.taken[0]["Subject"] == "It is ready"
    page = office_client.get("/jobs/0412/").content.decode()
    assert "Come and see &lt;b&gt;it&lt;/b&gt;." in page
    assert "It is ready" in office_client.get("/mail/?show=sent").content.decode()


def test_papers_go_as_they_were_at_the_tap(
    office_client: Client, draft: Mail, monkeypatch: pytest.MonkeyPatch
) -> None:
    paper = CustomerPaper("care", "Care", lambda: b"%PDF-care")
    monkeypatch.setitem(mail_papers.SOURCES, MailKind.READY, (lambda _job: [paper],))
    shown = office_client.get(reverse("mail-paper", args=[draft.pk, "care"]))
    assert shown.content == b"%PDF-care"
    do(office_client, draft, "send", papers=["care"])
    kept = draft.attached.get()
    assert (kept.name, bytes(kept.content)) == ("0412-care.pdf", b"%PDF-care")
    assert office_client.get(reverse("mail-paper", args=[draft.pk, str(kept.pk)])).content == b"%PDF-care"
    assert office_client.get(reverse("mail-paper", args=[draft.pk, "care"])).status_code == 404


def test_what_is_refused_stands_beside_what_was_typed(office_client: Client, draft: Mail) -> None:
    answer = do(office_client, draft, "send", to="nobody", body="My words")
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "is no address for mail" in page
    assert "My words" in page
    hostile = do(office_client, draft, "send", subject="Ready\r\nBcc: c@d.example")
    assert hostile.status_code == 422
    assert Server.taken == []


def test_a_failure_is_shown_and_tried_again(office_client: Client, draft: Mail) -> None:
    Server.at_send = NEVER
    do(office_client, draft, "send")
    assert "No such user" in office_client.get("/mail/?show=failed").content.decode()
    assert "No such user" in office_client.get("/jobs/0412/").content.decode()
    Server.at_send = None
    assert do(office_client, draft, "again").status_code == 302
    assert len(Server.taken) == 1
    assert do(office_client, draft, "again").status_code == 422
    assert do(office_client, draft, "nothing").status_code == 404


def test_a_draft_by_hand_and_only_one(office_client: Client, shop: None) -> None:
    cast.make_job()
    new = reverse("mail-new", args=["0412"])
    assert office_client.post(new, {"kind": "ready"}).status_code == 302
    assert office_client.post(new, {"kind": "ready"}).status_code == 422
    assert office_client.post(new, {"kind": "nothing"}).status_code == 422
    mail = Mail.objects.get()
    do(office_client, mail, "discard")
    assert office_client.post(new, {"kind": "ready"}).status_code == 302


def test_a_draft_is_written_anew_once_there_is_what_it_lacked(
    office_client: Client, emil: Actor, settings: Any
) -> None:
    settings.PUBLIC_ADDRESS = "https://studio.example"
    job = cast.make_job()
    mail = mail_drafts.write_draft(job, "approval", by=emil, at=AT)
    page = office_client.get(mail.get_absolute_url()).content.decode()
    assert "[[page]]" in page
    assert "/jobs/0412/#customers-page" in page
    assert do(office_client, mail, "send").status_code == 422
    link = make_link(job, Shared(date(2027, 1, 1)), by=emil, at=AT)
    assert do(office_client, mail, "anew").status_code == 302
    mail.refresh_from_db()
    assert f"https://studio.example/c/{link.token}/" in mail.body
    assert do(office_client, mail, "send").status_code == 302
    assert do(office_client, mail, "anew").status_code == 422


def test_the_floor_shows_two_of_many_and_says_where_the_others_are(
    office_client: Client, draft: Mail
) -> None:
    values = {"kind": draft.kind, "to": draft.to, "body": "", "made_at": AT, "state": MailState.FAILED}
    for number in range(5):
        Mail.objects.create(
            job=draft.job,
            subject=f"Letter {number}",
            message_id=f"<{number}@studio>",
            trouble="No.",
            **values,
        )
    floor = " ".join(office_client.get("/").content.decode().split())
    assert "5 mails did not go" in floor
    assert [number for number in range(5) if f"Letter {number}" in floor] == [0, 1]
    assert f'<a href="{reverse("mail-list")}?show=failed">3 more under Mail</a>' in floor


def test_the_floor_asks_about_mail_that_did_not_go(office_client: Client, draft: Mail) -> None:
    Server.at_send = NEVER
    do(office_client, draft, "send")
    floor = " ".join(office_client.get("/").content.decode().split())
    assert "1 mail did not go" in floor
    assert "No such user" in floor
    assert "No such user. It is not tried again by itself." in floor
    again = reverse("mail-do", args=[draft.pk, "again"])
    assert f'action="{again}"' in floor
    Server.at_send = TimeoutError("timed out")
    assert office_client.post(again).status_code == 302
    floor = " ".join(office_client.get("/").content.decode().split())
    assert "not known whether it went" in floor
    assert "Say whether it went" in floor
    do(office_client, draft, "went")
    assert "did not go" not in office_client.get("/").content.decode()


def test_the_words_are_the_studios(lead_client: Client, office: Account) -> None:
    job = cast.make_job()
    page = reverse("set-up-mail-words", args=["ready"])
    typed = {"subject": "{number} is done", "body": "For {customer}: {promised} {{no}}", "job": "0412"}
    refused = lead_client.post(page, typed | {"body": "Dear {nobody}"})
    assert refused.status_code == 422
    assert "There is nothing called {nobody}" in refused.content.decode()
    assert lead_client.post(page, typed).status_code == 422  # A brace without its pair.
    typed["body"] = "For {customer}: {promised}"
    shown = lead_client.post(page, typed | {"preview": "1"}).content.decode()
    assert "For Parish of the Two Rivers: [[promised]]" in shown
    assert not MailTemplate.objects.exists()
    assert lead_client.post(page, typed | {"preview": "1", "job": "9999"}).status_code == 422
    assert lead_client.post(page, typed).status_code == 302
    assert mail_drafts.draft_of("ready", job)[0] == "0412 is done"
    lead_client.post(reverse("set-up-mail-usual", args=["ready"]))
    assert mail_drafts.draft_of("ready", job)[0] == "Hall window (0412) is ready"
    with pytest.raises(Refused, match="Only the lead"):
        mail_drafts.change_template("ready", subject="A", body="B", by=Actor(account=office), at=AT)


def test_braces_in_a_value_stay_what_they_are(emil: Actor) -> None:
    job = cast.make_job(title="{customer} {{ settings }}")
    assert "{customer} {{ settings }}" in mail_drafts.draft_of("ready", job)[1]
