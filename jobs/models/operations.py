"""Operations and what happens to them: holds and breakages.

An operation is *waiting*, *ready*, *on the bench*, *held* or *done*. None of these is a column: they follow from
`finished_at`, `keeper`, the open holds, the operations before it and the gates of its job.
"""

from datetime import datetime

from django.db import models
from django.db.models import Case, Exists, F, OuterRef, Q, Value, When
from django.db.models.functions import Coalesce
from django.db.models.lookups import Exact

from .kinds import GateKind, Nature
from .orders import Gate, Stage
from .pieces import BEYOND, PieceMark


class State(models.TextChoices):
    WAITING = "waiting", "waiting"
    READY = "ready", "ready"
    ON_BENCH = "on-bench", "on the bench"
    HELD = "held", "held"
    DONE = "done", "done"


class OperationQuerySet(models.QuerySet["Operation"]):
    def open(self, at: datetime) -> "OperationQuerySet":
        """Unfinished at `at`, of jobs that the floor works on, and not skipped."""
        return self.filter(job__stage=Stage.ORDERED, skipped=False).exclude(finished_at__lte=at)

    def with_state(self, at: datetime) -> "OperationQuerySet":
        """Adds `state`, a value of State, as it is at `at`, in the same query whatever the history.

        Also `is_held`, `before_open` (something it comes after is unfinished) and `gate_open`.
        """
        # One subquery for all that may hold and one for all gates: each of them costs more to put together for the
        # database than it costs the database to answer.
        holds = Hold.objects.filter(
            Q(operation=OuterRef("pk")) | Q(panel=OuterRef("panel")) | Q(job=OuterRef("job")),
            released_at__isnull=True,
        )
        before = Operation.objects.filter(then=OuterRef("pk"), skipped=False).exclude(finished_at__lte=at)
        needed = Q()
        for gate in GateKind.values:
            needed |= Q(kind=gate) & Q(Exact(OuterRef(f"kind__needs_{gate}"), True))
        gates = Gate.objects.filter(needed, job=OuterRef("job"), cleared__isnull=True)
        return self.annotate(
            is_held=Exists(holds),
            before_open=Exists(before),
            gate_open=Exists(gates),
        ).annotate(
            state=Case(
                When(Q(finished_at__lte=at) | Q(skipped=True), then=Value(State.DONE)),
                When(is_held=True, then=Value(State.HELD)),
                # Attended work lies on a bench while somebody keeps it; other work is being done once begun.
                When(
                    Q(keeper__isnull=False)
                    | (~Q(kind__nature=Nature.ATTENDED) & Q(started_at__isnull=False)),
                    then=Value(State.ON_BENCH),
                ),
                When(Q(early=False) & (Q(before_open=True) | Q(gate_open=True)), then=Value(State.WAITING)),
                default=Value(State.READY),
                output_field=models.CharField(max_length=8),
            )
        )

    def with_hours(self) -> "OperationQuerySet":
        """Adds `spent`, the logged minutes that count as work; a timer that still runs is not in it."""
        from .hours import TimeEntry

        spent = (
            TimeEntry.objects.filter(operation=OuterRef("pk"))
            .counted()
            .values("operation")
            .annotate(total=models.Sum("minutes"))
            .values("total")
        )
        return self.annotate(spent=Coalesce(models.Subquery(spent), 0))

    def with_beyond(self) -> "OperationQuerySet":
        """Adds `beyond`: what the pieces marked on the drawing are worth more than their count (remaining.worked)."""
        marks = PieceMark.objects.standing().filter(operation=OuterRef("pk")).order_by()
        found = marks.values("operation").annotate(more=BEYOND).values("more")
        return self.annotate(beyond=Coalesce(models.Subquery(found), 0.0))


class Operation(models.Model):
    """One kind of work on one panel, or on a whole job where `panel` is null (a delivery, say).

    `estimate` is in minutes: working minutes for attended work, elapsed ones for a cure or outside work.
    A cure that has started has its `finished_at` in the future: it is done when that time has come.
    """

    job = models.ForeignKey("Job", on_delete=models.CASCADE, related_name="operations")
    panel = models.ForeignKey(
        "Panel", on_delete=models.CASCADE, null=True, blank=True, related_name="operations"
    )
    kind = models.ForeignKey("OperationKind", on_delete=models.PROTECT, related_name="operations")
    label = models.CharField(max_length=60, blank=True)
    place = models.PositiveSmallIntegerField("order in the panel's route", default=0)
    after = models.ManyToManyField("self", symmetrical=False, blank=True, related_name="then")
    estimate = models.PositiveIntegerField("estimated minutes")
    quantity = models.PositiveIntegerField("pieces", default=0)
    quantity_done = models.PositiveIntegerField("pieces done", default=0)
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    skipped = models.BooleanField(default=False)
    # Who has it on the bench now; nobody: it is not on a bench.
    keeper = models.ForeignKey(
        "Person", on_delete=models.SET_NULL, null=True, blank=True, related_name="keeps"
    )
    pinned_person = models.ForeignKey(
        "Person", on_delete=models.SET_NULL, null=True, blank=True, related_name="pinned"
    )
    # A place in its station's order given by hand, the lowest first; null: by the rule.
    pinned_place = models.IntegerField(null=True, blank=True)
    # The lead let it start before what comes first was done.
    early = models.BooleanField(default=False)
    breakage = models.ForeignKey(
        "Breakage", on_delete=models.CASCADE, null=True, blank=True, related_name="rework"
    )

    objects = OperationQuerySet.as_manager()

    class Meta:
        ordering = ["job", "panel__number", "place", "pk"]
        indexes = [
            # What is unfinished is small whatever the history: pages and the planner look only there.
            models.Index(fields=["kind"], condition=Q(finished_at__isnull=True), name="operation_unfinished"),
            models.Index(fields=["kind", "finished_at"]),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity_done__lte=F("quantity")), name="operation_pieces_done"
            ),
            models.CheckConstraint(condition=Q(estimate__lte=5_000_000), name="operation_estimate"),
            models.CheckConstraint(
                condition=Q(finished_at__isnull=True) | Q(keeper__isnull=True),
                name="operation_done_leaves_the_bench",
            ),
        ]

    def __str__(self) -> str:
        return self.label or self.kind.name

    @property
    def days_out(self) -> int | None:
        """The calendar days that outside work is estimated at, begun ones whole; None for work done here."""
        return -(-self.estimate // (24 * 60)) if self.kind.nature == Nature.OUTSIDE else None


class Hold(models.Model):
    """Work on one operation, one panel or one job rests until this is released."""

    operation = models.ForeignKey(
        Operation, on_delete=models.CASCADE, null=True, blank=True, related_name="holds"
    )
    panel = models.ForeignKey("Panel", on_delete=models.CASCADE, null=True, blank=True, related_name="holds")
    job = models.ForeignKey("Job", on_delete=models.CASCADE, null=True, blank=True, related_name="holds")
    reason = models.CharField(max_length=200)
    since = models.DateTimeField()
    until = models.DateField("expected to end on", null=True, blank=True)
    held_by = models.CharField(max_length=80)
    released_at = models.DateTimeField(null=True, blank=True)
    released_by = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["since"]
        indexes = [models.Index(fields=["since"], condition=Q(released_at__isnull=True), name="hold_open")]
        constraints = [
            models.CheckConstraint(
                condition=Q(operation__isnull=False, panel__isnull=True, job__isnull=True)
                | Q(operation__isnull=True, panel__isnull=False, job__isnull=True)
                | Q(operation__isnull=True, panel__isnull=True, job__isnull=False),
                name="hold_on_one_thing",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="hold_has_a_reason"),
            models.CheckConstraint(
                condition=Q(released_at__isnull=True) | Q(released_at__gte=F("since")),
                name="hold_released_after_since",
            ),
        ]

    def __str__(self) -> str:
        return self.reason


class Breakage(models.Model):
    """Pieces that broke during an operation. What has to be done again are operations with `breakage` set."""

    operation = models.ForeignKey(Operation, on_delete=models.CASCADE, related_name="breakages")
    pieces = models.PositiveIntegerField()
    at = models.DateTimeField()
    person = models.ForeignKey("Person", on_delete=models.SET_NULL, null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    client_id = models.UUIDField(unique=True, null=True, blank=True)

    class Meta:
        ordering = ["at"]
        constraints = [models.CheckConstraint(condition=Q(pieces__gte=1), name="breakage_pieces")]

    def __str__(self) -> str:
        return f"{self.pieces} broken"
