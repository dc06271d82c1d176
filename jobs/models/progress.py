"""How far a job's work is, as a customer is told: in a few steps a panel, without hours, people or benches."""

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from .operations import Operation, State
from .orders import Job, Panel


class Far(StrEnum):
    DONE = "done"
    NOW = "now"
    NEXT = "next"


@dataclass(frozen=True, slots=True)
class Step:
    """`approved`: it may begin only once the drawing is approved."""

    told: str
    far: Far
    approved: bool = False


@dataclass(slots=True)
class Way:
    """The steps of one panel, or of the job where `panel` is None. `begun`: somebody has worked on it; `rests`: all
    that could go on is held; `ready`: nothing is left to do, not even again."""

    panel: Panel | None
    steps: list[Step] = field(default_factory=list)
    begun: bool = False
    rests: bool = False
    ready: bool = False

    @property
    def now(self) -> str:
        """What is being done, in the words of its step; empty where nothing is."""
        return next((step.told for step in self.steps if step.far == Far.NOW), "")


@dataclass(frozen=True, slots=True)
class Progress:
    panels: list[Way]
    whole: Way

    @property
    def ready(self) -> int:
        return sum(way.ready for way in self.panels)

    @property
    def begun(self) -> bool:
        return any(way.begun for way in self.panels) or self.whole.begun

    @property
    def rests(self) -> bool:
        open_ways = [way for way in self.panels if not way.ready]
        return bool(open_ways) and all(way.rests for way in open_ways)


def read_progress(job: Job, at: datetime) -> Progress:
    """Two queries. What broke and is done again shows only in that the panel is not ready yet."""
    panels = list(job.panels.order_by("number"))
    works: dict[int | None, list[Operation]] = {panel.pk: [] for panel in panels} | {None: []}
    rows = Operation.objects.filter(job=job, skipped=False).with_state(at).select_related("kind")
    for row in rows.order_by("place", "pk"):
        works[row.panel_id].append(row)
    return Progress([_way(panel, works[panel.pk]) for panel in panels], _way(None, works[None]))


def _way(panel: Panel | None, rows: list[Operation]) -> Way:
    groups: dict[str, list[Operation]] = {}
    for row in rows:
        if row.breakage_id is None:
            groups.setdefault(row.kind.told or row.kind.name, []).append(row)
    states = [row.state for row in rows]  # type: ignore[attr-defined]
    going_on = {State.READY, State.ON_BENCH}
    return Way(
        panel,
        [
            Step(told, _far(group), any(row.kind.needs_drawing for row in group))
            for told, group in groups.items()
        ],
        begun=any(_is_begun(row) for row in rows),
        rests=State.HELD in states and not going_on & set(states),
        ready=bool(rows) and all(state == State.DONE for state in states),
    )


def _far(rows: list[Operation]) -> Far:
    if all(row.state == State.DONE for row in rows):  # type: ignore[attr-defined]
        return Far.DONE
    return Far.NOW if any(_is_begun(row) for row in rows) else Far.NEXT


def _is_begun(row: Operation) -> bool:
    return bool(row.started_at or row.finished_at or row.quantity_done or row.keeper_id)
