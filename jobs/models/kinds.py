from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_noop


class Nature(models.TextChoices):
    ATTENDED = "attended", "somebody works at a bench"
    CURE = "cure", "cures by itself"
    OUTSIDE = "outside", "done outside the studio"


class GateKind(models.TextChoices):
    """What a job waits for that is not work of ours."""

    MEASURED = "measured", gettext_noop("measured on site")
    DRAWING = "drawing", gettext_noop("drawing approved")
    DEPOSIT = "deposit", gettext_noop("deposit in")
    GLASS = "glass", gettext_noop("glass in")


def check_steps(value: object) -> None:
    if not isinstance(value, list) or not all(isinstance(step, str) and step.strip() for step in value):
        raise ValidationError("Steps are a list of words.")


class OperationKind(models.Model):
    """One kind of work: which station does it, with how many people, and what to mind."""

    name = models.CharField(max_length=40, unique=True)
    slug = models.SlugField(max_length=40, unique=True)
    place = models.PositiveSmallIntegerField("order on the floor", default=0)
    station = models.ForeignKey(
        "Station", on_delete=models.PROTECT, null=True, blank=True, related_name="kinds"
    )
    # Work at a bench is of the workshop of its station. What several of them do is a kind in each, and these point at
    # one of them, so that a route leads through the benches of whichever workshop has the job.
    same_as = models.ForeignKey(
        "self",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="elsewhere",
        verbose_name="the same work as, in another workshop",
    )
    nature = models.CharField(max_length=8, choices=Nature, default=Nature.ATTENDED)
    crew = models.PositiveSmallIntegerField("people it takes", default=1)
    steps = models.JSONField(
        "steps that each piece goes through", default=list, blank=True, validators=[check_steps]
    )
    needs_measured = models.BooleanField("waits until measured on site", default=False)
    needs_drawing = models.BooleanField("waits for the drawing's approval", default=False)
    needs_deposit = models.BooleanField("waits for the deposit", default=False)
    needs_glass = models.BooleanField("waits for the glass", default=False)
    cautions = models.TextField(blank=True)
    told = models.CharField(
        "what customers are told it is",
        max_length=40,
        blank=True,
        help_text="Such as building, for assembly and soldering alike. Empty: its own name.",
    )
    counts_pieces = models.BooleanField("counted by the piece", default=False)
    again_after_breakage = models.BooleanField("done again for a broken piece", default=False)
    whole_job = models.BooleanField("once for the whole job", default=False)

    class Meta:
        ordering = ["place", "name"]
        constraints = [
            models.CheckConstraint(condition=Q(crew__gte=1, crew__lte=20), name="kind_crew"),
            models.CheckConstraint(
                condition=Q(nature=Nature.ATTENDED, station__isnull=False)
                | (~Q(nature=Nature.ATTENDED) & Q(station__isnull=True)),
                name="kind_at_a_station_if_attended",
                violation_error_message="Work at a bench needs its station; a cure or outside work has none.",
            ),
            models.CheckConstraint(
                condition=Q(same_as__isnull=True) | (Q(nature=Nature.ATTENDED) & ~Q(same_as=models.F("id"))),
                name="kind_same_as_another",
                violation_error_message="Only work at a bench is the same as other work, in another workshop.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def gates(self) -> tuple[GateKind, ...]:
        """The gates of a job that have to be cleared before this work starts."""
        return tuple(gate for gate in GateKind if getattr(self, f"needs_{gate.value}"))


class Route(models.Model):
    """The operations a panel goes through, and which has to wait for which."""

    name = models.CharField(max_length=60, unique=True)
    description = models.TextField(blank=True)
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class RouteStep(models.Model):
    """A step of a route: its kind, what it comes after, and how long it takes as a rule."""

    route = models.ForeignKey(Route, on_delete=models.CASCADE, related_name="steps")
    kind = models.ForeignKey(OperationKind, on_delete=models.PROTECT, related_name="route_steps")
    place = models.PositiveSmallIntegerField(default=0)
    label = models.CharField(max_length=60, blank=True)
    condition = models.CharField(
        "only if", max_length=60, blank=True, help_text="For example: laminated into an insulating unit."
    )
    after = models.ManyToManyField("self", symmetrical=False, blank=True, related_name="before")
    minutes = models.PositiveIntegerField("minutes a panel", default=0)
    piece_minutes = models.DecimalField("minutes a piece", max_digits=7, decimal_places=2, default=0)

    class Meta:
        ordering = ["route", "place", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(piece_minutes__gte=0), name="route_step_piece_minutes"),
        ]

    def __str__(self) -> str:
        return self.label or self.kind.name
