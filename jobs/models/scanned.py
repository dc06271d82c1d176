"""What a person who has scanned a panel's code at a station finds of it there."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

from django.db.models import F

from .operations import Operation, State
from .orders import Gate, Panel
from .stations import Station

ELSEWHERE = 3


class Where(StrEnum):
    """How the panel's work here is met: it may be worked on, somebody else has it, it is held, it waits; or there is
    nothing left of it."""

    CARD = "card"
    OTHER = "other"
    HELD = "held"
    WAITS = "waits"
    NOTHING = "nothing"


@dataclass(slots=True)
class Scanned:
    """A panel and its work at the station, the first that there is something to do about; `work` is a
    jobs.models.bench.Work. `before` and `gates` are what it waits for, `elsewhere` is what is to be done at other
    stations, `finished` what was done here last."""

    panel: Panel
    where: Where = Where.NOTHING
    work: Any = None
    before: list[Operation] = field(default_factory=list)
    gates: list[Gate] = field(default_factory=list)
    elsewhere: list[Operation] = field(default_factory=list)
    finished: Operation | None = None


def pick_out(bench: Any, works: Iterable[Any], panel: Panel, at: datetime) -> Scanned:
    """The panel's work at the station of `bench` (a jobs.models.bench.Bench), taken out of the bench's lists so that
    it stands on the page once. Two queries, two more where the work waits."""
    here = [work for work in works if work.here and work.operation.panel_id == panel.pk]
    here.sort(key=lambda work: (_RANK[_where(bench, work)], work.operation.place, work.operation.pk))
    found = Scanned(panel)
    if here:
        found.work, found.where = here[0], _where(bench, here[0])
        _take_out(bench, found.work)
    if found.where == Where.WAITS:
        _read_waits(found, at)
    if found.where in (Where.WAITS, Where.NOTHING):
        _read_elsewhere(found, bench.station, at)
    return found


_RANK = {where: rank for rank, where in enumerate(Where)}


def _where(bench: Any, work: Any) -> Where:
    if work.state == State.HELD:
        return Where.HELD
    if work.state == State.WAITING:
        return Where.WAITS
    return Where.OTHER if work in bench.others or _not_theirs(bench, work) else Where.CARD


def _not_theirs(bench: Any, work: Any) -> bool:
    """Ready work of a skill that the person does not have."""
    pinned = work.operation.pinned_person_id == bench.person.pk
    return work.state == State.READY and not (bench.skilled or pinned)


def _take_out(bench: Any, work: Any) -> None:
    listed = False
    if bench.offered is work:
        bench.offered, listed = None, True
    for rows in (bench.current, bench.following, bench.coming, bench.others, bench.held):
        if work in rows:
            rows.remove(work)
            listed = True
    if not listed and work.state == State.READY and bench.more:
        bench.more -= 1


def _read_waits(found: Scanned, at: datetime) -> None:
    operation = found.work.operation
    found.before = list(
        Operation.objects.filter(then=operation, skipped=False)
        .exclude(finished_at__lte=at)
        .with_state(at)
        .select_related("kind__station", "keeper")
        .order_by("place", "pk")
    )
    if operation.gate_open:
        open_gates = Gate.objects.filter(job=operation.job_id, cleared__isnull=True)
        found.gates = [gate for gate in open_gates if getattr(operation.kind, f"needs_{gate.kind}")]


def _read_elsewhere(found: Scanned, station: Station, at: datetime) -> None:
    """What is to be done at other stations, what can go on first; and what was finished at this one."""
    rows = Operation.objects.open(at).filter(panel=found.panel, kind__station__active=True)
    rows = rows.exclude(kind__station=station).with_state(at).select_related("kind__station", "keeper")
    found.elsewhere = [row for row in rows.order_by("place", "pk") if row.state != State.WAITING][:ELSEWHERE]  # type: ignore[attr-defined]
    done = Operation.objects.filter(panel=found.panel, kind__station=station, finished_at__lte=at)
    found.finished = done.select_related("kind").order_by(F("finished_at").desc()).first()
