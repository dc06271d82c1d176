"""What a panel is drawn and built of: glass, came, its patterns and its takeoffs."""

from decimal import Decimal

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import F, Q


class Glass(models.Model):
    """A glass that the studio works: how thick it is, how it is shown, and what a sheet of it costs."""

    unit = "m²"  # In which it is bought and its price is said, as Material.unit.
    name = models.CharField(max_length=60, unique=True)
    thickness_mm = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal("6.35"))
    # Only for the screen: the color that its pieces are shown in.
    color = models.CharField(
        max_length=7,
        default="#dfe7e6",
        validators=[RegexValidator(r"^#[0-9a-f]{6}\Z", "A color is written as #dfe7e6.")],
    )
    beveled = models.BooleanField("beveled as a rule", default=False)
    bevel_mm = models.DecimalField(
        "width of its bevel as a rule", max_digits=5, decimal_places=2, default=Decimal("25.4")
    )
    sheet_width_mm = models.DecimalField("width of a sheet", max_digits=7, decimal_places=2, default=1000)
    sheet_height_mm = models.DecimalField("height of a sheet", max_digits=7, decimal_places=2, default=1000)
    price_m2 = models.DecimalField("price of a square meter", max_digits=9, decimal_places=2, default=0)
    waste = models.DecimalField(
        "share of a sheet that is lost", max_digits=4, decimal_places=3, default=Decimal("0.25")
    )
    supplier = models.ForeignKey(
        "Supplier", on_delete=models.SET_NULL, null=True, blank=True, related_name="glasses"
    )
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "glasses"
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="glass_name_not_empty"),
            models.CheckConstraint(
                condition=Q(thickness_mm__gt=0, thickness_mm__lte=100), name="glass_thickness"
            ),
            models.CheckConstraint(condition=Q(bevel_mm__gt=0, bevel_mm__lte=200), name="glass_bevel"),
            models.CheckConstraint(
                condition=Q(
                    sheet_width_mm__gt=0,
                    sheet_height_mm__gt=0,
                    sheet_width_mm__lte=20000,
                    sheet_height_mm__lte=20000,
                ),
                name="glass_sheet",
            ),
            models.CheckConstraint(condition=Q(price_m2__gte=0), name="glass_price"),
            models.CheckConstraint(condition=Q(waste__gte=0, waste__lt=1), name="glass_waste"),
        ]

    def __str__(self) -> str:
        return self.name


class Came(models.Model):
    """A profile of came, bought by the stick. The heart is the gap it keeps between two pieces of glass."""

    unit = "stick"
    profile = models.CharField(max_length=60, unique=True)
    face_mm = models.DecimalField("width of its face", max_digits=5, decimal_places=2, default=Decimal("6"))
    heart_mm = models.DecimalField(
        "thickness of its heart", max_digits=5, decimal_places=2, default=Decimal("1.6")
    )
    # None: reckoned from face and heart.
    kg_per_m = models.DecimalField("mass of a meter", max_digits=6, decimal_places=3, null=True, blank=True)
    # Sticks are sold 6 ft long: common practice, no published source.
    stick_mm = models.DecimalField(
        "length of a stick", max_digits=7, decimal_places=2, default=Decimal("1829")
    )
    price = models.DecimalField("price of a stick", max_digits=9, decimal_places=2, default=0)
    inner = models.BooleanField("used inside", default=True)
    border = models.BooleanField("used for borders", default=False)
    supplier = models.ForeignKey(
        "Supplier", on_delete=models.SET_NULL, null=True, blank=True, related_name="cames"
    )
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["profile"]
        constraints = [
            models.CheckConstraint(condition=~Q(profile=""), name="came_profile_not_empty"),
            models.CheckConstraint(
                condition=Q(heart_mm__gt=0, face_mm__lte=100) & Q(heart_mm__lte=F("face_mm")),
                name="came_heart_within_face",
                violation_error_message="The heart of a came is more than nothing and no wider than its face.",
            ),
            models.CheckConstraint(
                condition=Q(kg_per_m__isnull=True) | Q(kg_per_m__gt=0, kg_per_m__lte=100), name="came_mass"
            ),
            models.CheckConstraint(condition=Q(stick_mm__gt=0, stick_mm__lte=20000), name="came_stick"),
            models.CheckConstraint(condition=Q(price__gte=0), name="came_price"),
        ]

    def __str__(self) -> str:
        return self.profile


class Pattern(models.Model):
    """A drawing of a panel that was uploaded, as we measured and redrew it; the file itself is not kept.

    `lines` is the linework in millimeters as it was drawn, so that it can be measured again with other answers;
    `drawing` is our picture of it, as Panel.drawing with the pieces' numbers; `measured` the pieces with their cut
    sizes, the came and the joints; `faults` [{"kind", "words", "x", "y", "size"}]. `fills` maps each fill of the
    drawing to {"glass": key of a Glass, "beveled": bool, "bevel_mm": number}, or to {"carved_mm": depth}.
    """

    class Scale(models.TextChoices):
        ASKED = "", "nobody has said"
        DRAWING = "drawing", "the drawing is right"
        PANEL = "panel", "the panel is right"

    panel = models.ForeignKey("Panel", on_delete=models.CASCADE, related_name="patterns")
    version = models.PositiveIntegerField()
    file_name = models.CharField(max_length=120)
    uploaded_at = models.DateTimeField()
    uploaded_by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    lines = models.JSONField()
    drawing = models.JSONField()
    measured = models.JSONField()
    faults = models.JSONField(default=list, blank=True)
    fills = models.JSONField(default=dict, blank=True)
    came = models.ForeignKey(Came, on_delete=models.PROTECT, related_name="+")
    border = models.ForeignKey(Came, on_delete=models.PROTECT, related_name="+")
    close_below_mm = models.DecimalField("gaps closed up to", max_digits=4, decimal_places=2, default=0)
    # What the person said where the file does not say its units.
    drawn_width_mm = models.DecimalField(
        "width of the drawing", max_digits=7, decimal_places=2, null=True, blank=True
    )
    scale_answer = models.CharField(max_length=7, choices=Scale, blank=True, default=Scale.ASKED)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        "Account", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["panel", "version"]
        constraints = [
            models.UniqueConstraint(fields=["panel", "version"], name="one_pattern_of_a_version_per_panel"),
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True, accepted_by__isnull=True)
                | Q(accepted_at__isnull=False, accepted_by__isnull=False),
                name="pattern_accepted_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(close_below_mm__gte=0, close_below_mm__lte=10), name="pattern_gaps"
            ),
            models.CheckConstraint(
                condition=Q(drawn_width_mm__isnull=True) | Q(drawn_width_mm__gt=0, drawn_width_mm__lte=20000),
                name="pattern_width",
            ),
            models.CheckConstraint(
                condition=Q(scale_answer__in=["", "drawing", "panel"]), name="pattern_scale_answer"
            ),
        ]

    def __str__(self) -> str:
        return f"pattern {self.version} of {self.panel}"


class Takeoff(models.Model):
    """The quantities of one copy of a panel. The one with the highest version holds.

    `numbers` is what jobs.estimating.takeoff.Takeoff.to_json writes; Takeoff.from_json reads it.
    """

    class Source(models.TextChoices):
        HAND = "hand", "by hand"
        PATTERN = "pattern", "measured from the pattern"

    panel = models.ForeignKey("Panel", on_delete=models.CASCADE, related_name="takeoffs")
    version = models.PositiveIntegerField()
    numbers = models.JSONField()
    source = models.CharField(max_length=7, choices=Source)
    pattern = models.ForeignKey(
        Pattern, on_delete=models.CASCADE, null=True, blank=True, related_name="takeoffs"
    )
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["panel", "version"]
        constraints = [
            models.UniqueConstraint(fields=["panel", "version"], name="one_takeoff_of_a_version_per_panel"),
            models.CheckConstraint(
                condition=Q(source="pattern", pattern__isnull=False) | Q(source="hand", pattern__isnull=True),
                name="takeoff_source",
            ),
        ]

    def __str__(self) -> str:
        return f"takeoff {self.version} of {self.panel}"
