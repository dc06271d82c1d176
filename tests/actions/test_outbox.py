"""The outbox: out once, tried again, shown where it failed, and never lost."""

import smtplib
from collections.abc import Iterator
from datetime import timedelta
from threading import Thread
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from jobs.actions import Actor, Refused, mail_drafts, outbox
from jobs.models import Account, Event, Mail, MailState
from tests import cast
from tests.mail import LATER, MAILERS, NEVER, Server

AT = cast.at(2, "10:00")


@pytest.fixture(autouse=True)
def server(settings: Any) -> Iterator[type[Server]]:
    settings.MAILERS = MAILERS
    Server.fresh()
    yield Server
    Server.fresh()


@pytest.fixture
def emil(office: Account) -> Actor:
    return Actor(account=office)


@pytest.fixture
def draft(emil: Actor) -> Mail:
    return mail_drafts.write_draft(cast.make_job(), "ready", by=emil, at=AT)


def _out(draft: Mail, emil: Actor) -> Mail:
    return outbox.send_mail(draft, [outbox.Attachment("0412-care.pdf", b"%PDF-1")], by=emil, at=AT)


def test_it_goes_out_with_its_papers_under_the_id_that_the_row_keeps(draft: Mail, emil: Actor) -> None:
    mail = _out(draft, emil)
    assert outbox.deliver_due(at=AT) == 1
    mail.refresh_from_db()
    assert (mail.state, mail.sent_at, mail.attempts) == (MailState.SENT, AT, 1)
    (taken,) = Server.taken
    assert taken["Message-ID"] == mail.message_id
    assert taken["To"] == "office@two-rivers.example"
    assert taken["From"] == "Lakeside Glass Works <studio@localhost>"
    assert taken["Subject"] == "Hall window (0412) is ready"
    text, paper = taken.iter_parts()
    assert text.get_content_type() == "text/plain"
    assert "Hall window is finished and packed." in text.get_content()
    assert (paper.get_filename(), paper.get_content()) == ("0412-care.pdf", b"%PDF-1")


def test_nothing_goes_twice(draft: Mail, emil: Actor) -> None:
    mail = _out(draft, emil)
    assert outbox.deliver(mail.pk, at=AT)
    assert not outbox.deliver(mail.pk, at=AT)
    assert outbox.deliver_due(at=AT + timedelta(days=1)) == 0
    assert len(Server.taken) == 1


@pytest.mark.django_db(transaction=True)
def test_two_workers_send_it_once(transactional_db: None, draft: Mail, emil: Actor) -> None:
    mail = _out(draft, emil)
    went: list[bool] = []

    def work() -> None:
        try:
            went.append(outbox.deliver(mail.pk, at=AT))
        finally:
            connection.close()

    workers = [Thread(target=work) for _ in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert sorted(went) == [False, False, False, True]
    assert len(Server.taken) == 1


def test_a_server_that_is_away_is_tried_again_after_growing_waits(draft: Mail, emil: Actor) -> None:
    mail = _out(draft, emil)
    Server.at_open = ConnectionRefusedError(111, "Connection refused")
    at, waits = AT, []
    while True:
        outbox.deliver_due(at=at)
        mail.refresh_from_db()
        assert mail.state == MailState.FAILED
        assert mail.trouble == "The mail server could not be reached: Connection refused"
        if mail.next_try_at is None:
            break
        waits.append(mail.next_try_at - at)
        assert outbox.deliver_due(at=mail.next_try_at - timedelta(seconds=1)) == 0
        at = mail.next_try_at
    assert waits == list(outbox.WAITS)
    assert waits == sorted(waits)
    # Nobody tries by itself any more; a person does.
    Server.at_open = None
    assert outbox.deliver_due(at=at + timedelta(days=9)) == 0
    outbox.try_again(mail, by=emil, at=at)
    assert outbox.deliver_due(at=at) == 1
    assert len(Server.taken) == 1


def test_what_the_server_puts_off_is_tried_again(draft: Mail, emil: Actor) -> None:
    mail = _out(draft, emil)
    Server.at_send = LATER
    outbox.deliver_due(at=AT)
    mail.refresh_from_db()
    assert mail.state == MailState.FAILED
    assert mail.trouble == "The mail server answered 451: Try again later"
    Server.at_send = None
    assert outbox.deliver_due(at=AT + timedelta(minutes=1)) == 1


def test_what_the_server_refuses_is_not_tried_again_and_can_be_mended(draft: Mail, emil: Actor) -> None:
    mail = _out(draft, emil)
    Server.at_send = NEVER
    outbox.deliver_due(at=AT)
    mail.refresh_from_db()
    assert (mail.state, mail.next_try_at) == (MailState.FAILED, None)
    assert "No such user" in mail.trouble
    assert Event.objects.filter(verb="failed", job=mail.job).count() == 1
    outbox.take_back(mail, by=emil, at=AT)
    mail.refresh_from_db()
    assert (mail.state, mail.attached.count()) == (MailState.DRAFT, 0)


@pytest.mark.parametrize("error", [smtplib.SMTPServerDisconnected("gone"), TimeoutError("timed out")])
def test_what_broke_off_while_it_was_handed_over_is_for_a_person(
    draft: Mail, emil: Actor, error: Exception
) -> None:
    mail = _out(draft, emil)
    Server.at_send = error
    assert outbox.deliver_due(at=AT) == 0
    mail.refresh_from_db()
    assert mail.state == MailState.UNKNOWN
    Server.at_send = None
    assert outbox.deliver_due(at=AT + timedelta(days=1)) == 0
    outbox.it_went(mail, by=emil, at=AT)
    mail.refresh_from_db()
    assert (mail.state, mail.sent_at) == (MailState.SENT, AT)
    assert Server.taken == []


def test_a_program_that_ends_after_the_servers_yes_sends_nothing_twice(
    draft: Mail, emil: Actor, monkeypatch: pytest.MonkeyPatch
) -> None:
    mail = _out(draft, emil)

    def crash(*_args: object) -> None:
        raise SystemExit

    with monkeypatch.context() as broken:
        broken.setattr(outbox, "_settle", crash)
        with pytest.raises(SystemExit):
            outbox.deliver_due(at=AT)
    mail.refresh_from_db()
    assert (mail.state, len(Server.taken)) == (MailState.SENDING, 1)
    outbox.deliver_due(at=AT + outbox.STALE)
    mail.refresh_from_db()
    assert mail.state == MailState.SENDING
    outbox.deliver_due(at=AT + outbox.STALE + timedelta(seconds=1))
    mail.refresh_from_db()
    assert mail.state == MailState.UNKNOWN
    assert len(Server.taken) == 1
    outbox.try_again(mail, by=emil, at=AT)
    assert outbox.deliver_due(at=AT) == 1


def test_the_worker_works_the_outbox(draft: Mail, emil: Actor) -> None:
    outbox.send_mail(draft, by=emil, at=timezone.now())
    call_command("worker", "--once")
    draft.refresh_from_db()
    assert draft.state == MailState.SENT


def test_the_files_of_an_installation_without_a_server(
    draft: Mail, emil: Actor, settings: Any, tmp_path: Any
) -> None:
    folder = tmp_path / "mail"
    settings.MAILERS = {"default": {"BACKEND": "studio.eml.EmlBackend", "OPTIONS": {"folder": str(folder)}}}
    _out(draft, emil)
    assert outbox.deliver_due(at=AT) == 1
    (file,) = folder.iterdir()
    assert file.suffix == ".eml"
    assert b"Subject: Hall window (0412) is ready" in file.read_bytes()


@pytest.mark.parametrize(
    ("to", "subject", "body", "field", "words"),
    [
        ("", "Ready", "Text", "to", "to whom"),
        ("nobody", "Ready", "Text", "to", "no address"),
        ("a@b.example, c@d.example", "Ready", "Text", "to", "no address"),
        ("a@b.example\r\nBcc: c@d.example", "Ready", "Text", "to", "no address"),
        ("a@b.example", "Ready\r\nBcc: c@d.example", "Text", "subject", "one line"),
        ("a@b.example", "Ready\x01", "Text", "subject", "one line"),
        ("a@b.example", " ", "Text", "subject", "subject"),
        ("a@b.example", "Ready", " \n", "body", "Write a text"),
        ("a@b.example", "Ready", "By [[promised]]", "body", "[[promised]]"),
    ],
)
def test_what_may_not_go_out(
    draft: Mail, emil: Actor, to: str, subject: str, body: str, field: str, words: str
) -> None:
    Mail.objects.filter(pk=draft.pk).update(to=to, subject=subject, body=body)
    with pytest.raises(Refused) as refused:
        outbox.send_mail(draft, by=emil, at=AT)
    assert refused.value.field == field
    assert words in refused.value.sentence
    draft.refresh_from_db()
    assert draft.state == MailState.DRAFT


def test_too_large_papers_are_refused(draft: Mail, emil: Actor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outbox, "MOST_BYTES", 3)
    with pytest.raises(Refused, match="too large"):
        _out(draft, emil)


def test_who_may_send_and_when(draft: Mail, emil: Actor, tablet: Account) -> None:
    with pytest.raises(Refused, match="Only the office"):
        outbox.send_mail(draft, by=Actor(account=tablet), at=AT)
    for act, words in (
        (outbox.try_again, "nothing to try again"),
        (outbox.take_back, "cannot be taken back"),
        (outbox.it_went, "known already"),
    ):
        with pytest.raises(Refused, match=words):
            act(draft, by=emil, at=AT)
    _out(draft, emil)
    with pytest.raises(Refused, match="no draft any more"):
        _out(draft, emil)
