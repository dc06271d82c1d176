"""The customer's page: the secret link to one job, and what the customer approved there."""

import hashlib
import secrets
from base64 import urlsafe_b64encode
from datetime import date

from django.db import models
from django.db.models import F, Q
from django.utils.crypto import constant_time_compare, salted_hmac

# 192 bits: 32 letters of an address.
TOKEN_BYTES = 24


def new_seed() -> str:
    return secrets.token_urlsafe(TOKEN_BYTES)


def token_of(seed: str) -> str:
    """The token that belongs to a seed, for who knows the installation's secret key; 32 letters."""
    mac = salted_hmac("jobs.customer-link", seed, algorithm="sha256").digest()
    return urlsafe_b64encode(mac[:TOKEN_BYTES]).decode()


def digest_of(token: str) -> str:
    """What is stored of a token. It is as random as a key, so that a plain hash of it cannot be turned round."""
    return hashlib.sha256(token.encode()).hexdigest()


def readable_token(seed: str, digest: str) -> str:
    """The token of a link that is stored as these two; empty where the secret key has changed since it was made."""
    token = token_of(seed)
    return token if constant_time_compare(digest_of(token), digest) else ""


class CustomerLinkQuerySet(models.QuerySet["CustomerLink"]):
    def live(self, today: date) -> "CustomerLinkQuerySet":
        return self.filter(revoked_at__isnull=True, last_day__gte=today)

    def opened_by(self, token: str, today: date) -> "CustomerLink | None":
        """The link that a token opens today, with its job; None for a wrong, expired or revoked one alike."""
        return self.live(today).filter(digest=digest_of(token)).select_related("job").first()


class CustomerLink(models.Model):
    """A secret address that shows one job to its customer, until its last day or until it is revoked.

    The token is nowhere stored: `digest` is its hash, by which it is found. `seed` gives it back only together with
    the installation's secret key, so that the studio can read the address again and a copy of the database cannot.
    """

    job = models.ForeignKey("Job", on_delete=models.CASCADE, related_name="customer_links")
    seed = models.CharField(max_length=43, default=new_seed, editable=False)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    last_day = models.DateField("opens until the end of")
    shows_window = models.BooleanField("shows by when it is likely ready", default=True)
    shows_papers = models.BooleanField("shows the papers meant for the customer", default=True)
    shows_prices = models.BooleanField("shows prices", default=False)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        "Account", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    first_read_at = models.DateTimeField(null=True, blank=True)
    last_read_at = models.DateTimeField(null=True, blank=True)
    times_read = models.PositiveIntegerField(default=0)

    objects = CustomerLinkQuerySet.as_manager()

    class Meta:
        ordering = ["job", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["job"], condition=Q(revoked_at__isnull=True), name="one_customer_link_per_job"
            ),
            models.CheckConstraint(
                condition=Q(revoked_at__isnull=True, revoked_by__isnull=True)
                | Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="customer_link_revoked_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(times_read=0, first_read_at__isnull=True, last_read_at__isnull=True)
                | Q(
                    times_read__gte=1,
                    first_read_at__isnull=False,
                    last_read_at__isnull=False,
                    last_read_at__gte=F("first_read_at"),
                ),
                name="customer_link_read",
            ),
        ]

    def __str__(self) -> str:
        return f"customer's page of {self.job.number}"

    @property
    def token(self) -> str:
        """The token, for an address; empty where the secret key has changed since the link was made."""
        return readable_token(self.seed, self.digest)

    def is_live(self, today: date) -> bool:
        return self.revoked_at is None and today <= self.last_day


class DrawingApprovalQuerySet(models.QuerySet["DrawingApproval"]):
    def standing(self) -> "DrawingApprovalQuerySet":
        """Those that the studio has not asked for again."""
        return self.filter(withdrawn_at__isnull=True)


class DrawingApproval(models.Model):
    """That a customer approved one drawing, exactly as it was: `shown` is that drawing with its sizes
    (jobs.models.approvals.shown_of), `digest` the hash of it. It holds for no other drawing."""

    panel = models.ForeignKey("Panel", on_delete=models.CASCADE, related_name="approvals")
    digest = models.CharField(max_length=64)
    shown = models.JSONField()
    pattern = models.ForeignKey(
        "Pattern", on_delete=models.SET_NULL, null=True, blank=True, related_name="approvals"
    )
    name = models.CharField("who approved it", max_length=80)
    at = models.DateTimeField()
    link = models.ForeignKey(
        CustomerLink, on_delete=models.SET_NULL, null=True, blank=True, related_name="approvals"
    )
    address = models.GenericIPAddressField("from the address", null=True, blank=True)
    agent = models.CharField("with the browser", max_length=200, blank=True)
    withdrawn_at = models.DateTimeField("asked for again at", null=True, blank=True)

    objects = DrawingApprovalQuerySet.as_manager()

    class Meta:
        ordering = ["panel", "at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="drawing_approved_by_a_name"),
            models.UniqueConstraint(
                fields=["panel", "digest"],
                condition=Q(withdrawn_at__isnull=True),
                name="one_standing_approval_of_a_drawing",
            ),
        ]

    def __str__(self) -> str:
        return f"approval of {self.panel.name} by {self.name}"

    @property
    def version(self) -> str:
        """How the drawing approved is called among people: the first letters of its hash."""
        return self.digest[:8]
