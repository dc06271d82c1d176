"""Which panels wait for a station, since when and for what, in the order its benches will take them."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Max, Q

from .kinds import GateKind
from .operations import Hold, Operation, State
from .orders import Gate, Stage
from .standing import Standing, Work, minutes, read_before, things
from .stations import Station


@dataclass(frozen=True, slots=True)
class Wait:
    """One operation that waits, and what for. `since` is when nothing of its own route was in its way any more,
    or was last finished: the later of the job's order and the last operation before it."""

    work: Work
    since: datetime
    gates: list[Gate]
    holds: list[Hold]

    @property
    def before(self) -> list[Work]:
        return self.work.before


@dataclass(frozen=True, slots=True)
class Share:
    state: str
    panels: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Waits:
    """`waits` in the order of the benches, `on_bench` what they have now; `reasons` how many wait for what."""

    station: Station
    waits: list[Wait]
    on_bench: list[Work]
    panels: int
    minutes: int
    shares: list[Share] = field(default_factory=list)
    reasons: list[tuple[str, int]] = field(default_factory=list)


def read_waits(standing: Standing, station: Station, chosen: Iterable[Work]) -> Waits:
    """What waits at the station, out of `chosen`: four queries beside those of the standing."""
    read_before(standing.work)
    chosen = sorted(
        (work for work in chosen if work.kind.station_id == station.pk), key=lambda work: work.bench_order()
    )
    waiting = [work for work in chosen if work.state != State.ON_BENCH]
    since = _read_since(waiting, standing.at)
    gates = _read_gates()
    holds = _read_holds()
    waits = [
        Wait(
            work,
            since[work.pk],
            [gate for gate in gates.get(work.job.pk, []) if GateKind(gate.kind) in work.kind.gates],
            holds.get(("operation", work.pk), [])
            + holds.get(("panel", work.panel_id), [])
            + holds.get(("job", work.job.pk), []),
        )
        for work in waiting
    ]
    return Waits(
        station=station,
        waits=waits,
        on_bench=[work for work in chosen if work.state == State.ON_BENCH],
        panels=things(waiting),
        minutes=minutes(waiting),
        shares=_shares(waiting),
        reasons=_reasons(waits),
    )


def _read_since(waiting: list[Work], at: datetime) -> dict[int, datetime]:
    last = dict(
        Operation.objects.filter(pk__in=[work.pk for work in waiting])
        .order_by()
        .annotate(last=Max("after__finished_at", filter=Q(after__finished_at__lte=at)))
        .values_list("pk", "last")
    )
    return {
        work.pk: max(
            moment
            for moment in (work.job.ordered_at or work.job.entered_at, work.broke_at, last.get(work.pk))
            if moment is not None
        )
        for work in waiting
    }


def _read_gates() -> dict[int, list[Gate]]:
    found: dict[int, list[Gate]] = {}
    for gate in Gate.objects.filter(job__stage=Stage.ORDERED, cleared__isnull=True):
        found.setdefault(gate.job_id, []).append(gate)
    return found


def _read_holds() -> dict[tuple[str, int | None], list[Hold]]:
    found: dict[tuple[str, int | None], list[Hold]] = {}
    for hold in Hold.objects.filter(released_at__isnull=True):
        for thing in ("operation", "panel", "job"):
            if getattr(hold, f"{thing}_id") is not None:
                found.setdefault((thing, getattr(hold, f"{thing}_id")), []).append(hold)
    return found


def _shares(waiting: list[Work]) -> list[Share]:
    shares = []
    for state in (State.READY, State.WAITING, State.HELD):
        works = [work for work in waiting if work.state == state]
        if works:
            shares.append(Share(state, things(works), minutes(works)))
    return shares


def _reasons(waits: list[Wait]) -> list[tuple[str, int]]:
    """What the ones that are not ready wait for, the most frequent first."""
    reasons: Counter[str] = Counter()
    for wait in waits:
        if wait.work.state == State.READY:
            continue
        names = {work.kind.name for work in wait.before} | {gate.get_kind_display() for gate in wait.gates}
        if wait.holds:
            names.add("a hold")
        reasons.update(names)
    return sorted(reasons.items(), key=lambda pair: (-pair[1], pair[0]))
