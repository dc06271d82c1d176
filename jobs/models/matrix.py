"""Every open panel against its operations: what is done, on the bench, ready, waiting and held."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date

from .kinds import OperationKind
from .operations import Operation, State
from .orders import Panel, Stage
from .standing import Standing, Work, due, panels_drawn


@dataclass(frozen=True, slots=True)
class Listed:
    """A panel of an open job, as far as it takes to choose and to sort: no drawing, no size."""

    pk: int
    job_id: int
    number: int
    where: str
    works: list[Work]

    @property
    def finished(self) -> bool:
        return not self.works

    def is_in(self, state: str) -> bool:
        """Whether something of the panel is in this state. It is waiting where nothing else can be said of it, and
        done where nothing is left to do."""
        states = {work.state for work in self.works}
        if state == State.DONE:
            return not states
        return states == {State.WAITING} if state == State.WAITING else state in states


@dataclass(frozen=True, slots=True)
class Cell:
    """An operation of a panel in the matrix; `work` is null once it is done."""

    name: str
    state: str
    work: Work | None


@dataclass(slots=True)
class Row:
    panel: Panel
    due: date | None
    promised: bool
    left: int
    cells: list[list[Cell]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Matrix:
    kinds: list[OperationKind]
    rows: list[Row]


def list_panels(standing: Standing) -> list[Listed]:
    """The panels of open jobs, the earliest promised first: one query."""
    works: dict[int | None, list[Work]] = defaultdict(list)
    for work in standing.work.values():
        works[work.panel_id].append(work)
    rows = Panel.objects.filter(job__stage=Stage.ORDERED).order_by()
    found = [
        Listed(*row, works=works.get(row[0], []))
        for row in rows.values_list("pk", "job_id", "number", "where")
        if row[1] in standing.jobs
    ]

    def order(panel: Listed) -> tuple[date, str, int]:
        job = standing.jobs[panel.job_id]
        return due(job) or date.max, job.number, panel.number

    return sorted(found, key=order)


def read_matrix(standing: Standing, chosen: Collection[Listed]) -> Matrix:
    """The rows of these panels, in their order, and the kinds of work they go through: two queries."""
    panels = panels_drawn(listed.pk for listed in chosen)
    cells: dict[int, dict[int, list[Cell]]] = {listed.pk: defaultdict(list) for listed in chosen}
    kinds: set[int] = set()
    done = Operation.objects.filter(
        panel__in=list(panels), skipped=False, finished_at__lte=standing.at
    ).order_by("place", "pk")
    for panel_id, kind_id, label in done.values_list("panel_id", "kind_id", "label"):
        kind = standing.kinds[kind_id]
        cells[panel_id][kind_id].append(Cell(label or kind.name, State.DONE, None))
        kinds.add(kind_id)
    for listed in chosen:
        for work in sorted(listed.works, key=lambda work: (work.place, work.pk)):
            cells[listed.pk][work.kind.pk].append(Cell(str(work), work.state, work))
            kinds.add(work.kind.pk)
    columns = sorted((standing.kinds[pk] for pk in kinds), key=lambda kind: (kind.place, kind.name))
    rows = []
    for listed in chosen:
        # A panel that went between the two queries is left out.
        if listed.pk in panels:
            panel, job = panels[listed.pk], standing.jobs[listed.job_id]
            panel.job = job
            rows.append(
                Row(
                    panel=panel,
                    due=due(job),
                    promised=job.promised is not None,  # type: ignore[attr-defined]
                    left=sum(work.left for work in listed.works if work.attended),
                    cells=[cells[listed.pk].get(kind.pk, []) for kind in columns],
                )
            )
    return Matrix(columns, rows)
