"""The outbox: mail on its way. A mail goes out once, and none is lost.

A mail is taken by marking it as being sent under a lock on its row; who comes second finds the mark and leaves it. The
program that sends holds no transaction meanwhile. What the mail server answers decides:

- it could not be reached, or said "later" (4xx): the mail certainly did not go and is tried again after growing waits;
- it refused (5xx): the mail certainly did not go and will not; a person looks at it;
- it broke off while the mail was handed over, or this program ended between the server's yes and our saving it:
  nobody can know. The mail stands as "not known whether it went", and a person decides; it is not sent again by itself.
"""

import logging
import smtplib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.headerregistry import Address

from django.conf import settings
from django.core.mail import EmailMessage, mailers, make_msgid
from django.db import transaction
from django.db.models import Q

from jobs.models import Mail, MailPaper, MailState, Studio

from .base import SYSTEM, Actor, Refused, record
from .mail_drafts import check_text, check_to, locked, locked_draft
from .mail_words import missing

logger = logging.getLogger(__name__)

WAITS = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 30, 120, 360, 1440))
# Longer than a mail server may take over everything it is asked; who still has it then has ended.
STALE = timedelta(minutes=15)
AT_ONCE = 20
MOST_BYTES = 15_000_000


@dataclass(frozen=True, slots=True)
class Attachment:
    """A paper as a file: its name, and its bytes, a PDF."""

    name: str
    content: bytes


@transaction.atomic
def send_mail(mail: Mail, attached: Iterable[Attachment] = (), *, by: Actor, at: datetime) -> Mail:
    """Put a draft into the outbox, with its papers as they are now. It is tried from then on until it has gone."""
    mail = locked_draft(mail, by)
    mail.to = check_to(mail.to)
    mail.subject, mail.body = check_text(mail.subject, mail.body)
    gaps = missing(mail.subject) + missing(mail.body)
    if gaps:
        raise Refused(f"Write what belongs there instead of [[{gaps[0]}]].", "body")
    papers = list(attached)
    if sum(len(paper.content) for paper in papers) > MOST_BYTES:
        raise Refused("The papers are too large for a mail; leave some out.", "papers")
    MailPaper.objects.bulk_create(MailPaper(mail=mail, name=p.name, content=p.content) for p in papers)
    mail.state, mail.sent_by, mail.next_try_at = MailState.WAITING, by.account, at
    mail.message_id = make_msgid(domain=_sender().domain or "localhost")
    fields = ["to", "subject", "body", "state", "sent_by", "next_try_at", "message_id"]
    mail.save(update_fields=fields)
    record("let go out", mail, by=by, at=at, after={"to": mail.to, "subject": mail.subject})
    return mail


@transaction.atomic
def try_again(mail: Mail, *, by: Actor, at: datetime) -> Mail:
    """A person wants it sent again: after a failure, or because it did not arrive."""
    mail = locked(mail, by)
    if mail.state not in (MailState.FAILED, MailState.UNKNOWN):
        raise Refused(f"There is nothing to try again: {mail.get_state_display()}.")
    mail.state, mail.next_try_at, mail.attempts, mail.trouble = MailState.WAITING, at, 0, ""
    mail.save(update_fields=["state", "next_try_at", "attempts", "trouble"])
    record("let go out again", mail, by=by, at=at)
    return mail


@transaction.atomic
def take_back(mail: Mail, *, by: Actor, at: datetime) -> Mail:
    """A mail that failed becomes a draft again, to mend its address or its text."""
    mail = locked(mail, by)
    if mail.state != MailState.FAILED:
        raise Refused(f"It cannot be taken back: {mail.get_state_display()}.")
    mail.attached.all().delete()
    mail.state, mail.next_try_at, mail.attempts = MailState.DRAFT, None, 0
    mail.save(update_fields=["state", "next_try_at", "attempts"])
    record("taken back", mail, by=by, at=at)
    return mail


@transaction.atomic
def it_went(mail: Mail, *, by: Actor, at: datetime) -> Mail:
    """A person found out that a mail of which nobody knew has gone."""
    mail = locked(mail, by)
    if mail.state != MailState.UNKNOWN:
        raise Refused(f"That is known already: {mail.get_state_display()}.")
    mail.state, mail.sent_at, mail.trouble = MailState.SENT, mail.sending_since or at, ""
    mail.save(update_fields=["state", "sent_at", "trouble"])
    record("known to have gone", mail, by=by, at=at)
    return mail


def deliver_due(*, at: datetime) -> int:
    """Try what is due, the oldest first, a few at a time; how many went."""
    settle_stale(at=at)
    due = Q(state__in=[MailState.WAITING, MailState.FAILED], next_try_at__lte=at)
    found = Mail.objects.filter(due).order_by("next_try_at", "pk").values_list("pk", flat=True)
    return sum(deliver(pk, at=at) for pk in list(found[:AT_ONCE]))


def settle_stale(*, at: datetime) -> None:
    """What is being sent for longer than sending takes: its program ended, and nobody knows how far it was."""
    stale = Q(state=MailState.SENDING, sending_since__lt=at - STALE)
    for pk in list(Mail.objects.filter(stale).values_list("pk", flat=True)):
        _settle(pk, MailState.UNKNOWN, "The program ended while it was being sent.", at)


def deliver(pk: int, *, at: datetime, mailer: str = "default") -> bool:
    """Try one mail now; whether it went. False also where somebody else has it or it is not due."""
    mail = _take(pk, at)
    if mail is None:
        return False
    try:
        message = _message(mail)
        connection = mailers[mailer]
        connection.open()
    except (smtplib.SMTPException, OSError, ValueError) as error:
        # Not even begun: it certainly did not go.
        _failed(mail, error, at, lasting=isinstance(error, smtplib.SMTPAuthenticationError | ValueError))
        return False
    try:
        connection.send_messages([message])
    except (smtplib.SMTPResponseException, smtplib.SMTPRecipientsRefused) as error:
        _failed(mail, error, at, lasting=_code(error) >= 500)
        return False
    except (smtplib.SMTPException, OSError) as error:
        _settle(pk, MailState.UNKNOWN, _in_words(error), at)
        return False
    finally:
        _close(connection)
    _settle(pk, MailState.SENT, "", at)
    return True


def _close(connection: object) -> None:
    try:
        connection.close()  # type: ignore[attr-defined]
    except (smtplib.SMTPException, OSError):
        logger.warning("The mail server broke off at the good-bye")


def _take(pk: int, at: datetime) -> Mail | None:
    with transaction.atomic():
        rows = Mail.objects.select_for_update(of=("self",)).select_related("job")
        mail = rows.filter(
            pk=pk, state__in=[MailState.WAITING, MailState.FAILED], next_try_at__lte=at
        ).first()
        if mail is None:
            return None
        mail.state, mail.sending_since, mail.attempts = MailState.SENDING, at, mail.attempts + 1
        mail.save(update_fields=["state", "sending_since", "attempts"])
    return mail


def _settle(
    pk: int, state: MailState, trouble: str, at: datetime, next_try_at: datetime | None = None
) -> None:
    with transaction.atomic():
        mail = Mail.objects.select_for_update(of=("self",)).select_related("job").get(pk=pk)
        # A program that was thought to have ended may come back: what is known then is kept.
        late = mail.state == MailState.UNKNOWN and state == MailState.SENT
        if mail.state != MailState.SENDING and not late:
            return
        mail.state, mail.trouble, mail.next_try_at = state, trouble[:300], next_try_at
        mail.sent_at = at if state == MailState.SENT else None
        mail.save(update_fields=["state", "trouble", "next_try_at", "sent_at"])
        verb = {MailState.SENT: "sent", MailState.FAILED: "failed"}.get(state, "not known whether sent")
        record(verb, mail, by=SYSTEM, at=at, after={"to": mail.to}, why=trouble[:200])


def _failed(mail: Mail, error: Exception, at: datetime, *, lasting: bool) -> None:
    again = None if lasting or mail.attempts > len(WAITS) else at + WAITS[mail.attempts - 1]
    logger.warning("The mail “%s” did not go: %s", mail, error)
    _settle(mail.pk, MailState.FAILED, _in_words(error), at, again)


def _code(error: Exception) -> int:
    """The server's code; of recipients refused the lowest, since one "later" is worth another try."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return min((code for code, _ in error.recipients.values()), default=550)
    return int(getattr(error, "smtp_code", 0))


def _in_words(error: Exception) -> str:
    match error:
        case smtplib.SMTPAuthenticationError():
            return "The mail server does not accept our name and password."
        case smtplib.SMTPRecipientsRefused():
            told = "; ".join(f"{to}: {_told(said)}" for to, (_, said) in error.recipients.items())
            return f"The mail server does not take the address. {told}"
        case smtplib.SMTPResponseException():
            return f"The mail server answered {error.smtp_code}: {_told(error.smtp_error)}"
        case smtplib.SMTPServerDisconnected():
            return "The mail server broke off."
        case TimeoutError():
            return "The mail server did not answer in time."
        case OSError():
            return f"The mail server could not be reached: {error.strerror or error}"
    return f"It could not be sent: {error}"


def _told(said: bytes | str) -> str:
    text = said.decode(errors="replace") if isinstance(said, bytes) else said
    return " ".join(text.split())


def _sender() -> Address:
    return Address(display_name=" ".join(Studio.current().name.split()), addr_spec=settings.MAIL_FROM)


def _message(mail: Mail) -> EmailMessage:
    """Plain text, its papers, and the Message-ID that the row keeps."""
    message = EmailMessage(
        subject=mail.subject,
        body=mail.body,
        from_email=str(_sender()),
        to=[mail.to],
        headers={"Message-ID": mail.message_id},
    )
    for paper in mail.attached.all():
        message.attach(paper.name, bytes(paper.content), "application/pdf")
    return message
