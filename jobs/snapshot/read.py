"""Rows -> planning input: the open work as it stands at one instant.

The number of queries is the same however many jobs are open and however long the history is.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import F, Max, Q, QuerySet

from jobs import planning
from jobs.estimating.remaining import worked
from jobs.models import (
    ChangeKind,
    DayChange,
    Gate,
    GateKind,
    Hold,
    Job,
    Nature,
    Operation,
    OperationKind,
    Person,
    PieceMark,
    Skill,
    Stage,
    Station,
    Studio,
    TimeEntry,
)
from jobs.models.working import WorkingHours, read_hours
from jobs.planning.calendars import day_end

from .footing import Footing, read_footing
from .history import Paces, at_pace_one, gate_days, kinds_with_reach, log_ratios, minutes_by_person
from .presence import SPAN, logged_shares

# The planner looks this far ahead, so that hours and free days have to be known as far.
AHEAD = timedelta(days=3660)
LONG_AGO = datetime.min.replace(tzinfo=UTC)


def read_shop(at: datetime) -> planning.Shop:
    """The whole floor at `at`, as the planner wants it: active stations and people, open jobs, unfinished work.

    - A job is due on the day last promised, else on the day wished.
    - An operation waits for the open gates of its job that its kind needs.
    - A skipped operation is bridged: what follows it waits for what it waited for itself.
    - Paces are taken down by the share of time at work that is logged (see presence.py).
    - Minutes estimated are what the rates in force now would give (see footing.py).
    - Minutes logged are minutes at pace 1 (see history.py). A timer that runs counts up to `at`, unless it was left
      on past the end of its person's day.
    - A cure that has begun ends when its row says so.
    - Who was moved to a station stays there, and benches are down, to the end of the day that the lead said.
    - Of several operations that one person keeps, the one last worked on is on the bench. The others are ready for
      anybody, as they are on a floor that has somebody free; else they would wait for that person and block benches.
    """
    studio = Studio.current()
    kinds = {kind.pk: kind for kind in kinds_with_reach(at)}
    paces = read_paces()
    operations = list(Operation.objects.open(at).order_by("pk"))
    running = list(TimeEntry.objects.running())
    _let_rest(operations, running)
    people = list(Person.objects.filter(active=True).order_by("pk"))
    hours = _hours_of_all(people, running, at, studio)
    footing = read_footing(at, studio)
    return Facts(
        at=at,
        zone=studio.time_zone,
        kinds=kinds,
        ratios=log_ratios(kinds.values(), at, paces, footing),
        footing=footing,
        paces=paces,
        people=people,
        hours=hours,
        shares=logged_shares(people, hours, at),
        jobs=_read_jobs(),
        operations=operations,
        spent=_read_spent(operations, kinds, running, hours, paces, at),
        beyond=_unfinished(PieceMark.objects.standing()).beyond(),
        after=read_order({operation.pk for operation in operations}, at, Q(job__stage=Stage.ORDERED)),
        gates=_read_gates(),
        gate_days=gate_days(at.astimezone(studio.zone).date()),
        holds=by_what_they_hold(Hold.objects.filter(released_at__isnull=True)),
        for_a_while=list(
            DayChange.objects.lasting(at.astimezone(studio.zone).date()).filter(
                kind__in=(ChangeKind.MOVED, ChangeKind.DOWN)
            )
        ),
    ).shop()


def _let_rest(operations: Collection[Operation], running: Iterable[TimeEntry]) -> None:
    """Leave each person the one operation that they worked on last; in memory only."""
    kept: dict[int, list[Operation]] = defaultdict(list)
    for row in operations:
        if row.keeper_id is not None:
            kept[row.keeper_id].append(row)
    several = {row.pk: row for rows in kept.values() if len(rows) > 1 for row in rows}
    if not several:
        return
    timers = {entry.operation_id: entry.person_id for entry in running}
    entries = TimeEntry.objects.valid().filter(operation__in=several, person=F("operation__keeper"))
    last = dict(entries.values_list("operation").annotate(Max("started_at")))
    for keeper, rows in kept.items():
        rows.sort(key=lambda row: (timers.get(row.pk) == keeper, last.get(row.pk, LONG_AGO), row.pk))
        for row in rows[:-1]:
            row.keeper_id = None


@dataclass(frozen=True, slots=True)
class Facts:
    """The rows of one instant, as they are put together for the planner.

    `ratios`, `spent`, `after`: by kind and by operation; `beyond`: what pieces marked on the drawing are worth more
    than their count (estimating/remaining.py); `shares`: of time at work, what is logged, by person; `gates`: those not
    cleared, by job; `gate_days`: by kind, how late they were; `holds`: the days on which they end, by what they hold;
    `for_a_while`: people who were moved and benches that are down.
    """

    at: datetime
    zone: str
    kinds: Mapping[int, OperationKind]
    ratios: Mapping[int, tuple[float, ...]]
    footing: Footing
    paces: Paces
    people: list[Person]
    hours: Mapping[int, WorkingHours]
    shares: Mapping[int, float]
    jobs: list[planning.Job]
    operations: list[Operation]
    spent: Mapping[int, int]
    beyond: Mapping[int, float]
    after: Mapping[int, tuple[int, ...]]
    gates: Mapping[int, list[Gate]]
    gate_days: Mapping[str, tuple[int, ...]]
    holds: Mapping[tuple[str, int], list[date | None]]
    for_a_while: Collection[DayChange] = ()

    def shop(self) -> planning.Shop:
        return planning.Shop(
            zone=self.zone,
            stations=tuple(
                planning.Station(station.pk, station.name, station.benches, self._back(station))
                for station in Station.objects.filter(active=True).order_by("pk")
            ),
            people=tuple(self._person(person) for person in self.people),
            kinds=tuple(
                planning.Kind(kind.pk, kind.name, planning.Nature(kind.nature), self.ratios.get(kind.pk, ()))
                for kind in sorted(self.kinds.values(), key=lambda kind: kind.pk)
            ),
            gates=tuple(
                planning.Gate(gate.pk, GateKind(gate.kind).label, gate.job_id, gate.expected, cleared=False)
                for of_job in self.gates.values()
                for gate in of_job
            ),
            jobs=tuple(self.jobs),
            operations=tuple(self._operation(operation) for operation in self.operations),
            closed=self._closed(),
            gate_days=self.gate_days,
        )

    def _back(self, station: Station) -> tuple[datetime, ...]:
        back = [
            day_end(row.until, self.zone)
            for row in self.for_a_while
            if row.kind == ChangeKind.DOWN and row.station_id == station.pk and row.until
            for _ in range(row.count)
        ]
        return tuple(sorted(back)[: station.benches])

    def _stays(self, person: Person) -> tuple[int, datetime] | None:
        for row in self.for_a_while:
            if row.kind == ChangeKind.MOVED and row.person_id == person.pk and row.station_id and row.until:
                return row.station_id, day_end(row.until, self.zone)
        return None

    def _closed(self) -> frozenset[date]:
        today = self.at.astimezone(ZoneInfo(self.zone)).date()
        known: frozenset[date] = next((each.closed for each in self.hours.values()), frozenset())
        return frozenset(day for day in known if day >= today)

    def _person(self, person: Person) -> planning.Person:
        hours = self.hours[person.pk]
        today = self.at.astimezone(ZoneInfo(self.zone)).date()
        return planning.Person(
            id=person.pk,
            name=person.name,
            skills={
                s: pace * self.shares[person.pk] for (who, s), pace in self.paces.items() if who == person.pk
            },
            shifts=hours.shifts,
            days_off=frozenset(day for day in hours.days_off if day >= today),
            extra=tuple(each for each in hours.extra if each[0] >= today),
            stays=self._stays(person),
        )

    def _operation(self, row: Operation) -> planning.Operation:
        kind = self.kinds[row.kind_id]
        needed = kind.gates
        held, until = self._hold(row)
        started, minutes = _begun(row, kind, self.at)
        if kind.nature == Nature.ATTENDED:
            minutes = round(minutes * self.footing.factor(row.pk, kind, row.panel_id))
        return planning.Operation(
            id=row.pk,
            job=row.job_id,
            panel=row.panel_id,
            kind=row.kind_id,
            station=kind.station_id,
            minutes=minutes,
            crew=kind.crew,
            after=self.after.get(row.pk, ()),
            gates=tuple(gate.pk for gate in self.gates.get(row.job_id, ()) if gate.kind in needed),
            spent=self.spent.get(row.pk, 0),
            quantity=row.quantity,
            quantity_done=row.quantity_done,
            worked=worked(row.quantity, row.quantity_done, self.beyond[row.pk])
            if row.pk in self.beyond
            else None,
            keeper=row.keeper_id,
            started=started,
            held=held,
            held_until=until,
            pinned_person=row.pinned_person_id,
            place=row.pinned_place,
            early=row.early,
        )

    def _hold(self, row: Operation) -> tuple[bool, date | None]:
        """Whether it is held itself, with its panel or with its job, and until when: the last of the days, None if
        one of the holds has no day."""
        days = [
            day
            for on in (("operation", row.pk), ("panel", row.panel_id or 0), ("job", row.job_id))
            for day in self.holds.get(on, ())
        ]
        known = [day for day in days if day is not None]
        return bool(days), max(known) if known and len(known) == len(days) else None


def _unfinished[Rows: QuerySet[Any]](rows: Rows) -> Rows:
    """Of rows about operations, those of unfinished ones on the floor."""
    return rows.filter(operation__finished_at__isnull=True, operation__job__stage=Stage.ORDERED)


def _begun(row: Operation, kind: OperationKind, at: datetime) -> tuple[datetime | None, int]:
    """Since when it is being done and the minutes it takes in all; a cure ends when its row says so."""
    if kind.nature != Nature.CURE or row.finished_at is None:
        return row.started_at, row.estimate
    started = min(row.started_at or at, row.finished_at)
    return started, -((started - row.finished_at) // timedelta(minutes=1))


def read_paces() -> dict[tuple[int, int], float]:
    """(person, station) -> pace"""
    rows = Skill.objects.values_list("person", "station", "pace")
    return {(person, station): float(pace) for person, station, pace in rows}


def _hours_of_all(
    people: Iterable[Person], running: Iterable[TimeEntry], at: datetime, studio: Studio
) -> dict[int, WorkingHours]:
    """Hours of everybody active or at work, from some weeks ago, or from the day the oldest timer was started."""
    running = list(running)
    today = at.astimezone(studio.zone).date()
    first = min([today - SPAN, *(entry.started_at.astimezone(studio.zone).date() for entry in running)])
    known = [person.pk for person in people]
    wanted = list(dict.fromkeys(known + [entry.person_id for entry in running]))
    return read_hours(wanted, first, today + AHEAD, studio)


def _read_spent(
    operations: Iterable[Operation],
    kinds: Mapping[int, OperationKind],
    running: Iterable[TimeEntry],
    hours: Mapping[int, WorkingHours],
    paces: Paces,
    at: datetime,
) -> dict[int, int]:
    """Minutes at pace 1 that the unfinished operations have taken so far."""
    minutes = minutes_by_person(_unfinished(TimeEntry.objects.all()))
    for entry in running:
        own = hours[entry.person_id]
        if entry.started_at < at and own.left_on_since(entry, at) is None:
            minutes[entry.operation_id][entry.person_id] += own.counted(entry.started_at, at)
    return {
        row.pk: round(at_pace_one(minutes[row.pk], kinds[row.kind_id], paces))
        for row in operations
        if row.pk in minutes
    }


def _read_jobs() -> list[planning.Job]:
    return [
        planning.Job(job.pk, job.number, job.promised or job.wanted_by, float(job.weight))  # type: ignore[attr-defined]
        for job in Job.objects.open().with_promise().order_by("pk")
    ]


def _read_gates() -> dict[int, list[Gate]]:
    found: dict[int, list[Gate]] = defaultdict(list)
    for gate in Gate.objects.filter(job__stage=Stage.ORDERED, cleared__isnull=True).order_by("pk"):
        found[gate.job_id].append(gate)
    return found


def by_what_they_hold(holds: Iterable[Hold]) -> dict[tuple[str, int], list[date | None]]:
    """The days on which holds are expected to end, by what they hold: ("panel", id), say."""
    found: dict[tuple[str, int], list[date | None]] = defaultdict(list)
    for hold in holds:
        for what in ("operation", "panel", "job"):
            number = getattr(hold, f"{what}_id")
            if number is not None:
                found[what, number].append(hold.until)
    return found


def read_order(
    unfinished: Collection[int], at: datetime, of: Q, bridge: Collection[int] = ()
) -> dict[int, tuple[int, ...]]:
    """By operation, what it waits for; finished work is left out, skipped work is bridged. `of`: which operations
    are looked at, the unfinished ones and the skipped ones among them. `bridge`: what else is as good as skipped."""
    links: Any = Operation.after.through.objects
    rows = (
        links.filter(
            from_operation__in=Operation.objects.filter(of).exclude(finished_at__lte=at).values("pk")
        )
        .exclude(to_operation__finished_at__lte=at)
        .order_by("pk")
        .values_list("from_operation", "to_operation", "to_operation__skipped")
    )
    before: dict[int, list[int]] = defaultdict(list)
    skipped = set(bridge)
    for after, number, is_skipped in rows:
        before[after].append(number)
        if is_skipped:
            skipped.add(number)
    return {number: bridged(number, before, skipped) for number in unfinished if number in before}


def bridged(number: int, before: Mapping[int, list[int]], skipped: Collection[int]) -> tuple[int, ...]:
    """What an operation waits for when each skipped one is replaced by what that one waited for."""
    found: list[int] = []
    seen: set[int] = set()
    edge = list(reversed(before.get(number, ())))
    while edge:
        other = edge.pop()
        if other in seen:
            continue
        seen.add(other)
        if other in skipped:
            edge.extend(reversed(before.get(other, ())))
        else:
            found.append(other)
    return tuple(found)
