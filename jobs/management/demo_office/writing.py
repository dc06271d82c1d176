"""What the demo's office has written to customers, something in each state of the outbox; and the places of work."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import OuterRef, Subquery

from jobs import models
from jobs.actions.mail_drafts import INSTALLATION, draft_of, gate_named
from jobs.documents.mail_papers import attachments
from jobs.management.demo.rows import Rows, moment
from jobs.models import Mail, MailKind, MailState, Stage

HOUR = timedelta(hours=1)
# Where work is set in, and how one gets there; invented.
SITES = (
    ("3 Vestry Close\nTamarack Ferry, IL", "The verger", "555-0171", "Scaffold in the west porch. No power."),
    ("27 Granary Walk, second floor\nLower Sedge, IL", "The janitor", "555-0172", "Freight lift 6 ft 6 in."),
    (
        "Lot 8, Heron Lane\nNorthwater, IL",
        "The site foreman",
        "555-0173",
        "Park behind the shed; mud after rain.",
    ),
    ("114 Oxbow Rise\nOxbow Hills, IL", "The neighbor at 112", "555-0174", "Eleven steps from the street."),
)
REFUSED = "The mail server does not take the address. {to}: No such user here"
AWAY = "The mail server could not be reached: Connection refused"
BROKE_OFF = "The mail server broke off."


def write_sites() -> None:
    """Somewhere else than the customer's own address, for every second job that is to be installed."""
    work = models.Operation.objects.filter(kind__slug=INSTALLATION, job__stage=Stage.ORDERED)
    jobs = models.Job.objects.filter(operations__in=work).distinct().order_by("pk")
    for place, job in enumerate(jobs):
        if place % 2 == 0:
            address, contact, phone, access = SITES[place // 2 % len(SITES)]
            job.site_address, job.site_contact = address, contact
            job.site_phone, job.site_access = phone, access
            job.save(update_fields=["site_address", "site_contact", "site_phone", "site_access"])


def write_mail(rows: Rows, office: models.Account) -> None:
    """Mail of what has happened until now; what happens next the product drafts by itself."""
    _Outbox(moment(rows.now), office).write()


class _Outbox:
    def __init__(self, now: datetime, office: models.Account) -> None:
        self.now, self.office = now, office

    def write(self) -> None:
        self.quotes()
        self.approvals()
        self.new_days()
        self.installed()
        self.trouble()

    def quotes(self) -> None:
        """The last version of each job: the newest not sent yet, one that nobody needed."""
        last = models.Quote.objects.filter(job=OuterRef("job")).exclude(state="draft").order_by("-version")
        quotes = models.Quote.objects.filter(pk=Subquery(last.values("pk")[:1])).order_by("-sent_at", "pk")
        for place, quote in enumerate(quotes.select_related("job__customer")):
            assert quote.sent_at is not None
            mail = self.draft(MailKind.QUOTE, quote.job, f"quote:{quote.pk}", quote.sent_at)
            if place == 1:
                mail.state = MailState.DISCARDED
            elif place:
                self.sent(mail, quote.sent_at + HOUR)
            mail.save()

    def approvals(self) -> None:
        """Who has a page is asked there: one was, another is still to be."""
        gates = models.Gate.objects.filter(kind="drawing", job__stage=Stage.ORDERED, cleared=None)
        for place, gate in enumerate(gates.filter(job__customer_links__isnull=False).select_related("job")):
            at = self.now - timedelta(days=5 - place)
            mail = self.draft(MailKind.APPROVAL, gate.job, gate_named(gate), at)
            if place == 0 and "[[" not in mail.body:
                self.sent(mail, at + HOUR)
            mail.save()

    def new_days(self) -> None:
        """Those of open jobs, as they were told."""
        jobs = models.Job.objects.filter(stage=Stage.ORDERED).select_related("customer").order_by("pk")
        for job in jobs:
            given = list(models.Promise.objects.filter(job=job).order_by("-given_at", "-pk"))
            if len({promise.day for promise in given}) < 2:
                continue
            mail = self.draft(MailKind.NEW_DATE, job, f"promise:{given[0].pk}", given[0].given_at)
            if "[[" not in mail.body:
                self.sent(mail, given[0].given_at + HOUR)
            mail.save()

    def installed(self) -> None:
        """Of the jobs that were finished last; the newest mail with the care letter as it went."""
        done = models.Job.objects.filter(stage=Stage.COMPLETE, operations__kind__slug=INSTALLATION)
        for place, job in enumerate(done.distinct().order_by("-closed_at").select_related("customer")[:5]):
            assert job.closed_at is not None
            mail = self.draft(MailKind.INSTALLED, job, "installed", job.closed_at)
            self.sent(mail, job.closed_at + HOUR)
            mail.save()
            for paper in attachments(mail.kind, job) if place == 0 else []:
                name = f"{job.number}-{paper.slug}.pdf"
                models.MailPaper.objects.create(mail=mail, name=name, content=paper.make())

    def trouble(self) -> None:
        """One that a server refused, one that is tried again, one of which nobody knows, and one that waits."""
        free = models.Job.objects.filter(stage=Stage.ORDERED, mail=None).select_related("customer")
        states = (
            (MailState.FAILED, REFUSED, None),
            (MailState.FAILED, AWAY, 2 * HOUR),
            (MailState.UNKNOWN, BROKE_OFF, None),
            (MailState.WAITING, "", 20 * HOUR),
        )
        for place, (job, (state, trouble, wait)) in enumerate(
            zip(free.order_by("pk")[:4], states, strict=False)
        ):
            mail = self.draft(MailKind.QUOTE, job, "", self.now - (place + 1) * HOUR)
            mail.subject, mail.body = _a_question(job)
            mail.state, mail.sent_by, mail.trouble = state, self.office, trouble.format(to=mail.to)
            mail.message_id = f"<demo-{mail.pk}@studio.example>"
            mail.attempts, mail.sending_since = (4, mail.made_at) if trouble else (0, None)
            mail.next_try_at = self.now + wait if wait else None
            mail.save()

    def draft(self, kind: MailKind, job: models.Job, happening: str, at: datetime) -> Mail:
        subject, body = draft_of(kind, job)
        to = job.customer.email
        values = {"kind": kind, "happening": happening, "to": to, "subject": subject, "body": body}
        return Mail.objects.create(job=job, made_at=min(at, self.now), **values)

    def sent(self, mail: Mail, at: datetime) -> None:
        mail.state, mail.sent_by, mail.attempts = MailState.SENT, self.office, 1
        mail.sent_at = mail.sending_since = min(at, self.now)
        mail.message_id = f"<demo-{mail.pk}@studio.example>"


def _a_question(job: models.Job) -> tuple[str, str]:
    return (
        f"A question about {job.title} ({job.number})",
        f"Dear {job.customer.contact or job.customer.name},\n\nmay we see you about {job.title} next week? "
        "We would like to show you the glass by daylight.\n\nKind regards\nCattail Bend Glass\n",
    )
