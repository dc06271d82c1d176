"""Drafts of mail: made when something happens that a customer should hear of, once each, and by hand.

They are written in the transaction of what happened, so that neither is there without the other.
"""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction
from django.db.models import CharField, Exists, OuterRef, QuerySet, Value
from django.db.models.functions import Cast, Concat

from jobs.models import (
    Gate,
    GateKind,
    Job,
    Mail,
    MailKind,
    MailState,
    MailTemplate,
    May,
    Operation,
    Panel,
    Stage,
)

from .base import SYSTEM, Actor, Refused, record
from .mail_words import check_words, fill, values_of, words_of

INSTALLATION = "installation"
# What is told of work that is done.
DONE = (MailKind.READY, MailKind.INSTALLED)
MOST_LETTERS = 20_000
UNFINISHED = (MailState.DRAFT, MailState.WAITING, MailState.SENDING, MailState.FAILED, MailState.UNKNOWN)


def draft_of(kind: str, job: Job) -> tuple[str, str]:
    """Subject and text for a job as it stands."""
    subject, body = words_of(kind)
    values = values_of(job)
    one_line = {name: " ".join(value.split()) for name, value in values.items()}
    return fill(subject, one_line)[:150], fill(body, values)


def draft_for(kind: str, job: Job, happening: str, *, at: datetime) -> Mail | None:
    """A draft that tells of `happening`; None where there was one already, whatever became of it."""
    if Mail.objects.filter(job=job, kind=kind, happening=happening).exists():
        return None
    subject, body = draft_of(kind, job)
    try:
        with transaction.atomic():
            mail = Mail.objects.create(
                job=job,
                kind=kind,
                happening=happening,
                to=job.customer.email,
                subject=subject,
                body=body,
                made_at=at,
            )
            record("drafted", mail, by=SYSTEM, at=at, after={"about": mail.get_kind_display()})
            drop_drafts(job, kind, why="another took its place", at=at, keep=mail)
    except IntegrityError:
        return None
    return mail


def drop_drafts(
    job: Job, *kinds: str, why: str, at: datetime, keep: Mail | None = None, again: bool = False
) -> None:
    """Discard drafts of what happened that nobody has sent, because it is not so any more, or is said by another.
    `again`: should the same happen once more, it is drafted once more. To be called in the transaction of what
    happened."""
    rows = Mail.objects.filter(job=job, kind__in=kinds, state=MailState.DRAFT).exclude(happening="")
    for mail in rows.exclude(pk=keep.pk if keep else 0).select_for_update(of=("self",)):
        mail.state = MailState.DISCARDED
        mail.happening = f"{mail.happening[:40]}, {mail.pk}" if again else mail.happening
        mail.save(update_fields=["state", "happening"])
        record("discarded", mail, by=SYSTEM, at=at, before={"subject": mail.subject}, why=why)


def notice_done(*, at: datetime, job: Job | None = None) -> list[Mail]:
    """Drafts for open jobs whose drawings are all there to be approved, whose panels are all ready, or which are
    installed, of which nobody wrote yet. All jobs, or only `job`; with nothing new three queries."""
    jobs = Job.objects.filter(stage=Stage.ORDERED) if job is None else Job.objects.filter(pk=job.pk)
    found = _notice_drawings(jobs, at)
    work = Operation.objects.filter(job=OuterRef("pk"), skipped=False)
    there = Mail.objects.filter(job=OuterRef("pk"))
    of_panels = work.filter(panel__isnull=False)
    ready = jobs.filter(
        Exists(of_panels),
        ~Exists(of_panels.exclude(finished_at__lte=at)),
        ~Exists(there.filter(kind=MailKind.READY, happening="ready")),
    )
    installed = jobs.filter(
        Exists(work.filter(kind__slug=INSTALLATION)),
        ~Exists(work.filter(kind__slug=INSTALLATION).exclude(finished_at__lte=at)),
        ~Exists(there.filter(kind=MailKind.INSTALLED, happening="installed")),
    )
    found += [draft_for(MailKind.READY, each, "ready", at=at) for each in ready.select_related("customer")]
    found += [
        draft_for(MailKind.INSTALLED, each, "installed", at=at)
        for each in installed.select_related("customer")
    ]
    return [mail for mail in found if mail is not None]


def _notice_drawings(jobs: QuerySet[Job], at: datetime) -> list[Mail | None]:
    """Asking for an approval waits until there is a drawing of each panel to look at."""
    panels = Panel.objects.filter(job=OuterRef("job"))
    told = Mail.objects.filter(job=OuterRef("job"), kind=MailKind.APPROVAL, happening=OuterRef("named"))
    gates = (
        Gate.objects.filter(job__in=jobs, kind=GateKind.DRAWING, cleared__isnull=True)
        .filter(Exists(panels), ~Exists(panels.filter(drawing__isnull=True)))
        .annotate(named=Concat(Value("gate:"), Cast("pk", CharField())))
        .filter(~Exists(told))
        .select_related("job__customer")
    )
    return [draft_for(MailKind.APPROVAL, gate.job, gate_named(gate), at=at) for gate in gates]


def gate_named(gate: Gate) -> str:
    """What a mail tells of that asks for what a gate waits for."""
    return f"gate:{gate.pk}"


def check_office(by: Actor) -> None:
    if by.account is None or not by.is_office:
        raise Refused("Only the office writes to customers.")


@transaction.atomic
def write_draft(job: Job, kind: str, *, by: Actor, at: datetime) -> Mail:
    """A draft by hand. Refuses one while another of that kind is not sent yet."""
    check_office(by)
    if kind not in MailKind.values:
        raise Refused("There is no such kind of mail.")
    job = Job.objects.select_for_update().get(pk=job.pk)
    if Mail.objects.filter(job=job, kind=kind, state__in=UNFINISHED).exists():
        raise Refused(f"There is a mail about that already which is not sent: {MailKind(kind).label}.")
    subject, body = draft_of(kind, job)
    mail = Mail.objects.create(
        job=job, kind=kind, to=job.customer.email, subject=subject, body=body, made_at=at
    )
    record("drafted", mail, by=by, at=at, after={"about": mail.get_kind_display()})
    return mail


def check_to(to: str) -> str:
    """One address that mail may go to. One, since of several a mail server may take some and refuse the others."""
    to = to.strip()
    if not to:
        raise Refused("Say to whom it goes.", "to")
    try:
        validate_email(to)
    except ValidationError:
        raise Refused(f"“{to}” is no address for mail.", "to") from None
    return to


def check_text(subject: str, body: str) -> tuple[str, str]:
    """Subject and text as they may go out. A line end in the subject would begin another header (RFC 5322, 2.2)."""
    subject, body = subject.strip(), body.replace("\r\n", "\n").replace("\r", "\n").strip() + "\n"
    if any(ord(letter) < 32 or ord(letter) == 127 for letter in subject):
        raise Refused("The subject is one line of plain letters.", "subject")
    if not subject or len(subject) > 150:
        raise Refused("Give it a subject of at most 150 letters.", "subject")
    if not body.strip() or len(body) > MOST_LETTERS or "\0" in body:
        raise Refused(f"Write a text of at most {MOST_LETTERS} letters.", "body")
    return subject, body


def locked(mail: Mail, by: Actor) -> Mail:
    check_office(by)
    return Mail.objects.select_for_update(of=("self",)).select_related("job__customer").get(pk=mail.pk)


def locked_draft(mail: Mail, by: Actor) -> Mail:
    mail = locked(mail, by)
    if mail.state != MailState.DRAFT:
        raise Refused(f"It is no draft any more: {mail.get_state_display()}.")
    return mail


@transaction.atomic
def change_draft(
    mail: Mail, *, to: str, subject: str, body: str, papers: list[str], by: Actor, at: datetime
) -> Mail:
    """What it says, to whom, and which papers go with it. Somebody may save it without an address."""
    mail = locked_draft(mail, by)
    mail.to = check_to(to) if to.strip() else ""
    mail.subject, mail.body = check_text(subject, body)
    mail.papers = list(papers)
    mail.save(update_fields=["to", "subject", "body", "papers"])
    record("changed", mail, by=by, at=at, after={"to": mail.to, "subject": mail.subject})
    return mail


@transaction.atomic
def write_anew(mail: Mail, *, by: Actor, at: datetime) -> Mail:
    """The words it would start with today, in place of what stands there."""
    mail = locked_draft(mail, by)
    before = mail.subject
    mail.subject, mail.body = draft_of(mail.kind, mail.job)
    mail.to = mail.to or mail.job.customer.email
    mail.save(update_fields=["to", "subject", "body"])
    record("written anew", mail, by=by, at=at, before={"subject": before}, after={"subject": mail.subject})
    return mail


@transaction.atomic
def discard_draft(mail: Mail, *, by: Actor, at: datetime) -> Mail:
    """Not to be sent. The row stays, so that the same happening is not drafted again."""
    mail = locked_draft(mail, by)
    mail.state = MailState.DISCARDED
    mail.save(update_fields=["state"])
    record("discarded", mail, by=by, at=at, before={"subject": mail.subject})
    return mail


@transaction.atomic
def change_template(kind: str, *, subject: str, body: str, by: Actor, at: datetime) -> MailTemplate:
    """The studio's own words for a kind of mail. Drafts that are there already keep theirs."""
    if not by.may(May.SET_UP):
        raise Refused("Only the lead changes the words of mail.")
    subject, body = check_text(subject, body)
    check_words(subject, "subject")
    check_words(body, "body")
    row, _ = MailTemplate.objects.update_or_create(kind=kind, defaults={"subject": subject, "body": body})
    record("changed", row, by=by, at=at, after={"subject": subject})
    return row


@transaction.atomic
def usual_template(kind: str, *, by: Actor, at: datetime) -> None:
    """The usual words again."""
    if not by.may(May.SET_UP):
        raise Refused("Only the lead changes the words of mail.")
    row = MailTemplate.objects.filter(kind=kind).first()
    if row is not None:
        record("made usual again", row, by=by, at=at, before={"subject": row.subject})
        row.delete()
