from django.db import models
from django.db.models import F, Q


class TimeEntryQuerySet(models.QuerySet["TimeEntry"]):
    def valid(self) -> "TimeEntryQuerySet":
        """Without the ones that were corrected or taken back."""
        return self.filter(voided_at__isnull=True)

    def running(self) -> "TimeEntryQuerySet":
        return self.valid().filter(stopped_at__isnull=True)

    def counted(self) -> "TimeEntryQuerySet":
        """What counts as work: stopped, not taken back, and not questioned."""
        return self.valid().filter(stopped_at__isnull=False, questioned=False)


class TimeEntry(models.Model):
    """A stretch of work of one person on one operation: the raw start and stop, as they happened.

    `minutes` is set with the stop: the span less the person's own breaks in it. A correction never changes a row:
    the old one is voided and stays, the new one points to it.
    """

    class Source(models.TextChoices):
        TAPPED = "tapped", "tapped at the bench"
        SPAN = "span", "typed as from and to"
        HOURS = "hours", "typed as hours of a day"

    person = models.ForeignKey("Person", on_delete=models.PROTECT, related_name="entries")
    operation = models.ForeignKey("Operation", on_delete=models.PROTECT, related_name="entries")
    started_at = models.DateTimeField()
    stopped_at = models.DateTimeField(null=True, blank=True)
    minutes = models.PositiveIntegerField(null=True, blank=True)
    pieces_done = models.PositiveIntegerField(default=0)
    note = models.CharField(max_length=200, blank=True)
    source = models.CharField(max_length=6, choices=Source, default=Source.TAPPED)
    client_id = models.UUIDField("the tap that made it", unique=True, null=True, blank=True)
    # The timer was left on past the end of the shift and nobody has said yet when the work stopped.
    questioned = models.BooleanField(default=False)
    voided_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    objects = TimeEntryQuerySet.as_manager()

    class Meta:
        ordering = ["started_at", "pk"]
        verbose_name_plural = "time entries"
        indexes = [
            models.Index(fields=["person", "started_at"]),
            models.Index(fields=["operation", "started_at"]),
            models.Index(fields=["person"], condition=Q(questioned=True), name="time_entry_questioned"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["person"],
                condition=Q(stopped_at__isnull=True, voided_at__isnull=True),
                name="one_running_entry_per_person",
            ),
            models.CheckConstraint(
                condition=Q(stopped_at__isnull=True) | Q(stopped_at__gt=F("started_at")),
                name="time_entry_stops_after_it_starts",
            ),
            models.CheckConstraint(
                condition=Q(stopped_at__isnull=True, minutes__isnull=True)
                | Q(stopped_at__isnull=False, minutes__isnull=False),
                name="time_entry_minutes_with_the_stop",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.started_at:%Y-%m-%d %H:%M}"

    @property
    def is_running(self) -> bool:
        return self.stopped_at is None and self.voided_at is None
