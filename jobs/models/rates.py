"""What work takes: a set-up and rates per driver for each kind of operation, with the day each holds from."""

from datetime import date

from django.db import models
from django.db.models import Q


class DatedQuerySet[Row: models.Model](models.QuerySet[Row]):
    def on(self, day: date) -> "DatedQuerySet[Row]":
        """Those accepted by that day, the oldest first: of two for one thing the later one holds."""
        return self.filter(since__lte=day).order_by("since", "pk")


class KindSetup(models.Model):
    """Set-up minutes and learning slope of one kind, from a day on; of several the one with the newest `since` holds.

    The slope is from copy to copy: 1 is no learning, 0.8 takes a fifth off with each doubling.
    """

    kind = models.ForeignKey("OperationKind", on_delete=models.CASCADE, related_name="setups")
    minutes = models.DecimalField("set-up minutes", max_digits=9, decimal_places=3, default=0)
    slope = models.DecimalField("learning slope", max_digits=4, decimal_places=3, default=1)
    since = models.DateField("holds from")
    accepted_by = models.ForeignKey(
        "Account", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)

    objects = DatedQuerySet["KindSetup"].as_manager()

    class Meta:
        ordering = ["kind", "since"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "since"], name="one_set_up_of_a_kind_per_day"),
            models.CheckConstraint(condition=Q(minutes__gte=0, minutes__lte=100000), name="set_up_minutes"),
            models.CheckConstraint(condition=Q(slope__gte=0.5, slope__lte=1), name="set_up_slope"),
        ]

    def __str__(self) -> str:
        return f"set-up of {self.kind} from {self.since}"


class Rate(models.Model):
    """Minutes of one kind per driver, from a day on; of several the one with the newest `since` holds.

    `driver` is a word of jobs.estimating.rates.DRIVERS; `step` is a step of the kind (a wheel), empty where the kind
    has only one.
    """

    kind = models.ForeignKey("OperationKind", on_delete=models.CASCADE, related_name="rates")
    step = models.CharField(max_length=40, blank=True, default="")
    driver = models.CharField(max_length=30)
    minutes = models.DecimalField("minutes per driver", max_digits=10, decimal_places=4)
    since = models.DateField("holds from")
    accepted_by = models.ForeignKey(
        "Account", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)

    objects = DatedQuerySet["Rate"].as_manager()

    class Meta:
        ordering = ["kind", "step", "driver", "since"]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "step", "driver", "since"], name="one_rate_of_a_driver_per_day"
            ),
            models.CheckConstraint(condition=Q(minutes__gte=0, minutes__lte=100000), name="rate_minutes"),
            models.CheckConstraint(condition=~Q(driver=""), name="rate_has_a_driver"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} per {self.driver} from {self.since}"
