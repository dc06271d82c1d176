"""What people and the lead have said of hours: a day confirmed by its person, a week closed by the lead."""

from django.db import models
from django.db.models import Q


class ConfirmedDay(models.Model):
    """A person's word that the hours of one day are right. `minutes` is what it came to then."""

    person = models.ForeignKey("Person", on_delete=models.PROTECT, related_name="confirmed_days")
    day = models.DateField()
    minutes = models.PositiveIntegerField()
    confirmed_at = models.DateTimeField()

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["person", "day"], name="one_word_for_a_day_of_a_person"),
            models.CheckConstraint(condition=Q(minutes__lte=24 * 60 + 60), name="confirmed_day_fits_a_day"),
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.day}"


class ClosedWeek(models.Model):
    """A week whose hours are settled. What changes in it afterwards needs a reason.

    `minutes` is what each person's week came to when it was closed, by the person's id: a tap that a tablet sends
    late still counts, and shows as a difference.
    """

    monday = models.DateField(unique=True)
    closed_at = models.DateTimeField()
    closed_by = models.ForeignKey("Account", on_delete=models.SET_NULL, null=True, blank=True)
    minutes = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-monday"]

    def __str__(self) -> str:
        return f"week of {self.monday}"
