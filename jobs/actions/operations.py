"""Operations of a panel or a job: added, skipped, split, put in order, estimated anew."""

from collections.abc import Collection
from datetime import datetime

from django.db import transaction
from django.db.models import Max

from jobs.models import Job, Nature, Operation, OperationKind, Panel
from jobs.snapshot.footing import ESTIMATED

from .base import Actor, Refused, mark_out_of_date, record
from .bench import begin_cures
from .graph import JobGraph, lock_job, lock_operation, minutes_in_bounds
from .panels import base_name
from .workshops import must_be_done_for


@transaction.atomic
def add_operation(
    job: Job,
    panel: Panel | None,
    kind: OperationKind,
    *,
    estimate: int,
    quantity: int | None = None,
    label: str = "",
    after: Collection[Operation] = (),
    before: Collection[Operation] = (),
    by: Actor,
    at: datetime,
) -> Operation:
    """More work on a panel, or on the whole job where `panel` is None, between what it comes after and before.

    `estimate` is in minutes for all pieces together. `quantity` is by default all pieces of the panel, where the kind
    is counted by the piece.
    """
    job = lock_job(job)
    if panel is not None and panel.job_id != job.pk:
        raise Refused("That panel is of another job.", "panel")
    must_be_done_for(kind, job)
    _check_label(label)
    made = Operation.objects.create(
        job=job,
        panel=panel,
        kind=kind,
        label=label.strip(),
        place=_place_behind(after, job, panel),
        estimate=minutes_in_bounds(estimate, "estimate"),
        quantity=_pieces(panel, kind, quantity),
    )
    _tie(made, after, before)
    told = {"kind": kind, "minutes": estimate, "after": [str(row) for row in after]}
    record("added", made, by=by, at=at, after=told)
    mark_out_of_date()
    return made


def _pieces(panel: Panel | None, kind: OperationKind, asked: int | None) -> int:
    if not kind.counts_pieces:
        return 0
    if asked is None:
        return panel.pieces * panel.copies if panel is not None else 0
    if asked < 0 or asked > 10_000_000:
        raise Refused("That is not a number of pieces.", "quantity")
    return asked


def _place_behind(after: Collection[Operation], job: Job, panel: Panel | None) -> int:
    """Beside the last of what it comes after; with nothing before it, at the end."""
    if after:
        return max(row.place for row in after)
    return job.operations.filter(panel=panel).aggregate(last=Max("place"))["last"] or 0


def _tie(made: Operation, after: Collection[Operation], before: Collection[Operation]) -> None:
    graph = JobGraph(made.job)
    graph.set_after(made.pk, [row.pk for row in after])
    _refuse_begun(graph, before)
    for row in before:
        graph.set_after(row.pk, {*graph.after.get(row.pk, set()), made.pk})
    if made.panel_id is not None:
        graph.tie_ends([made.panel_id])


def _refuse_begun(graph: JobGraph, before: Collection[Operation]) -> None:
    for row in before:
        now = graph.operations.get(row.pk)
        if now is None:
            raise Refused("What it comes before has to be work of the same job.", "before")
        if now.started_at is not None or now.finished_at is not None:
            raise Refused(f"{now} has begun already; it cannot be made to wait.", "before")


def _check_label(label: str) -> None:
    if len(label.strip()) > 60:
        raise Refused("A name has at most 60 letters.", "label")


@transaction.atomic
def skip_operation(operation: Operation, *, by: Actor, at: datetime, why: str = "") -> Operation:
    """Leave work out. What comes after it then waits for what lay before it, and hours logged on it stay."""
    row = lock_operation(operation)
    _refuse_on_the_bench(row)
    graph = JobGraph(row.job)
    for then in graph.then(row.pk):
        graph.set_after(then, graph.after[then] | graph.after[row.pk])
    row.skipped, row.pinned_person, row.pinned_place = True, None, None
    row.save(update_fields=["skipped", "pinned_person", "pinned_place"])
    record("skipped", row, by=by, at=at, before={"skipped": False}, after={"skipped": True}, why=why)
    begin_cures(row, by=by, at=at)
    mark_out_of_date()
    return row


def _refuse_on_the_bench(row: Operation) -> None:
    running = row.entries.running().select_related("person").first()
    if running is not None:
        raise Refused(f"{running.person} is at it now; the timer has to stop first.")
    if row.keeper is not None:
        raise Refused(f"{row.keeper} has it on the bench; it has to be put back first.")
    if row.kind.nature != Nature.ATTENDED and row.started_at is not None:
        raise Refused(f"{row} has begun already.")


@transaction.atomic
def unskip_operation(operation: Operation, *, by: Actor, at: datetime) -> Operation:
    """Take up work that was left out. What has begun since goes on; the rest waits for it again."""
    lock_job(operation.job)
    row = (
        Operation.objects.select_for_update(of=("self",))
        .select_related("job", "panel", "kind")
        .get(pk=operation.pk)
    )
    if not row.skipped:
        raise Refused(f"{row} is not skipped.")
    row.skipped = False
    row.save(update_fields=["skipped"])
    record("taken up again", row, by=by, at=at, before={"skipped": True}, after={"skipped": False})
    mark_out_of_date()
    return row


@transaction.atomic
def split_operation(
    operation: Operation, *, pieces: int = 0, minutes: int | None = None, by: Actor, at: datetime
) -> Operation:
    """Make two of one, so that two people can share it; what comes after waits for both. Gives the new part.

    The new part takes `pieces` of those that are not done, and `minutes` of the estimate: by default its share by
    pieces, or half. No piece and no minute is lost or made.
    """
    row = lock_operation(operation)
    if row.kind.nature == Nature.CURE:
        raise Refused("It cures by itself; there is nothing to share.")
    if row.kind.nature == Nature.OUTSIDE and row.started_at is not None:
        raise Refused(f"{row} is out already.")
    most = row.quantity - max(row.quantity_done, 1)
    if row.quantity and not 1 <= pieces <= most:
        raise Refused(
            f"The new part can take between 1 and {most} pieces."
            if most > 0
            else "No pieces are left to share.",
            "pieces",
        )
    if not row.quantity and pieces:
        raise Refused(f"{row} is not counted by the piece.", "pieces")
    if minutes is None:
        minutes = row.estimate * pieces // row.quantity if row.quantity else row.estimate // 2
    if not 0 <= minutes <= row.estimate:
        raise Refused("The new part cannot take more than the whole.", "minutes")
    graph = JobGraph(row.job)
    part = Operation.objects.create(
        job=row.job,
        panel=row.panel,
        kind=row.kind,
        label=_part_name(row, graph),
        place=row.place,
        estimate=minutes,
        quantity=pieces,
        early=row.early,
        breakage=row.breakage,
    )
    row.quantity, row.estimate = row.quantity - pieces, row.estimate - minutes
    row.save(update_fields=["quantity", "estimate"])
    part.after.set(graph.after[row.pk])
    part.then.add(*graph.then(row.pk))
    told = {"pieces": row.quantity, "minutes": row.estimate}
    before = {"pieces": row.quantity + pieces, "minutes": row.estimate + minutes}
    record("split", row, by=by, at=at, before=before, after=told | {"new part": str(part)})
    record("added", part, by=by, at=at, after={"pieces": pieces, "minutes": minutes})
    mark_out_of_date()
    return part


def _part_name(row: Operation, graph: JobGraph) -> str:
    base = base_name(row)
    taken = {str(other) for other in graph.operations.values() if other.panel_id == row.panel_id}
    number = next(n for n in range(2, len(taken) + 3) if _numbered(base, n) not in taken)
    return _numbered(base, number)


def _numbered(base: str, number: int) -> str:
    tail = f", part {number}"
    return base[: 60 - len(tail)] + tail


@transaction.atomic
def set_order(
    operation: Operation,
    *,
    after: Collection[Operation],
    place: int | None = None,
    by: Actor,
    at: datetime,
) -> Operation:
    """Say what an operation comes after, and its place (from 1) in the list of its panel. Refuses a circle by name."""
    row = lock_operation(operation)
    graph = JobGraph(row.job)
    was = sorted(graph.name(pk) for pk in graph.after[row.pk])
    graph.set_after(row.pk, [other.pk for other in after])
    if row.panel_id is not None:
        graph.tie_ends([row.panel_id])
    _put_at(row, place)
    now = sorted(graph.name(pk) for pk in graph.after[row.pk])
    record("put in order", row, by=by, at=at, before={"after": was}, after={"after": now, "place": place})
    begin_cures_after(row, by=by, at=at)
    mark_out_of_date()
    return row


def begin_cures_after(row: Operation, *, by: Actor, at: datetime) -> None:
    """A cure that has been told to wait for less may begin at once, from the finish of what it still comes after."""
    if row.kind.nature == Nature.CURE:
        for before in row.after.exclude(finished_at=None)[:1]:
            begin_cures(before, by=by, at=at)


def _put_at(row: Operation, place: int | None) -> None:
    """Number the operations of the row's panel anew, with the row at `place`."""
    if place is None:
        return
    same = Operation.objects.select_for_update(of=("self",)).filter(job=row.job_id, panel=row.panel_id)
    others = list(same.exclude(pk=row.pk).order_by("place", "pk"))
    if not 1 <= place <= len(others) + 1:
        raise Refused(f"The place is between 1 and {len(others) + 1}.", "place")
    others.insert(place - 1, row)
    for number, other in enumerate(others, 1):
        other.place = number
    Operation.objects.bulk_update(others, ["place"])


@transaction.atomic
def change_estimate(operation: Operation, minutes: int, *, why: str, by: Actor, at: datetime) -> Operation:
    """Estimate anew what is not finished, with the reason: the next quote learns from it."""
    row = lock_operation(operation)
    if minutes_in_bounds(minutes, "estimate") == 0:
        raise Refused("Work takes more than no time; skip it if there is none.", "estimate")
    why = why.strip()
    if not why or len(why) > 200:
        raise Refused("Say in a few words why the estimate changes.", "why")
    before, row.estimate = row.estimate, minutes
    row.save(update_fields=["estimate"])
    record(ESTIMATED, row, by=by, at=at, before={"minutes": before}, after={"minutes": minutes}, why=why)
    mark_out_of_date()
    return row
