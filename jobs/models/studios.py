import zoneinfo
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Count, Q, Subquery, Value

from .prepared import Prepared
from .workshops import Workshop


def check_zone(name: str) -> None:
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError) as error:
        raise ValidationError(
            f"“{name}” is not a time zone; one is Europe/Vienna or America/Chicago."
        ) from error


class Studio(models.Model):
    """The one studio of this installation (row 1): how it is called, measures, counts and promises."""

    class Units(models.TextChoices):
        INCH = "in", "inches"
        MILLIMETER = "mm", "millimeters"

    class Hours(models.TextChoices):
        CLOCK = "clock", "4:30"
        DECIMAL = "decimal", "4.5 h"

    class Paper(models.TextChoices):
        LETTER = "letter", "US Letter"
        A4 = "a4", "A4"

    class Labels(models.TextChoices):
        """Two usual sheets of labels, or the studio's own: common practice, no published source."""

        LETTER_10 = "letter-10", "US Letter, 2 by 5 of 4 by 2 in"
        A4_24 = "a4-24", "A4, 3 by 8 of 70 by 37 mm"
        OWN = "own", "as given below"

    class Rounding(models.IntegerChoices):
        """What 29 CFR 785.48(b) accepts, and not at all."""

        NONE = 1, "to the minute"
        FIVE = 5, "to 5 minutes"
        TENTH = 6, "to a tenth of an hour"
        QUARTER = 15, "to a quarter of an hour"

    name = models.CharField(max_length=80, default="Our studio")
    address = models.TextField(blank=True)
    units = models.CharField(max_length=2, choices=Units, default=Units.INCH)
    hours = models.CharField("hours are shown as", max_length=8, choices=Hours, default=Hours.CLOCK)
    currency = models.CharField("currency, ISO 4217", max_length=3, default="USD")
    time_zone = models.CharField(max_length=40, default="UTC", validators=[check_zone])
    country = models.CharField("country of its public holidays, ISO 3166", max_length=2, blank=True)
    region = models.CharField("state or province of its public holidays", max_length=6, blank=True)
    labor_rate = models.DecimalField(
        "price of an hour", max_digits=8, decimal_places=2, default=Decimal("85.00")
    )
    confidence = models.DecimalField(
        "confidence of a promise", max_digits=3, decimal_places=2, default=Decimal("0.80")
    )
    rounding = models.PositiveSmallIntegerField(
        "the weekly hours sheet is rounded", choices=Rounding, default=Rounding.NONE
    )
    asks_pin = models.BooleanField("people give a PIN at the bench", default=False)
    leads_need_code = models.BooleanField("who keeps accounts signs in with a one-time code", default=False)
    paper = models.CharField("paper that is printed on", max_length=6, choices=Paper, default=Paper.LETTER)
    labels = models.CharField("sheet of labels", max_length=9, choices=Labels, default=Labels.LETTER_10)
    # The studio's own sheet: millimeters from the sheet's upper left corner, and from one label to the next.
    label_columns = models.PositiveSmallIntegerField("labels across", default=2)
    label_rows = models.PositiveSmallIntegerField("labels down", default=5)
    label_width_mm = models.DecimalField("width of a label", max_digits=5, decimal_places=1, default=95)
    label_height_mm = models.DecimalField("height of a label", max_digits=5, decimal_places=1, default=50)
    label_left_mm = models.DecimalField("left margin", max_digits=5, decimal_places=1, default=8)
    label_top_mm = models.DecimalField("top margin", max_digits=5, decimal_places=1, default=12)
    label_across_mm = models.DecimalField("gap across", max_digits=5, decimal_places=1, default=3)
    label_down_mm = models.DecimalField("gap down", max_digits=5, decimal_places=1, default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="one_studio"),
            models.CheckConstraint(
                condition=Q(confidence__gte=0.5, confidence__lte=0.99), name="studio_confidence"
            ),
            models.CheckConstraint(condition=Q(labor_rate__gte=0), name="studio_labor_rate"),
            models.CheckConstraint(condition=Q(paper__in=["letter", "a4"]), name="studio_paper"),
            models.CheckConstraint(
                condition=Q(labels__in=["letter-10", "a4-24", "own"])
                & Q(label_columns__gte=1, label_columns__lte=10, label_rows__gte=1, label_rows__lte=30)
                & Q(label_width_mm__gte=20, label_height_mm__gte=15)
                & Q(label_left_mm__gte=0, label_top_mm__gte=0, label_across_mm__gte=0, label_down_mm__gte=0),
                name="studio_labels",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)

    @classmethod
    def current(cls) -> "Studio":
        """The studio's row, made with its defaults where there is none yet."""
        found: Studio | None = _CURRENT.first()
        if found is None:
            cls.objects.get_or_create(pk=1)
            found = _CURRENT.first()
            assert found is not None
        return found

    @property
    def has_several_workshops(self) -> bool:
        """Whether anything has to be said about workshops at all; of the row that `current` gives."""
        return bool(self.workshops > 1)  # type: ignore[attr-defined]


_CURRENT = Prepared(
    lambda: Studio.objects.filter(pk=1).annotate(
        # Counted in the query that each request makes anyway.
        workshops=Subquery(
            Workshop.objects.order_by().values(one=Value(1)).annotate(count=Count("pk")).values("count")
        )
    )
)
