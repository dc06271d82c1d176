"""What the lead said during the day that lasts for a while: somebody ill or moved, a bench down, a supplier late, a
rush job, a Saturday. The planner reads who was moved and which benches are down here; of the others this remembers
what was changed elsewhere, so that it can be shown and taken back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta

from django.db import models
from django.db.models import Q

from .materials import Need
from .operations import Operation
from .orders import Gate, Job
from .people import ExtraHours, Person
from .prepared import Prepared
from .stations import Station
from .studios import Studio


class ChangeKind(models.TextChoices):
    MOVED = "moved", "somebody at another bench"
    ILL = "ill", "somebody ill"
    DOWN = "down", "a machine down"
    LATE = "late", "a supplier late"
    RUSH = "rush", "a rush job"
    SATURDAY = "saturday", "Saturday work"


class DayChangeQuerySet(models.QuerySet["DayChange"]):
    def lasting(self, today: date) -> "DayChangeQuerySet":
        """Neither taken back nor over. What was changed elsewhere meanwhile is for `read_lasting` to leave out."""
        return self.filter(Q(until__gte=today) | Q(until=None), ended_at__isnull=True)


class DayChange(models.Model):
    """`until` is the last day on which it holds, null for as long as there is work.

    `what` names the machine, `count` how many benches it takes away. `before` and `made` are what stood there before
    and what was put there: a day, minutes, places in the order by operation, or the keys of extra hours.
    """

    kind = models.CharField(max_length=8, choices=ChangeKind)
    person = models.ForeignKey("Person", on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    station = models.ForeignKey("Station", on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    job = models.ForeignKey("Job", on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    gate = models.ForeignKey("Gate", on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    operation = models.ForeignKey(
        "Operation", on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    need = models.ForeignKey("Need", on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    # Days off that were taken out again by hand leave the row without them: then nobody is ill any more.
    day_off = models.ForeignKey("DayOff", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    what = models.CharField(max_length=40, blank=True)
    count = models.PositiveSmallIntegerField(default=1)
    since = models.DateTimeField()
    until = models.DateField(null=True, blank=True)
    before = models.JSONField(default=dict, blank=True)
    made = models.JSONField(default=dict, blank=True)
    why = models.CharField(max_length=200, blank=True)
    written_by = models.CharField(max_length=80)
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = DayChangeQuerySet.as_manager()

    class Meta:
        ordering = ["since", "pk"]
        indexes = [
            models.Index(fields=["until"], condition=Q(ended_at__isnull=True), name="day_change_lasting"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="moved", person__isnull=False, station__isnull=False, until__isnull=False)
                | Q(kind="ill", person__isnull=False, until__isnull=False)
                | Q(kind="down", station__isnull=False, until__isnull=False)
                | Q(kind="late", gate__isnull=False, until__isnull=False)
                | Q(kind="late", operation__isnull=False, until__isnull=False)
                | Q(kind="late", need__isnull=False, until__isnull=False)
                | Q(kind="rush", job__isnull=False)
                | Q(kind="saturday", until__isnull=False),
                name="day_change_says_what",
            ),
            models.CheckConstraint(condition=Q(count__gte=1), name="day_change_count"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=models.F("since")),
                name="day_change_ends_after_since",
            ),
            models.UniqueConstraint(
                fields=["person"],
                condition=Q(kind="moved", ended_at__isnull=True),
                name="moved_to_one_station",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} since {self.since:%Y-%m-%d %H:%M}"

    @property
    def late(self) -> str:
        """What comes late, in words."""
        if self.need is not None:
            return f"{self.need} for {self.need.job.number}"
        if self.operation is not None:
            panel = self.operation.panel
            return f"{panel.code if panel else self.operation.job.number} {self.operation}"
        return str(self.gate)


@dataclass(frozen=True, slots=True)
class Lasting:
    """A change that holds today: what it is in words, and its last day with the word that ties the two, if any."""

    change: DayChange
    words: str
    tie: str = "until"
    until: date | None = None


_LASTING = Prepared(
    lambda today: (
        DayChange.objects.lasting(today)
        .select_related("person", "station", "job", "day_off", "gate__job", "operation__job")
        .select_related(
            "operation__panel", "operation__kind", "need__job", "need__glass", "need__outside__kind"
        )
        .defer("operation__panel__drawing")
    )
)


def read_lasting(today: date, workshop: int | None = None) -> list[Lasting]:
    """What holds today, in all workshops or in one, the newest last; without what somebody has changed by hand since.
    Three queries at most."""
    rows = [row for row in _LASTING(today) if workshop in (None, _workshop_of(row))]
    places, extra = _places(rows), _extra(rows)
    return [_told(row) for row in rows if _still_so(row, places, extra)]


def _workshop_of(row: DayChange) -> int | None:
    of = row.person or row.station or row.job
    if of is None and (what := row.gate or row.operation or row.need):
        of = what.job
    return of.workshop_id if of else None


def _places(rows: list[DayChange]) -> dict[str, int]:
    """Places in the order by the key of the operation, of the rush jobs' unfinished work."""
    jobs = [row.job_id for row in rows if row.kind == ChangeKind.RUSH]
    if not jobs:
        return {}
    open_ones = Operation.objects.filter(job__in=jobs, finished_at=None, skipped=False)
    placed = open_ones.exclude(pinned_place=None).values_list("pk", "pinned_place")
    return {str(pk): place for pk, place in placed if place is not None}


def _extra(rows: list[DayChange]) -> set[int]:
    made = [pk for row in rows if row.kind == ChangeKind.SATURDAY for pk in row.made["extra"]]
    return set(ExtraHours.objects.filter(pk__in=made).values_list("pk", flat=True)) if made else set()


def _still_so(row: DayChange, places: dict[str, int], extra: set[int]) -> bool:
    match row.kind:
        case ChangeKind.ILL:
            return row.day_off is not None
        case ChangeKind.LATE if row.gate is not None:
            return row.gate.cleared is None and row.gate.expected == row.until
        case ChangeKind.LATE if row.need is not None:
            return row.need.arrived is None and row.need.expected == row.until
        case ChangeKind.LATE if row.operation is not None:
            return row.operation.finished_at is None and row.operation.estimate == row.made["minutes"]
        case ChangeKind.RUSH:
            return any(places.get(pk) == place for pk, place in row.made["places"].items())
        case ChangeKind.SATURDAY:
            return any(pk in extra for pk in row.made["extra"])
    return True


def _told(row: DayChange) -> Lasting:
    match row.kind:
        case ChangeKind.MOVED:
            return Lasting(row, f"{row.person} is at {row.station}", until=row.until)
        case ChangeKind.ILL:
            return Lasting(row, f"{row.person} is ill", until=row.day_off.last if row.day_off else row.until)
        case ChangeKind.DOWN:
            many = f"{row.count} benches" if row.count > 1 else "a bench"
            what = f"{row.what} ({row.station})" if row.what else f"{many} of {row.station}"
            verb = "are" if row.count > 1 and not row.what else "is"
            return Lasting(row, f"{what} {verb} down", until=row.until)
        case ChangeKind.LATE:
            return Lasting(row, f"{row.late} is late:", "comes", row.until)
        case ChangeKind.RUSH:
            return Lasting(row, f"{row.job} goes first everywhere", "")
    return Lasting(row, f"{row.made['names']}: extra hours {row.made['span']}", "on", row.until)


Late = Gate | Need | Operation


def back_on(operation: Operation) -> date:
    """The day on which work that is out is expected back."""
    assert operation.started_at is not None
    back = operation.started_at + timedelta(minutes=operation.estimate)
    return back.astimezone(Studio.current().zone).date()


@dataclass(frozen=True, slots=True)
class Asked:
    """What the lead says has changed; of the fields those that its kind needs.

    `until`: the last day of it, the day on which what is late comes, or the day that is worked on.
    """

    kind: ChangeKind
    until: date | None = None
    person: Person | None = None
    station: Station | None = None
    what: str = ""
    count: int = 1
    late: Late | None = None
    job: Job | None = None
    people: Sequence[Person] = ()
    hours: tuple[time, time] = (time(8), time(12))
    why: str = ""

    @property
    def last(self) -> date:
        assert self.until is not None
        return self.until
