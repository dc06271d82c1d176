"""Tokens with which other programs read: kept as hashes, so that a copy of the database opens nothing."""

import secrets
from datetime import date

from django.db import models
from django.db.models import Q

from .customer_links import digest_of

# 256 bits. The word before it tells whoever finds a token in a file what it belongs to.
TOKEN_BYTES = 32
PREFIX = "studio_"


class Scope(models.TextChoices):
    FLOOR = "floor", "the floor: jobs, panels, work, stations, people, hours and dates"
    OFFICE = "office", "the same, and customers"


def new_token() -> str:
    return PREFIX + secrets.token_urlsafe(TOKEN_BYTES)


class ApiTokenQuerySet(models.QuerySet["ApiToken"]):
    def opened_by(self, token: str, today: date) -> "ApiToken | None":
        """The token, if it opens anything today; None for a wrong, expired or revoked one alike."""
        return self.filter(revoked_at__isnull=True, last_day__gte=today, digest=digest_of(token)).first()


class ApiToken(models.Model):
    """What another program shows to read from here, until its last day or until it is revoked.

    The token itself is told once, when it is made: `digest` is its hash, by which it is found.
    """

    name = models.CharField("what uses it", max_length=60)
    scope = models.CharField("may read", max_length=6, choices=Scope, default=Scope.FLOOR)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    last_day = models.DateField("reads until the end of")
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        "Account", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # Within a minute.
    last_used_at = models.DateTimeField(null=True, blank=True)

    objects = ApiTokenQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        verbose_name = "token"
        constraints = [
            models.CheckConstraint(condition=Q(scope__in=Scope.values), name="api_token_scope"),
            models.CheckConstraint(condition=~Q(name=""), name="api_token_has_a_name"),
            models.CheckConstraint(
                condition=Q(revoked_at__isnull=True, revoked_by__isnull=True)
                | Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="api_token_revoked_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def is_live(self, today: date) -> bool:
        return self.revoked_at is None and today <= self.last_day
