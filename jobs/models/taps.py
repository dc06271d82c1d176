from django.db import models
from django.db.models import Q


class Tap(models.Model):
    """A tap that was carried out, so that the same one sent again changes nothing and gets the same answer."""

    client_id = models.UUIDField("given by the tablet, once for each form it shows", unique=True)
    at = models.DateTimeField()
    verb = models.CharField(max_length=40)
    # What came of it: {"model": model name, "pk": primary key}, empty where nothing came of it.
    result = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["at"]

    def __str__(self) -> str:
        return f"{self.verb} {self.client_id}"


WORDS = {
    "put-back": "put back",
    "pieces": "pieces done",
    "mark": "pieces marked",
    "reopen": "not finished",
    "break": "breakage",
    "broke": "breakage",
}


class LateTapQuerySet(models.QuerySet["LateTap"]):
    def unsettled(self) -> "LateTapQuerySet":
        return self.filter(settled_at__isnull=True)

    def with_operation(self) -> "LateTapQuerySet":
        rows = self.select_related("person", "operation__kind", "operation__panel__job", "operation__job")
        return rows.defer("operation__panel__drawing")


class LateTap(models.Model):
    """A tap made while the line was away that contradicts what was written down meanwhile: kept for the lead.

    It was refused, or it stands beside the other (`stands`). `typed` is what was typed with it.
    """

    client_id = models.UUIDField(unique=True)
    verb = models.CharField(max_length=40)
    person = models.ForeignKey("Person", on_delete=models.PROTECT, related_name="+")
    operation = models.ForeignKey(
        "Operation", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    happened_at = models.DateTimeField()
    came_at = models.DateTimeField()
    stands = models.BooleanField(default=False)
    sentence = models.CharField(max_length=400)
    typed = models.JSONField(default=dict, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.CharField(max_length=100, blank=True)

    objects = LateTapQuerySet.as_manager()

    class Meta:
        ordering = ["happened_at", "pk"]
        indexes = [
            models.Index(
                fields=["happened_at"], condition=Q(settled_at__isnull=True), name="late_tap_unsettled"
            )
        ]

    def __str__(self) -> str:
        return f"{self.verb} {self.happened_at:%Y-%m-%d %H:%M}"

    @property
    def word(self) -> str:
        """What was tapped, for people."""
        return WORDS.get(self.verb, self.verb)
