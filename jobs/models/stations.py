from django.db import models
from django.db.models import Q

from .workshops import FIRST


class Station(models.Model):
    """Benches that do the same work."""

    name = models.CharField(max_length=40, unique=True)
    slug = models.SlugField(max_length=40, unique=True)
    place = models.PositiveSmallIntegerField("order on the floor", default=0)
    benches = models.PositiveSmallIntegerField(default=1)
    active = models.BooleanField(default=True)
    workshop = models.ForeignKey("Workshop", on_delete=models.PROTECT, default=FIRST, related_name="stations")

    class Meta:
        ordering = ["place", "name"]
        constraints = [
            models.CheckConstraint(condition=Q(benches__lte=200), name="station_benches"),
        ]

    def __str__(self) -> str:
        return self.name
