"""Calendars of deliveries and installations: the secret links to them, and what they have said so far."""

from django.db import models
from django.db.models import F, Q

from .customer_links import digest_of, new_seed, readable_token


class CalendarLink(models.Model):
    """A secret address of one person's calendar, or of the studio's where `person` is null.

    As with a customer's link the token is not stored: the installation's secret key gives it back from `seed`, so that
    the address can be copied again, and a copy of the database opens nothing.
    """

    person = models.ForeignKey(
        "Person", on_delete=models.CASCADE, null=True, blank=True, related_name="calendar_links"
    )
    seed = models.CharField(max_length=43, default=new_seed, editable=False)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["person"],
                condition=Q(revoked_at__isnull=True, person__isnull=False),
                name="one_calendar_link_a_person",
            ),
        ]

    def __str__(self) -> str:
        return f"calendar of {self.person or 'the studio'}"

    @property
    def token(self) -> str:
        """The token, for an address; empty where the secret key has changed since the link was made."""
        return readable_token(self.seed, self.digest)

    @classmethod
    def opened_by(cls, token: str) -> "CalendarLink | None":
        """The link that a token opens; None for a wrong and a revoked one alike."""
        live = cls.objects.filter(revoked_at__isnull=True, digest=digest_of(token))
        link: CalendarLink | None = live.select_related("person").first()
        return link if link is None or link.person is None or link.person.active else None


class CalendarEntry(models.Model):
    """What calendars were last told of one delivery, installation or promise.

    A reader takes a change only with a higher `sequence` (RFC 5545, 3.8.7.4), so what was said has to be kept.
    Times for work of a crew, `day` for a promise. An entry is never deleted while calendars may still show it: what is
    off is cancelled.
    """

    job = models.ForeignKey("Job", on_delete=models.CASCADE, related_name="calendar_entries")
    # Of a promise: null. The number is kept when the operation is gone, so that the entry can be cancelled.
    operation_number = models.BigIntegerField(null=True, blank=True)
    person = models.ForeignKey(
        "Person", on_delete=models.SET_NULL, null=True, blank=True, related_name="calendar_entries"
    )
    uid = models.CharField(max_length=80, unique=True)
    summary = models.CharField(max_length=200)
    place = models.TextField(blank=True)
    day = models.DateField(null=True, blank=True)
    starts_at = models.DateTimeField(null=True, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)
    cancelled = models.BooleanField(default=False)
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "calendar entries"
        constraints = [
            models.UniqueConstraint(
                fields=["job", "operation_number"], name="one_calendar_entry_an_operation"
            ),
            models.UniqueConstraint(
                fields=["job"],
                condition=Q(operation_number__isnull=True),
                name="one_calendar_entry_a_promise",
            ),
            models.CheckConstraint(
                condition=Q(day__isnull=False, starts_at__isnull=True, ends_at__isnull=True)
                | Q(day__isnull=True, starts_at__isnull=False, ends_at__gt=F("starts_at")),
                name="calendar_entry_day_or_times",
            ),
        ]

    def __str__(self) -> str:
        return self.summary
