"""Photos of panels, taken at a bench or in the office."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from .orders import Job


class PhotoQuerySet(models.QuerySet["Photo"]):
    def shared_of(self, job: Job) -> "PhotoQuerySet":
        """What the customer of a job may see, the newest first."""
        return self.filter(panel__job=job, shared_at__isnull=False)


class Photo(models.Model):
    """A photo of a panel as `jobs.pictures` leaves it: the whole, and a small one for lists, both JPEG.

    The files lie under MEDIA_ROOT by random names, which nothing serves but views that ask who it is. A photo that is
    taken back is gone, its Event stays.
    """

    panel = models.ForeignKey("Panel", on_delete=models.PROTECT, related_name="photos")
    taken_at = models.DateTimeField()
    person = models.ForeignKey("Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    account = models.ForeignKey("Account", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    caption = models.CharField("what it shows", max_length=120, blank=True)
    file = models.FileField(upload_to="photos", max_length=120)
    small = models.FileField(upload_to="photos", max_length=120)
    width = models.PositiveSmallIntegerField("width in pixels")
    height = models.PositiveSmallIntegerField("height in pixels")
    shared_at = models.DateTimeField("shared with the customer at", null=True, blank=True)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["-taken_at", "-pk"]
        indexes = [models.Index(fields=["panel", "-taken_at"])]
        constraints = [
            models.CheckConstraint(condition=~Q(file="") & ~Q(small=""), name="photo_has_its_files"),
            models.CheckConstraint(condition=Q(width__gte=1, height__gte=1), name="photo_size"),
        ]

    def __str__(self) -> str:
        return self.caption or f"photo of {self.panel.name}"

    def get_absolute_url(self) -> str:
        return reverse("photo", args=[self.pk])

    @property
    def taken_by(self) -> str:
        if self.person is not None:
            return self.person.name
        account = self.account
        return (account.get_full_name() or account.username) if account else "the studio"
