"""Papers for the customer and the road: what they say in the studio's own words, and what was sent, kept."""

import hashlib
from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q

from . import letter_words as words


class LetterSettings(models.Model):
    """What letters say and how loads are reckoned (row 1). Texts with a point a line are shown as lists.

    The figures are common practice, no published source: the studio sets its own.
    """

    included = models.TextField("included in a quote", blank=True, default=words.INCLUDED)
    not_included = models.TextField("not included in a quote", blank=True, default=words.NOT_INCLUDED)
    safety = models.TextField("caution on safety glazing", blank=True, default=words.SAFETY)
    handling = models.TextField("how to handle panels", blank=True, default=words.HANDLING)
    bring = models.TextField("what to bring", blank=True, default=words.BRING)
    sealants = models.TextField(blank=True, default=words.SEALANTS)
    site_cautions = models.TextField("cautions on site", blank=True, default=words.SITE_CAUTIONS)
    checks = models.TextField("what is checked on site", blank=True, default=words.CHECKS)
    care = models.TextField("how to care for it", blank=True, default=words.CARE)
    lift_kg = models.DecimalField("one person lifts", max_digits=5, decimal_places=1, default=Decimal("20"))
    two_from_mm = models.DecimalField(
        "two people from a side of", max_digits=7, decimal_places=2, default=Decimal("1200")
    )
    crate_panels = models.PositiveSmallIntegerField("panels in a crate", default=6)
    crate_kg = models.DecimalField(
        "a crate weighs up to", max_digits=6, decimal_places=1, default=Decimal("120")
    )
    # Board of 15 mm at 600 kg/m3.
    board_kg_m2 = models.DecimalField(
        "a square meter of crate weighs", max_digits=5, decimal_places=1, default=Decimal("9")
    )

    class Meta:
        verbose_name_plural = "letter settings"
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="one_row_of_letter_settings"),
            models.CheckConstraint(
                condition=Q(lift_kg__gte=1, lift_kg__lte=100, two_from_mm__gt=0),
                name="letter_settings_people",
            ),
            models.CheckConstraint(
                condition=Q(crate_panels__gte=1, crate_panels__lte=100, crate_kg__gte=1, board_kg_m2__gte=0),
                name="letter_settings_crates",
            ),
        ]

    def __str__(self) -> str:
        return "what letters say"

    @classmethod
    def current(cls) -> "LetterSettings":
        """The row, made with its defaults where there is none yet."""
        return cls.objects.get_or_create(pk=1)[0]


class SentQuote(models.Model):
    """The paper of a quote as it was sent, byte for byte. The file lies under MEDIA_ROOT, which nothing serves."""

    quote = models.OneToOneField("Quote", on_delete=models.CASCADE, related_name="sent_paper")
    file = models.FileField(upload_to="quotes")
    sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["quote"]
        constraints = [models.CheckConstraint(condition=~Q(file=""), name="sent_quote_has_a_file")]

    def __str__(self) -> str:
        return f"paper of {self.quote}"

    def content(self) -> bytes | None:
        """What was sent; None where the file is gone or is not what was kept."""
        try:
            with self.file.open("rb") as kept:
                data: bytes = kept.read()
        except OSError:
            return None
        return data if hashlib.sha256(data).hexdigest() == self.sha256 else None
