from functools import cached_property
from typing import Any

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models import Q


class Role(models.TextChoices):
    LEAD = "lead", "lead"
    OFFICE = "office", "office"
    BENCH = "bench", "bench"


class May(models.TextChoices):
    """What is asked for before somebody does something. Who may what stands in permissions.STANDARD."""

    LEAD_FLOOR = "lead_floor", "lead the floor: the order of work, what changes during a day, what came late"
    KEEP_HOURS = "keep_hours", "keep everybody’s hours: correct them and close weeks"
    RUN_OFFICE = "run_office", "run the office: jobs, customers, dates, quotes, mail and papers"
    WORK_AT_BENCH = "work_at_bench", "work at the benches"
    SET_RATES = "set_rates", "set the rates that estimates reckon with"
    SEE_COSTS = "see_costs", "see what labor costs, and what a job has earned"
    SET_UP = "set_up", "set up the studio: stations, people and what they cost, prices, words"
    KEEP_ACCOUNTS = "keep_accounts", "keep accounts: who may sign in, from where, and do what"


class Account(AbstractUser):
    """Who signs in: the lead, somebody of the office, or the tablet of a station."""

    role = models.CharField(max_length=6, choices=Role, default=Role.BENCH)
    station = models.ForeignKey("Station", on_delete=models.SET_NULL, null=True, blank=True)
    person = models.ForeignKey("Person", on_delete=models.SET_NULL, null=True, blank=True)
    # Whose pages it opens; null: those of all. A tablet is of the workshop of its station.
    workshop = models.ForeignKey("Workshop", on_delete=models.PROTECT, null=True, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(role__in=Role.values), name="account_role")]
        permissions = [(may.value, may.label) for may in May]  # Rows of Django's own, which `migrate` writes.

    @cached_property
    def granted(self) -> frozenset[str]:
        """The names of what this account may (May), through the groups it is in: read once, with the account itself
        where it came of permissions.with_granted."""
        read: Any = self
        if "granted_words" not in self.__dict__:
            from .permissions import with_granted

            read = with_granted(Account.objects.filter(pk=self.pk)).get()
        return frozenset((read.granted_words or "").split())

    def may(self, what: May) -> bool:
        return what.value in self.granted

    @property
    def is_lead(self) -> bool:
        return self.may(May.LEAD_FLOOR)

    @property
    def is_office(self) -> bool:
        """Whether this account may do what the office does; the lead may do that as well."""
        return self.may(May.RUN_OFFICE)
