from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import OuterRef, Q, Subquery
from django.urls import reverse

from .kinds import GateKind
from .workshops import FIRST


class Stage(models.TextChoices):
    """How far a commission is as business; how far its work is follows from its operations."""

    ENQUIRY = "enquiry", "enquiry"
    QUOTED = "quoted", "quoted"
    ORDERED = "ordered", "ordered"
    COMPLETE = "complete", "complete"
    CANCELLED = "cancelled", "cancelled"
    DECLINED = "declined", "declined"


class Customer(models.Model):
    name = models.CharField(max_length=80, unique=True)
    contact = models.CharField(max_length=80, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class JobQuerySet(models.QuerySet["Job"]):
    def open(self) -> "JobQuerySet":
        """The jobs that the floor works on."""
        return self.filter(stage=Stage.ORDERED)

    def with_promise(self) -> "JobQuerySet":
        """Adds `promised`, the day last promised to the customer (date or None)."""
        latest = Promise.objects.filter(job=OuterRef("pk")).order_by("-given_at", "-pk")
        return self.annotate(promised=Subquery(latest.values("day")[:1]))


class Job(models.Model):
    """A commission."""

    number = models.CharField(max_length=20, unique=True)
    title = models.CharField(max_length=120)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="jobs")
    workshop = models.ForeignKey("Workshop", on_delete=models.PROTECT, default=FIRST, related_name="jobs")
    stage = models.CharField(max_length=9, choices=Stage, default=Stage.ORDERED)
    wanted_by = models.DateField(null=True, blank=True)
    weight = models.DecimalField(
        "how much a late day matters",
        max_digits=4,
        decimal_places=1,
        default=Decimal("1"),
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(100)],
    )
    notes = models.TextField(blank=True)
    site_address = models.TextField("where it is installed", blank=True)
    site_contact = models.CharField("who lets us in", max_length=80, blank=True)
    site_phone = models.CharField("their phone", max_length=40, blank=True)
    site_access = models.TextField("way in, parking, stairs, power", blank=True)
    entered_at = models.DateTimeField()
    ordered_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField("complete, cancelled or declined at", null=True, blank=True)

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        indexes = [models.Index(fields=["stage", "wanted_by"])]
        constraints = [
            models.CheckConstraint(condition=Q(stage__in=Stage.values), name="job_stage"),
            models.CheckConstraint(condition=Q(weight__gt=0, weight__lte=100), name="job_weight"),
            models.CheckConstraint(condition=~Q(number=""), name="job_number_not_empty"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.title}"

    def get_absolute_url(self) -> str:
        return reverse("job", args=[self.number])

    @property
    def is_open(self) -> bool:
        return self.stage == Stage.ORDERED

    @property
    def goes_to(self) -> str:
        """The address of its site, or the customer's where no other is known."""
        return self.site_address or self.customer.address


class Gate(models.Model):
    """Something a job waits for, the day it is expected and the day it came."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="gates")
    kind = models.CharField(max_length=8, choices=GateKind)
    expected = models.DateField(null=True, blank=True)
    cleared = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["job", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["job", "kind"], name="one_gate_of_a_kind_per_job"),
            models.CheckConstraint(condition=Q(kind__in=GateKind.values), name="gate_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.job.number}: {self.get_kind_display()}"


class Panel(models.Model):
    """One window or carved piece of a job; `copies` identical ones go round together."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="panels")
    number = models.PositiveSmallIntegerField("number within the job")
    name = models.CharField(max_length=80)
    width_mm = models.DecimalField(max_digits=7, decimal_places=2)
    height_mm = models.DecimalField(max_digits=7, decimal_places=2)
    thickness_mm = models.DecimalField(
        "glass thickness", max_digits=5, decimal_places=2, default=Decimal("6.35")
    )
    pieces = models.PositiveIntegerField("pieces in one copy", default=1)
    copies = models.PositiveSmallIntegerField(default=1)
    route = models.ForeignKey(
        "Route", on_delete=models.SET_NULL, null=True, blank=True, related_name="panels"
    )
    where = models.CharField("where it is now", max_length=60, blank=True)
    # {"width": mm, "height": mm, "pieces": [{"points": [[x, y], ...], "glass": word, "beveled": bool}, ...]}
    drawing = models.JSONField(null=True, blank=True)

    class Meta:
        ordering = ["job__number", "number"]
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="one_panel_of_a_number_per_job"),
            models.CheckConstraint(
                condition=Q(width_mm__gt=0, height_mm__gt=0, width_mm__lte=20000, height_mm__lte=20000),
                name="panel_size",
            ),
            models.CheckConstraint(
                condition=Q(thickness_mm__gt=0, thickness_mm__lte=100), name="panel_thickness"
            ),
            models.CheckConstraint(condition=Q(copies__gte=1, copies__lte=500), name="panel_copies"),
            models.CheckConstraint(condition=Q(pieces__gte=1, pieces__lte=20000), name="panel_pieces"),
        ]

    def __str__(self) -> str:
        return f"{self.job.number}/{self.number} {self.name}"

    def get_absolute_url(self) -> str:
        return reverse("panel", args=[self.job.number, self.number])

    @property
    def code(self) -> str:
        """How the panel is called on papers and labels: 0412/3."""
        return f"{self.job.number}/{self.number}"


class Promise(models.Model):
    """A date given to a customer. The last one given holds."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="promises")
    day = models.DateField()
    given_at = models.DateTimeField()
    given_by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    told = models.CharField("who was told", max_length=80)
    reason = models.CharField("why the date changed", max_length=200, blank=True)
    chance = models.DecimalField(
        "chance when it was given", max_digits=4, decimal_places=3, null=True, blank=True
    )

    class Meta:
        ordering = ["given_at", "pk"]
        indexes = [models.Index(fields=["job", "-given_at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(chance__isnull=True) | Q(chance__gte=0, chance__lte=1), name="promise_chance"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job.number} by {self.day}"
