"""Who is signed in, where and since when: sessions that can be looked at and ended, and the tablets among them."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models
from django.db.models import Q

from .customer_links import digest_of
from .devices import in_words

# When somebody was last seen is not worth a write with each request.
SEEN_EVERY = timedelta(minutes=5)


class Tablet(models.Model):
    """A tablet that the lead has let in. It holds a secret of its own, of which only the digest is here.

    A code for pairing is good until `code_until` and for one use; a row without `paired_at` waits for that use.
    """

    name = models.CharField(max_length=60, unique=True)
    account = models.ForeignKey("Account", on_delete=models.CASCADE, related_name="tablets")
    code_digest = models.CharField(max_length=64, blank=True)
    code_until = models.DateTimeField(null=True, blank=True)
    secret_digest = models.CharField(max_length=64, unique=True, null=True, blank=True)
    made_at = models.DateTimeField()
    paired_at = models.DateTimeField(null=True, blank=True)
    seen = models.DateTimeField("last seen", null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(revoked_at=None) | Q(secret_digest=None), name="tablet_revoked_has_no_secret"
            )
        ]

    def __str__(self) -> str:
        return self.name

    def holds(self, secret: str) -> bool:
        """Whether this is the secret that the tablet was given, and it is still let in."""
        return bool(secret) and self.revoked_at is None and self.secret_digest == digest_of(secret)


class SignedIn(AbstractBaseSession):
    """A session as Django keeps it, with whose it is. Deleting the row ends it: the next request finds nothing."""

    handle = models.UUIDField(default=uuid4, unique=True, editable=False)
    account = models.ForeignKey(
        "Account", on_delete=models.CASCADE, null=True, blank=True, related_name="signed_in"
    )
    tablet = models.ForeignKey(
        Tablet, on_delete=models.CASCADE, null=True, blank=True, related_name="signed_in"
    )
    since = models.DateTimeField()
    seen = models.DateTimeField("last seen")
    address = models.GenericIPAddressField(null=True, blank=True)
    agent = models.CharField(max_length=300, blank=True)

    class Meta:
        verbose_name = "session"
        ordering = ["-seen"]

    @property
    def device(self) -> str:
        """The browser and its system in words."""
        return in_words(self.agent)

    @classmethod
    def get_session_store_class(cls) -> Any:
        from studio.sessions import SessionStore

        return SessionStore
