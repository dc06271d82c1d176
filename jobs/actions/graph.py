"""The operations of one job and which waits for which, read under the lock of the job, for every change of order."""

from collections.abc import Collection, Iterable

from jobs.models import Job, Operation, Stage

from .base import Refused
from .routes import check_no_cycle

CLOSED = (Stage.COMPLETE, Stage.CANCELLED, Stage.DECLINED)
LARGEST_MINUTES = 5_000_000


def lock_job(job: Job) -> Job:
    """The job's row, locked until the transaction ends; refused where the job is closed.

    Every change of a job, its panels or the order of its work takes this lock first, so that two of them cannot
    together make a circle that neither makes alone.
    """
    row = Job.objects.select_for_update().select_related("customer").get(pk=job.pk)
    if row.stage in CLOSED:
        raise Refused(f"Job {row.number} is {row.get_stage_display()}; reopen it first.")
    return row


def lock_operation(operation: Operation) -> Operation:
    """An unfinished operation that is not skipped, with its job, panel and kind; the job is locked as well."""
    lock_job(operation.job)
    row = (
        Operation.objects.select_for_update(of=("self",))
        .select_related("job", "panel", "kind__station", "pinned_person")
        .get(pk=operation.pk)
    )
    if row.skipped:
        raise Refused(f"{row} is skipped; take it up again first.")
    if row.finished_at is not None:
        raise Refused(f"{row} is finished already.")
    return row


def minutes_in_bounds(minutes: int, field: str = "minutes") -> int:
    if not 0 <= minutes <= LARGEST_MINUTES:
        raise Refused("That is more than anybody can work; check the hours.", field)
    return minutes


class JobGraph:
    """What comes after what in one job. `after` maps each operation's id to the ids that it waits for."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.operations = {
            row.pk: row for row in job.operations.select_related("kind", "panel").order_by("place", "pk")
        }
        self.after: dict[int, set[int]] = {pk: set() for pk in self.operations}
        edges = Operation.after.through.objects.filter(from_operation__job=job)
        for operation, before in edges.values_list("from_operation_id", "to_operation_id"):
            self.after[operation].add(before)

    def name(self, pk: int) -> str:
        """The operation's name, with its panel where the job has several."""
        row = self.operations[pk]
        panels = {other.panel_id for other in self.operations.values()}
        return f"{row} of {row.panel.name}" if row.panel and len(panels - {None}) > 1 else str(row)

    def then(self, pk: int) -> set[int]:
        return {other for other, before in self.after.items() if pk in before}

    def bridged(self, chosen: Iterable[int]) -> set[int]:
        """The chosen predecessors and, behind each that is skipped, what that one waits for.

        What is skipped counts as done, so whoever comes after it has to wait for what lies behind.
        """
        found: set[int] = set()
        todo = list(chosen)
        while todo:
            pk = todo.pop()
            if pk not in found:
                found.add(pk)
                todo += self.after[pk] if self.operations[pk].skipped else ()
        return found

    def set_after(self, pk: int, chosen: Iterable[int]) -> set[int]:
        """Let an operation come after exactly these, and save it. Refuses what is not of this job, and circles."""
        wanted = set(chosen)
        if not wanted <= self.operations.keys():
            raise Refused("What it comes after has to be work of the same job.", "after")
        check_no_cycle(self.after | {pk: sorted(wanted)}, self.name)
        self.after[pk] = self.bridged(wanted)
        self.operations[pk].after.set(self.after[pk])
        if self.operations[pk].skipped:
            # Whoever comes after what is skipped waits for what now lies behind it.
            for then in self.then(pk):
                if not self.after[pk] <= self.after[then]:
                    self.set_after(then, self.after[then] | self.after[pk])
        return self.after[pk]

    def behind(self, pk: int) -> set[int]:
        """All that comes after an operation, at once or in the end."""
        then: dict[int, list[int]] = {}
        for other, before in self.after.items():
            for first in before:
                then.setdefault(first, []).append(other)
        found: set[int] = set()
        todo = [pk]
        while todo:
            for other in then.get(todo.pop(), ()):
                if other not in found:
                    found.add(other)
                    todo.append(other)
        return found

    def ends(self, panels: Collection[int]) -> set[int]:
        """The operations of these panels after which nothing of their own panel comes."""
        own = {pk: row.panel_id for pk, row in self.operations.items() if row.panel_id in panels}
        return own.keys() - {
            before for pk, panel in own.items() for before in self.after[pk] if own.get(before) == panel
        }

    def tie_ends(self, panels: Collection[int]) -> None:
        """Let the open work of the whole job, a delivery say, wait for the last work of these panels.

        Not where that work itself waits for the whole job's: measuring on site may come first.
        """
        ends = self.bridged(self.ends(panels))
        for pk, row in self.operations.items():
            if row.panel_id is not None or row.finished_at is not None or self._whole_before(pk):
                continue
            more = ends - self.behind(pk) - {pk}
            if more - self.after[pk]:
                self.after[pk] |= more
                row.after.set(self.after[pk])

    def _whole_before(self, pk: int) -> bool:
        """Whether other work of the whole job comes before it, so that it need not be tied to each panel itself."""
        return any(
            row.panel_id is None and row.finished_at is None and not row.skipped
            for row in map(self.operations.__getitem__, self.after[pk])
        )
