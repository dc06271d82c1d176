from django.db import models


class EventQuerySet(models.QuerySet["Event"]):
    def newest(self) -> int:
        """The id of the last event; 0 where nothing has happened yet. Whatever changes rows raises it."""
        return self.order_by("-pk").values_list("pk", flat=True).first() or 0


class Event(models.Model):
    """Who changed what, when, from what to what, and why. Written in the transaction of the change, never altered."""

    at = models.DateTimeField()
    account = models.ForeignKey("Account", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    person = models.ForeignKey("Person", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    verb = models.CharField(max_length=40)
    subject = models.CharField("kind of row", max_length=30)
    subject_id = models.BigIntegerField()
    job = models.ForeignKey("Job", on_delete=models.SET_NULL, null=True, blank=True, related_name="events")
    panel = models.ForeignKey(
        "Panel", on_delete=models.SET_NULL, null=True, blank=True, related_name="events"
    )
    before = models.JSONField(default=dict, blank=True)
    after = models.JSONField(default=dict, blank=True)
    why = models.CharField(max_length=200, blank=True)

    objects = EventQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [
            models.Index(fields=["job", "-at"]),
            models.Index(fields=["panel", "-at"]),
            models.Index(fields=["subject", "subject_id"]),
            models.Index(fields=["at"]),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.verb}"
