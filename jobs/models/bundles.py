"""All papers of a job in one PDF, as somebody asked for them."""

from datetime import timedelta

from django.conf import settings
from django.db import models
from django.db.models import Q

KEPT_FOR = timedelta(hours=1)


class PaperBundle(models.Model):
    """How far a bundle is: papers done of all, pages so far, names of those that could not be made, and its PDF.

    Rows rather than files tell it, so that every machine that serves pages can answer whoever waits. `attempt` counts
    who has begun to make it: whoever is not the last to have begun writes nothing more.
    """

    key = models.CharField("by which its owner finds it", max_length=32, unique=True)
    job = models.ForeignKey("Job", on_delete=models.CASCADE, related_name="+")
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    patterns = models.BooleanField("with the full-size patterns", default=True)
    address = models.CharField("what the codes on its papers begin with", max_length=200, blank=True)
    asked_at = models.DateTimeField()
    told_at = models.DateTimeField("when this was so")
    attempt = models.PositiveSmallIntegerField(default=0)
    total = models.PositiveIntegerField("papers")
    done = models.PositiveIntegerField("papers done", default=0)
    pages = models.PositiveIntegerField(default=0)
    failed = models.JSONField("names of papers that could not be made", default=list, blank=True)
    # Under "passing", by a random name; nothing serves it but a view that asks who it is.
    file = models.FileField(upload_to="passing", max_length=120, blank=True)
    broken = models.BooleanField("nothing will come of it", default=False)
    task = models.UUIDField("by which it is made", null=True, blank=True)

    class Meta:
        ordering = ["asked_at", "pk"]
        constraints = [
            # Who asks twice waits for the same one.
            models.UniqueConstraint(
                fields=["job", "owner", "patterns"],
                condition=Q(file="", broken=False),
                name="one_paper_bundle_being_made",
            ),
        ]

    def __str__(self) -> str:
        return f"papers of {self.job}"

    @property
    def bound(self) -> bool:
        return bool(self.file)

    @property
    def binding(self) -> bool:
        return self.done == self.total and not self.bound
