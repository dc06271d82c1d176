"""Quotes: what a commission is offered for, in versions that are frozen when sent, and what quotes are made with."""

from decimal import Decimal

from django.db import models
from django.db.models import Q

from .letter_words import TERMS


class QuoteState(models.TextChoices):
    DRAFT = "draft", "draft"
    SENT = "sent", "sent"
    ACCEPTED = "accepted", "accepted"
    DECLINED = "declined", "declined"


class LineGroup(models.TextChoices):
    LABOR = "labor", "labor"
    MATERIAL = "material", "materials"
    OUTSIDE = "outside", "outside work"
    PACKING = "packing", "packing"
    DELIVERY = "delivery", "delivery"
    INSTALLATION = "installation", "installation"
    DESIGN = "design", "design fee"
    RISK = "risk", "allowance for risk"
    BREAKAGE = "breakage", "allowance for breakage"
    ROUNDING = "rounding", "rounding"
    TAX = "tax", "tax"


class Quote(models.Model):
    """An offer for a job. `net` + `tax` = `total`; `deposit` is the part of the total to be paid with the order.

    `if_approved_by` and `ready_day` are the date it offers: ready that day with `confidence`, if the drawing is
    approved and the deposit paid by then. `frozen` is what the quote was made from when it was sent (takeoffs, rates,
    settings), so that it reads the same ever after.
    """

    job = models.ForeignKey("Job", on_delete=models.PROTECT, related_name="quotes")
    version = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=8, choices=QuoteState, default=QuoteState.DRAFT)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    sent_at = models.DateTimeField(null=True, blank=True)
    sent_by = models.ForeignKey("Account", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(
        "Account", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    answer = models.CharField("what the customer said", max_length=200, blank=True)
    valid_until = models.DateField(null=True, blank=True)
    confidence = models.DecimalField(
        "confidence of the date", max_digits=3, decimal_places=2, default=Decimal("0.80")
    )
    if_approved_by = models.DateField(null=True, blank=True)
    ready_day = models.DateField(null=True, blank=True)
    net = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    tax = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    total = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    deposit = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    terms = models.TextField(blank=True)
    frozen = models.JSONField(null=True, blank=True)

    class Meta:
        ordering = ["job", "version"]
        constraints = [
            models.UniqueConstraint(fields=["job", "version"], name="one_quote_of_a_version_per_job"),
            models.UniqueConstraint(
                fields=["job"], condition=Q(state="accepted"), name="one_accepted_quote_per_job"
            ),
            models.UniqueConstraint(
                fields=["job"], condition=Q(state="draft"), name="one_draft_quote_per_job"
            ),
            models.CheckConstraint(
                condition=Q(state="draft", sent_at=None, sent_by=None, answered_at=None, answered_by=None)
                | Q(
                    state="sent",
                    sent_at__isnull=False,
                    sent_by__isnull=False,
                    answered_at=None,
                    answered_by=None,
                )
                | Q(
                    state__in=["accepted", "declined"],
                    sent_at__isnull=False,
                    sent_by__isnull=False,
                    answered_at__isnull=False,
                    answered_by__isnull=False,
                ),
                name="quote_state",
            ),
            models.CheckConstraint(
                condition=Q(state="draft") | Q(frozen__isnull=False, valid_until__isnull=False),
                name="quote_frozen_when_sent",
            ),
            models.CheckConstraint(
                condition=Q(confidence__gte=0.5, confidence__lte=0.99), name="quote_confidence"
            ),
            models.CheckConstraint(
                condition=Q(net__gte=0, tax__gte=0, total__gte=0, deposit__gte=0), name="quote_totals"
            ),
        ]

    def __str__(self) -> str:
        return f"quote {self.job.number}, version {self.version}"


class QuoteLine(models.Model):
    """One line of a quote. `minutes` are the hours behind a line of labor, for all copies together."""

    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="lines")
    place = models.PositiveSmallIntegerField(default=0)
    panel = models.ForeignKey(
        "Panel", on_delete=models.SET_NULL, null=True, blank=True, related_name="quote_lines"
    )
    group = models.CharField(max_length=12, choices=LineGroup)
    kind = models.ForeignKey(
        "OperationKind", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    words = models.CharField(max_length=160)
    quantity = models.DecimalField(max_digits=12, decimal_places=3, default=1)
    unit = models.CharField(max_length=12, blank=True)
    price = models.DecimalField("price of a unit", max_digits=12, decimal_places=2, default=0)
    amount = models.DecimalField(max_digits=12, decimal_places=2)
    minutes = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["quote", "place", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(group__in=LineGroup.values), name="quote_line_group"),
            models.CheckConstraint(condition=~Q(words=""), name="quote_line_has_words"),
        ]

    def __str__(self) -> str:
        return self.words


class LaborRate(models.Model):
    """What an hour of one kind of work is sold for; where there is none, the studio's price of an hour holds."""

    kind = models.OneToOneField("OperationKind", on_delete=models.CASCADE, related_name="labor_rate")
    hour = models.DecimalField("price of an hour", max_digits=8, decimal_places=2)

    class Meta:
        ordering = ["kind"]
        constraints = [models.CheckConstraint(condition=Q(hour__gte=0), name="labor_rate_hour")]

    def __str__(self) -> str:
        return f"{self.kind}: {self.hour}"


class OutsidePrice(models.Model):
    """What one supplier takes for one kind of work done outside: by the area of a panel, and at least so much for each
    panel; `days` from going out to coming back."""

    kind = models.ForeignKey("OperationKind", on_delete=models.CASCADE, related_name="outside_prices")
    supplier = models.ForeignKey("Supplier", on_delete=models.CASCADE, related_name="outside_prices")
    # Four places, so that a price of a square foot to the cent comes back as it was typed.
    price_m2 = models.DecimalField("price of a square meter", max_digits=12, decimal_places=4)
    minimum = models.DecimalField("least for a panel", max_digits=9, decimal_places=2, default=0)
    days = models.PositiveSmallIntegerField("days until it is back", default=7)

    class Meta:
        ordering = ["kind", "supplier"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "supplier"], name="one_outside_price_of_a_supplier"),
            models.CheckConstraint(condition=Q(price_m2__gte=0, minimum__gte=0), name="outside_price"),
            models.CheckConstraint(condition=Q(days__lte=1000), name="outside_price_days"),
        ]

    def __str__(self) -> str:
        return f"{self.kind}, {self.supplier}"


class QuoteSettings(models.Model):
    """What quotes are made with (row 1). Shares are of 1. Defaults are common practice, no published source."""

    markup = models.DecimalField(
        "markup on materials", max_digits=4, decimal_places=3, default=Decimal("0.25")
    )
    outside_markup = models.DecimalField(
        "markup on outside work", max_digits=4, decimal_places=3, default=Decimal("0.15")
    )
    design_fee = models.DecimalField(
        "design fee, share of the work", max_digits=4, decimal_places=3, default=Decimal("0.10")
    )
    tax = models.DecimalField(max_digits=5, decimal_places=4, default=0)
    # A deposit is one third to one half with the order.
    deposit = models.DecimalField(max_digits=4, decimal_places=3, default=Decimal("0.5"))
    rounding = models.DecimalField("round to", max_digits=7, decimal_places=2, default=Decimal("1.00"))
    valid_days = models.PositiveSmallIntegerField("days that a quote is valid", default=30)
    risk_confidence = models.DecimalField(
        "confidence of the hours", max_digits=3, decimal_places=2, default=Decimal("0.80")
    )
    # None: from the studio's own record.
    breakage = models.DecimalField(
        "allowance for breakage", max_digits=4, decimal_places=3, null=True, blank=True
    )
    terms = models.TextField(blank=True, default=TERMS)
    # 12 square feet; no published rule embraces all panels.
    bars_above_m2 = models.DecimalField(
        "support bars above this area", max_digits=6, decimal_places=3, default=Decimal("1.115")
    )

    class Meta:
        verbose_name_plural = "quote settings"
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="one_row_of_quote_settings"),
            models.CheckConstraint(
                condition=Q(markup__gte=0, outside_markup__gte=0, design_fee__gte=0),
                name="quote_settings_markups",
            ),
            models.CheckConstraint(condition=Q(tax__gte=0, tax__lt=1), name="quote_settings_tax"),
            models.CheckConstraint(
                condition=Q(deposit__gte=0, deposit__lte=1), name="quote_settings_deposit"
            ),
            models.CheckConstraint(condition=Q(rounding__gt=0), name="quote_settings_rounding"),
            models.CheckConstraint(
                condition=Q(valid_days__gte=1, valid_days__lte=366), name="quote_settings_valid_days"
            ),
            models.CheckConstraint(
                condition=Q(risk_confidence__gte=0.5, risk_confidence__lte=0.99),
                name="quote_settings_confidence",
            ),
            models.CheckConstraint(
                condition=Q(breakage__isnull=True) | Q(breakage__gte=0, breakage__lte=1),
                name="quote_settings_breakage",
            ),
            models.CheckConstraint(condition=Q(bars_above_m2__gt=0), name="quote_settings_bars"),
        ]

    def __str__(self) -> str:
        return "how quotes are made"

    @classmethod
    def current(cls) -> "QuoteSettings":
        """The row, made with its defaults where there is none yet."""
        return cls.objects.get_or_create(pk=1)[0]
