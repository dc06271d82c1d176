from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models import Q


class Role(models.TextChoices):
    LEAD = "lead", "lead"
    OFFICE = "office", "office"
    BENCH = "bench", "bench"


class Account(AbstractUser):
    """Who signs in: the lead, somebody of the office, or the tablet of a station."""

    role = models.CharField(max_length=6, choices=Role, default=Role.BENCH)
    station = models.ForeignKey("Station", on_delete=models.SET_NULL, null=True, blank=True)
    person = models.ForeignKey("Person", on_delete=models.SET_NULL, null=True, blank=True)
    # Whose pages it opens; null: those of all. A tablet is of the workshop of its station.
    workshop = models.ForeignKey("Workshop", on_delete=models.PROTECT, null=True, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(role__in=Role.values), name="account_role")]

    @property
    def is_lead(self) -> bool:
        return self.role == Role.LEAD

    @property
    def is_office(self) -> bool:
        """Whether this account may do what the office does; the lead may do that as well."""
        return self.role in (Role.LEAD, Role.OFFICE)
