from django.db import models


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
