from django.db import models
from django.db.models import Q

from .prepared import Prepared


class PlanState(models.Model):
    """How old the dates are (row 1): every write that the planner reads raises `revision`; a plan notes the
    revision it was made from. The dates are out of date while the two differ."""

    revision = models.PositiveBigIntegerField(default=1)
    planned_revision = models.PositiveBigIntegerField(default=0)
    planned_at = models.DateTimeField(null=True, blank=True)
    seed = models.PositiveIntegerField(default=1)
    futures = models.PositiveIntegerField(default=1000)
    tightest = models.ForeignKey("Station", on_delete=models.SET_NULL, null=True, blank=True)
    # Sentences about what could not be planned: [{"sentence": str, "job": id or null, "operation": id or null}]
    problems = models.JSONField(default=list, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="one_plan_state")]

    def __str__(self) -> str:
        return f"plan of revision {self.planned_revision}"

    @property
    def out_of_date(self) -> bool:
        return self.planned_revision != self.revision

    # Of this reading alone: the dates should have been made anew, and could not be.
    failed = False

    @classmethod
    def current(cls) -> "PlanState":
        return _CURRENT.first() or cls.objects.get_or_create(pk=1)[0]


_CURRENT = Prepared(lambda: PlanState.objects.filter(pk=1))


class Projection(models.Model):
    """What the present plan says of one job, panel or operation; all rows are replaced by the next plan.

    For a job or panel p50, p80 and p95 are the times by which all of its work is finished with that chance. For an
    operation they are those of its own finish, and start, finish, person and rank are those of the floor run once
    with every duration at its median.
    """

    job = models.OneToOneField(
        "Job", on_delete=models.CASCADE, null=True, blank=True, related_name="projection"
    )
    panel = models.OneToOneField(
        "Panel", on_delete=models.CASCADE, null=True, blank=True, related_name="projection"
    )
    operation = models.OneToOneField(
        "Operation", on_delete=models.CASCADE, null=True, blank=True, related_name="projection"
    )
    p50 = models.DateTimeField()
    p80 = models.DateTimeField()
    p95 = models.DateTimeField()
    # Of a job: the day with the studio's confidence, and the chance that the promise (or else the wish) is kept.
    confident_day = models.DateField(null=True, blank=True)
    chance = models.FloatField(null=True, blank=True)
    start = models.DateTimeField(null=True, blank=True)
    finish = models.DateTimeField(null=True, blank=True)
    person = models.ForeignKey("Person", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    rank = models.PositiveIntegerField("place in its station's order", null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(job__isnull=False, panel__isnull=True, operation__isnull=True)
                | Q(job__isnull=True, panel__isnull=False, operation__isnull=True)
                | Q(job__isnull=True, panel__isnull=True, operation__isnull=False),
                name="projection_of_one_thing",
            ),
            models.CheckConstraint(
                condition=Q(p80__gte=models.F("p50"), p95__gte=models.F("p80")), name="projection_order"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.p50:%Y-%m-%d} to {self.p95:%Y-%m-%d}"


class PersonWeek(models.Model):
    """Hours of work of one person in one week against the hours that they are there, by the present plan."""

    person = models.ForeignKey("Person", on_delete=models.CASCADE, related_name="+")
    week = models.DateField("its Monday")
    work = models.PositiveIntegerField("minutes of work, in the middle")
    work_80 = models.PositiveIntegerField("minutes of work, with 80 %")
    there = models.PositiveIntegerField("minutes they are there")

    class Meta:
        ordering = ["person", "week"]
        constraints = [
            models.UniqueConstraint(fields=["person", "week"], name="one_load_per_person_and_week")
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.week}"


class LoadWeek(models.Model):
    """Hours of work against hours there are, of one station in one week, by the present plan."""

    station = models.ForeignKey("Station", on_delete=models.CASCADE, related_name="load")
    week = models.DateField("its Monday")
    work = models.PositiveIntegerField("minutes of work, in the middle")
    work_80 = models.PositiveIntegerField("minutes of work, with 80 %")
    capacity = models.PositiveIntegerField("minutes there are")

    class Meta:
        ordering = ["station__place", "week"]
        constraints = [
            models.UniqueConstraint(fields=["station", "week"], name="one_load_per_station_and_week")
        ]

    def __str__(self) -> str:
        return f"{self.station} {self.week}"
