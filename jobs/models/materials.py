"""What is bought: suppliers, materials, and what each job needs of them by when."""

from datetime import date, timedelta
from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from .kinds import GateKind, OperationKind


class Supplier(models.Model):
    """Who sells or works for us, and how many days it takes from the order."""

    name = models.CharField(max_length=80, unique=True)
    days = models.PositiveSmallIntegerField("days from order to arrival", default=7)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    notes = models.TextField(blank=True)
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="supplier_name_not_empty"),
            models.CheckConstraint(condition=Q(days__lte=1000), name="supplier_days"),
        ]

    def __str__(self) -> str:
        return self.name


class Material(models.Model):
    """Solder, cement, resist, abrasive: so much of it per driver of the takeoff. Glass and came have rows of their own.

    `driver` is a word of jobs.estimating.rates.DRIVERS, or "panel" for each copy; empty: nothing by rate.
    """

    name = models.CharField(max_length=60, unique=True)
    unit = models.CharField(max_length=12, default="kg")
    price = models.DecimalField("price of a unit", max_digits=9, decimal_places=2, default=0)
    driver = models.CharField(max_length=30, blank=True)
    amount = models.DecimalField("units per driver", max_digits=10, decimal_places=4, default=0)
    # Needed where the route has one of these; none: for every panel that has the driver.
    kinds = models.ManyToManyField(OperationKind, blank=True, related_name="materials")
    supplier = models.ForeignKey(
        Supplier, on_delete=models.SET_NULL, null=True, blank=True, related_name="materials"
    )
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="material_name_not_empty"),
            models.CheckConstraint(condition=Q(price__gte=0), name="material_price"),
            models.CheckConstraint(condition=Q(amount__gte=0), name="material_amount"),
        ]

    def __str__(self) -> str:
        return self.name


class NeedQuerySet(models.QuerySet["Need"]):
    def open(self) -> "NeedQuerySet":
        return self.filter(arrived__isnull=True)


class Need(models.Model):
    """So much of one thing for a job: a glass, a came, a material, or an operation done outside.

    `amount` is in `unit`: square meters and sheets of glass, sticks of came, units of a material, 1 of outside work.
    `price` is that of a unit when it was reckoned. Its arrival clears the job's `gate`, if that is not empty and
    nothing else that the gate waits for is still to come.
    """

    job = models.ForeignKey("Job", on_delete=models.CASCADE, related_name="needs")
    panel = models.ForeignKey("Panel", on_delete=models.CASCADE, null=True, blank=True, related_name="needs")
    glass = models.ForeignKey("Glass", on_delete=models.PROTECT, null=True, blank=True, related_name="needs")
    came = models.ForeignKey("Came", on_delete=models.PROTECT, null=True, blank=True, related_name="needs")
    material = models.ForeignKey(
        Material, on_delete=models.PROTECT, null=True, blank=True, related_name="needs"
    )
    outside = models.ForeignKey(
        "Operation", on_delete=models.CASCADE, null=True, blank=True, related_name="needs"
    )
    amount = models.DecimalField(max_digits=12, decimal_places=3)
    unit = models.CharField(max_length=12)
    price = models.DecimalField("price of a unit", max_digits=9, decimal_places=2, null=True, blank=True)
    supplier = models.ForeignKey(
        Supplier, on_delete=models.SET_NULL, null=True, blank=True, related_name="needs"
    )
    # Written by hand: reckoning the needs anew leaves it alone.
    by_hand = models.BooleanField(default=False)
    # Days that its supplier takes for this; None: as for everything of his.
    days = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    needed_by = models.DateField(null=True, blank=True)
    # The day was typed: the plan does not move it.
    day_by_hand = models.BooleanField(default=False)
    ordered = models.DateField(null=True, blank=True)
    expected = models.DateField(null=True, blank=True)
    arrived = models.DateField(null=True, blank=True)
    gate = models.CharField(max_length=8, choices=GateKind, blank=True, default="")

    objects = NeedQuerySet.as_manager()

    class Meta:
        ordering = ["needed_by", "job", "pk"]
        indexes = [
            models.Index(fields=["needed_by"], condition=Q(arrived__isnull=True), name="need_open"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(glass__isnull=False, came=None, material=None, outside=None)
                | Q(glass=None, came__isnull=False, material=None, outside=None)
                | Q(glass=None, came=None, material__isnull=False, outside=None)
                | Q(glass=None, came=None, material=None, outside__isnull=False),
                name="need_of_one_thing",
            ),
            models.CheckConstraint(condition=Q(amount__gt=0), name="need_amount"),
            models.CheckConstraint(condition=Q(price__isnull=True) | Q(price__gte=0), name="need_price"),
            models.CheckConstraint(
                condition=Q(day_by_hand=False) | Q(by_hand=True, needed_by__isnull=False),
                name="need_day_by_hand_is_a_day",
            ),
            models.CheckConstraint(condition=Q(gate__in=["", *GateKind.values]), name="need_gate"),
            models.CheckConstraint(
                condition=Q(arrived__isnull=True) | Q(ordered__isnull=True) | Q(arrived__gte=F("ordered")),
                name="need_arrives_after_its_order",
            ),
            models.CheckConstraint(
                condition=Q(expected__isnull=True) | Q(ordered__isnull=False),
                name="need_expected_once_ordered",
            ),
        ]

    def __str__(self) -> str:
        return f"{Decimal(self.amount).normalize():f} {self.unit} {self.what}"

    @property
    def what(self) -> models.Model | None:
        return self.glass or self.came or self.material or self.outside

    @property
    def lead_days(self) -> int | None:
        """Days from its order to its arrival; None where nobody has said from whom it comes."""
        if self.days is not None:
            return self.days
        return self.supplier.days if self.supplier else None

    @property
    def order_by(self) -> date | None:
        """The last day on which it can be ordered; None where the day it is needed by is not known.

        Work done outside is needed by the day it goes out, and its days are those until it is back.
        """
        days = 0 if self.outside_id else self.lead_days or 0
        return self.needed_by - timedelta(days=days) if self.needed_by else None
