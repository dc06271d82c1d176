"""Mail to customers: its drafts, what waits to go out, what went, and the words that the studio starts from."""

from django.db import models
from django.db.models import Q
from django.urls import reverse


class MailKind(models.TextChoices):
    """What a mail to a customer is about."""

    QUOTE = "quote", "quote"
    APPROVAL = "approval", "approval wanted"
    AT_RISK = "at-risk", "date at risk"
    NEW_DATE = "new-date", "changed date"
    READY = "ready", "ready"
    INSTALLED = "installed", "installed"


class MailState(models.TextChoices):
    """A draft is sent by a person; from then on it is the outbox's until it has gone, or a person has to decide."""

    DRAFT = "draft", "draft"
    WAITING = "waiting", "waiting"
    SENDING = "sending", "being sent"
    SENT = "sent", "sent"
    FAILED = "failed", "failed"
    UNKNOWN = "unknown", "not known whether it went"
    DISCARDED = "discarded", "discarded"


class MailQuerySet(models.QuerySet["Mail"]):
    def asking(self) -> "MailQuerySet":
        """Those that somebody has to look at: they failed, or nobody knows whether they went."""
        return self.filter(state__in=[MailState.FAILED, MailState.UNKNOWN])


class Mail(models.Model):
    """One mail of a job. `happening` names what it tells of, once in the job: a second draft of it is never made.

    From the tap on Send `message_id` stays the same, whatever the number of attempts.
    """

    job = models.ForeignKey("Job", on_delete=models.CASCADE, related_name="mail")
    kind = models.CharField(max_length=9, choices=MailKind)
    happening = models.CharField(max_length=60, blank=True)
    to = models.CharField(max_length=254, blank=True)
    subject = models.CharField(max_length=150)
    body = models.TextField()
    # The papers that go with it, by their names in the register; null until somebody chose: all that are offered.
    papers = models.JSONField(null=True, blank=True)
    state = models.CharField(max_length=9, choices=MailState, default=MailState.DRAFT)
    made_at = models.DateTimeField()
    sent_by = models.ForeignKey("Account", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    attempts = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField(null=True, blank=True)
    sending_since = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    message_id = models.CharField(max_length=120, blank=True)
    trouble = models.CharField("why it did not go", max_length=300, blank=True)

    objects = MailQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        verbose_name_plural = "mail"
        indexes = [
            models.Index(fields=["state", "next_try_at"]),
            models.Index(fields=["job", "-made_at"]),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "kind", "happening"], condition=~Q(happening=""), name="one_mail_a_happening"
            ),
            models.UniqueConstraint(
                fields=["message_id"], condition=~Q(message_id=""), name="one_mail_a_message_id"
            ),
            models.CheckConstraint(condition=Q(kind__in=MailKind.values), name="mail_kind"),
            models.CheckConstraint(condition=Q(state__in=MailState.values), name="mail_state"),
            models.CheckConstraint(
                condition=Q(state=MailState.SENT, sent_at__isnull=False)
                | (~Q(state=MailState.SENT) & Q(sent_at__isnull=True)),
                name="mail_sent_has_its_time",
            ),
            models.CheckConstraint(
                condition=Q(state__in=[MailState.DRAFT, MailState.DISCARDED]) | ~Q(message_id=""),
                name="mail_on_its_way_has_its_id",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job.number}: {self.subject}"

    def get_absolute_url(self) -> str:
        return reverse("mail", args=[self.pk])

    @property
    def trouble_told(self) -> str:
        """Why it did not go, as a sentence among others: servers end theirs with a period or without."""
        return f"{self.trouble.rstrip(' .')}." if self.trouble else ""


class MailPaper(models.Model):
    """A paper that goes with a mail, byte for byte as it was when somebody tapped Send."""

    mail = models.ForeignKey(Mail, on_delete=models.CASCADE, related_name="attached")
    name = models.CharField("name of the file", max_length=80)
    content = models.BinaryField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name


class MailTemplate(models.Model):
    """The studio's own words for one kind of mail; without a row the usual ones are taken."""

    kind = models.CharField(max_length=9, choices=MailKind, unique=True)
    subject = models.CharField(max_length=150)
    body = models.TextField()

    class Meta:
        ordering = ["kind"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=MailKind.values), name="mail_template_kind")
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
