"""The floor, station by station: who is on what, what lies there, what arrives next, and the load to come."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from .kinds import Nature, OperationKind
from .operations import State
from .orders import Panel
from .people import Person
from .plans import LoadWeek, PlanState
from .prepared import Prepared
from .standing import Standing, Work, minutes, panels_drawn, read_before, things
from .stations import Station
from .studios import Studio

WEEKS = 4


@dataclass(frozen=True, slots=True)
class Count:
    """How much lies at a station in one state: panels, and minutes of work left."""

    state: str
    panels: int
    minutes: int


@dataclass(frozen=True, slots=True)
class AtBench:
    """Work that occupies a bench. `since` is null while it rests there; `panel` for its drawing."""

    work: Work
    person: Person | None
    since: datetime | None
    panel: Panel | None

    @property
    def share_done(self) -> float:
        """The share of the pieces that is done, 0 to 1."""
        return self.work.quantity_done / self.work.quantity if self.work.quantity else 0.0


@dataclass(frozen=True, slots=True)
class Arrival:
    """What comes to a station next: from where, and when the plan has it there."""

    work: Work
    source: Work
    at: datetime


@dataclass(frozen=True, slots=True)
class Week:
    """A week's load of a station, in minutes."""

    monday: date
    work: int
    capacity: int

    @property
    def over(self) -> int:
        """Minutes beyond the capacity, as the whole hours differ that are shown of the two."""
        return max(0, (self.work + 30) // 60 - (self.capacity + 30) // 60) * 60

    @property
    def share(self) -> float:
        """Work as a share of capacity on a bar that ends at one and a half times the capacity, 0 to 100."""
        if not self.capacity:
            return 100.0 if self.work else 0.0
        return round(min(self.work / self.capacity / 1.5, 1) * 100, 1)


@dataclass(frozen=True, slots=True)
class StationRow:
    station: Station
    benches: list[AtBench]
    counts: list[Count]
    left: int
    arrival: Arrival | None
    weeks: list[Week]
    tightest: bool

    @property
    def in_use(self) -> int:
        return len({bench.work.pk for bench in self.benches})


@dataclass(frozen=True, slots=True)
class AwayRow:
    """A kind of work that needs no bench: a cure, or work outside. `under_way` with the time it is expected back."""

    kind: OperationKind
    under_way: list[tuple[Work, datetime | None]]
    ready: list[Work]


@dataclass(frozen=True, slots=True)
class Tightest:
    """The station that decides: all minutes of work left before it, and those it has in the coming weeks."""

    station: Station
    work: int
    capacity: int


@dataclass(frozen=True, slots=True)
class Floor:
    stations: list[StationRow]
    away: list[AwayRow]
    tightest: Tightest | None


def read_floor(standing: Standing, plan: PlanState, studio: Studio) -> Floor:
    """The rows of the floor in the order of the work: four queries beside those of the standing."""
    read_before(standing.work)
    by_station: dict[int | None, list[Work]] = defaultdict(list)
    for work in standing.work.values():
        by_station[work.kind.station_id].append(work)
    weeks = read_weeks(standing.at.astimezone(studio.zone).date())
    panels = _read_panels(standing)
    stations = [
        StationRow(
            station=station,
            benches=_benches(by_station[station.pk], standing, panels),
            counts=_counts(by_station[station.pk]),
            left=minutes(by_station[station.pk]),
            arrival=_arrival(by_station[station.pk]),
            weeks=weeks[station.pk],
            tightest=station.pk == plan.tightest_id,
        )
        for station in STATIONS()
        if standing.is_of(station)
    ]
    _mark_tightest(stations, standing.workshop)
    return Floor(stations, _away(standing, by_station[None]), _tightest(stations))


def _mark_tightest(rows: list[StationRow], workshop: int | None) -> None:
    """The plan names the tightest of the studio; of a workshop it is otherwise the one that is filled most."""
    if workshop is None or any(row.tightest for row in rows):
        return
    found = tightest_by_share([row.station for row in rows], {row.station.pk: row.weeks for row in rows})
    rows[:] = [replace(row, tightest=row.station == found) for row in rows]


def tightest_by_share(stations: Iterable[Station], weeks: Mapping[int, list[Week]]) -> Station | None:
    """The station with the most work for what it could do in the coming weeks; None where nothing is planned."""
    shares = [
        (sum(week.work for week in own) / max(sum(week.capacity for week in own), 1), station)
        for station in stations
        if (own := weeks.get(station.pk))
    ]
    most, found = max(shares, key=lambda pair: pair[0], default=(0.0, None))
    return found if most else None


STATIONS = Prepared(lambda: Station.objects.filter(active=True))
_LOADS = Prepared(
    lambda first, last: LoadWeek.objects.filter(week__gte=first, week__lt=last).order_by("week")
)


def read_weeks(today: date) -> dict[int, list[Week]]:
    """The load of each station in the weeks from that of today on."""
    monday = today - timedelta(days=today.weekday())
    weeks: dict[int, list[Week]] = defaultdict(list)
    for load in _LOADS(monday, monday + timedelta(weeks=WEEKS)):
        weeks[load.station_id].append(Week(load.week, load.work, load.capacity))
    return weeks


def _read_panels(standing: Standing) -> dict[int, Panel]:
    """The panels that lie on a bench, for their drawings."""
    wanted = {
        work.panel_id
        for work in standing.work.values()
        if work.attended and (work.state == State.ON_BENCH or work.pk in standing.timers_of)
    }
    return panels_drawn(wanted)


def _benches(works: list[Work], standing: Standing, panels: dict[int, Panel]) -> list[AtBench]:
    """Who works on what, the longest at it first; then what rests on a bench."""
    running, resting = [], []
    for work in works:
        panel = panels.get(work.panel_id or 0)
        timers = standing.timers_of.get(work.pk, [])
        running += [AtBench(work, timer.entry.person, timer.entry.started_at, panel) for timer in timers]
        if work.state == State.ON_BENCH and not timers:
            resting.append(AtBench(work, work.keeper, None, panel))
    running.sort(key=lambda bench: (bench.since, bench.work.pk))
    return running + sorted(resting, key=lambda bench: bench.work.bench_order())


def _counts(works: list[Work]) -> list[Count]:
    found = []
    for state in (State.READY, State.WAITING, State.HELD):
        chosen = [work for work in works if work.state == state]
        found.append(Count(state, things(chosen), minutes(chosen)))
    return found


def _arrival(works: list[Work]) -> Arrival | None:
    """Of the work that waits, what comes first from elsewhere: when the last thing before it is planned done."""
    found: Arrival | None = None
    for work in works:
        if work.state != State.WAITING or not work.before:
            continue
        finishes = [(before.finish or before.finished_at, before) for before in work.before]
        known = [(at, before.pk, before) for at, before in finishes if at is not None]
        if len(known) < len(finishes):
            continue
        at, _, source = max(known)
        if source.kind.station_id == work.kind.station_id:
            continue
        if found is None or (at, work.pk) < (found.at, found.work.pk):
            found = Arrival(work, source, at)
    return found


def _away(standing: Standing, works: Iterable[Work]) -> list[AwayRow]:
    rows: dict[int, AwayRow] = {}
    for work in works:
        if work.kind.nature == Nature.ATTENDED or work.state not in (State.ON_BENCH, State.READY):
            continue
        row = rows.setdefault(work.kind.pk, AwayRow(work.kind, [], []))
        if work.state == State.ON_BENCH:
            row.under_way.append((work, work.finished_at or work.finish))
        else:
            row.ready.append(work)
    for row in rows.values():
        row.under_way.sort(key=lambda pair: (pair[1] is None, pair[1] or standing.at, pair[0].pk))
    return sorted(rows.values(), key=lambda row: (row.kind.place, row.kind.name))


def _tightest(stations: list[StationRow]) -> Tightest | None:
    for row in stations:
        if row.tightest and row.weeks:
            return Tightest(row.station, row.left, sum(week.capacity for week in row.weeks))
    return None
