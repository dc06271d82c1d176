"""Pieces of a pattern as they are worked: which is done at which work and wheel, and which broke.

The count of an operation (`quantity_done`) holds what is marked: marking a piece done adds one, taking it back takes
one away. What is counted beyond the marked pieces stays, as pieces that nobody has named; only where marks and they
would be more than there are pieces do marks take their places.
"""

from datetime import datetime

from django.db import models
from django.db.models import Case, F, Q, Sum, When

# What marks are worth more than the pieces that they complete; together with the count it says how much is worked.
BEYOND = Sum(Case(When(completes=True, then=F("worth") - 1.0), default=F("worth")))


class PieceMarkQuerySet(models.QuerySet["PieceMark"]):
    def standing(self) -> "PieceMarkQuerySet":
        """Those that nobody has taken back."""
        return self.filter(undone_at__isnull=True)

    def standing_at(self, at: datetime) -> "PieceMarkQuerySet":
        """Those that were made and not taken back by then."""
        return self.filter(at__lte=at).filter(Q(undone_at__isnull=True) | Q(undone_at__gt=at))

    def beyond(self) -> dict[int, float]:
        """By operation, what these marks are worth more than the pieces that they complete."""
        return dict(self.order_by().values_list("operation").annotate(beyond=BEYOND))


class PieceMark(models.Model):
    """One step of one piece is done: at which operation, in which copy, by whom and when; until it is taken back.

    `step` is a word of the kind's steps (a wheel), empty where it has none; with the last of them the piece is done
    and the mark `completes` it. `worth` is in pieces: see jobs.estimating.pieces. `number` is the piece's number in
    `pattern`.
    """

    operation = models.ForeignKey("Operation", on_delete=models.CASCADE, related_name="marks")
    pattern = models.ForeignKey("Pattern", on_delete=models.CASCADE, related_name="+")
    copy = models.PositiveSmallIntegerField(default=1)
    number = models.PositiveIntegerField()
    step = models.CharField(max_length=40, blank=True, default="")
    completes = models.BooleanField(default=True)
    worth = models.FloatField(default=1)
    person = models.ForeignKey("Person", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    at = models.DateTimeField()
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        "Person", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    objects = PieceMarkQuerySet.as_manager()

    class Meta:
        ordering = ["operation", "copy", "number", "at"]
        constraints = [
            models.UniqueConstraint(
                fields=["operation", "pattern", "copy", "number", "step"],
                condition=Q(undone_at__isnull=True),
                name="piece_marked_once_at_a_step",
            ),
            models.CheckConstraint(condition=Q(copy__gte=1, copy__lte=500), name="piece_mark_copy"),
            models.CheckConstraint(condition=Q(number__gte=1, number__lte=20000), name="piece_mark_number"),
            models.CheckConstraint(condition=Q(worth__gte=0, worth__lte=20000), name="piece_mark_worth"),
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True) | Q(undone_at__gte=F("at")),
                name="piece_mark_undone_after",
            ),
            models.CheckConstraint(
                condition=Q(undone_at__isnull=False) | Q(undone_by__isnull=True), name="piece_mark_undone_by"
            ),
        ]

    def __str__(self) -> str:
        return f"piece {self.number}{f', {self.step}' if self.step else ''}"


class BrokenPiece(models.Model):
    """A piece that broke, by its number in `pattern`; what repeats the work on it is of `breakage`."""

    breakage = models.ForeignKey("Breakage", on_delete=models.CASCADE, related_name="named")
    pattern = models.ForeignKey("Pattern", on_delete=models.CASCADE, related_name="+")
    copy = models.PositiveSmallIntegerField(default=1)
    number = models.PositiveIntegerField()

    class Meta:
        ordering = ["breakage", "copy", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["breakage", "copy", "number"], name="piece_broken_once_in_a_breakage"
            ),
            models.CheckConstraint(condition=Q(copy__gte=1, copy__lte=500), name="broken_piece_copy"),
            models.CheckConstraint(condition=Q(number__gte=1, number__lte=20000), name="broken_piece_number"),
        ]

    def __str__(self) -> str:
        return f"piece {self.number}"
