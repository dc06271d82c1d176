"""What one person finds at one station: what is theirs to do now, in the planned order, and what is coming.

It reads what is unfinished at the station only, in one number of queries whatever the history and however much waits.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import BooleanField, Exists, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from jobs.estimating.remaining import minutes_left, worked

from .bench_pictures import read_drawings, read_marks, read_photos
from .events import Event
from .hours import TimeEntry
from .kinds import Nature
from .operations import Hold, Operation, State
from .orders import Panel, Promise, Stage
from .people import Person, Skill
from .photos import Photo
from .prepared import Prepared
from .scanned import Scanned, pick_out
from .scope import scope
from .stations import Station
from .studios import Studio
from .working import WorkingHours, hours_of

NEXT_UP = 6
COMING = 6
LATELY = timedelta(days=14)
NOT_WORKED_ON = (Stage.ENQUIRY, Stage.QUOTED, Stage.DECLINED)
RELATED = (
    "kind__station",
    "job",
    "panel__job",
    "projection",
    "keeper",
    "pinned_person",
)


@dataclass(slots=True)
class Timer:
    """An entry that runs: the minutes of it that count so far, and since when it is left on if it is."""

    entry: TimeEntry
    minutes: int
    left_on_since: datetime | None


@dataclass(slots=True)
class Work:
    """One operation as a person at the bench sees it; minutes are whole, `spent` includes timers that run."""

    operation: Operation
    spent: int
    timers: list[Timer]
    here: bool
    mine: Timer | None = None
    hold: Hold | None = None
    # Of what is coming: the one unfinished operation it waits for.
    waits_for: Operation | None = None
    # Of what has a card: the newest photos of its panel, and how many more there are.
    photos: list[Photo] = field(default_factory=list)
    more_photos: int = 0

    @property
    def state(self) -> str:
        return self.operation.state  # type: ignore[attr-defined,no-any-return]

    @property
    def due(self) -> date | None:
        return self.operation.due  # type: ignore[attr-defined,no-any-return]

    @property
    def left(self) -> int:
        """Pieces left to do."""
        return self.operation.quantity - self.operation.quantity_done

    @property
    def minutes_left(self) -> int:
        """Whole minutes of the estimate left to work."""
        operation = self.operation
        beyond: float = operation.beyond  # type: ignore[attr-defined]
        done = worked(operation.quantity, operation.quantity_done, beyond)
        return minutes_left(operation.estimate, self.spent, operation.quantity, done)

    @property
    def plan(self) -> Any:
        """Its projection, or None where the plan says nothing of it."""
        return getattr(self.operation, "projection", None)


@dataclass(slots=True)
class Bench:
    """A station's page for one person. `current` are the ones on the bench with them, what runs first; `offered` is
    what to do next where nothing is; `running` is their timer wherever it runs."""

    station: Station
    person: Person
    skilled: bool
    running: Timer | None = None
    current: list[Work] = field(default_factory=list)
    offered: Work | None = None
    following: list[Work] = field(default_factory=list)
    more: int = 0
    coming: list[Work] = field(default_factory=list)
    others: list[Work] = field(default_factory=list)
    held: list[Work] = field(default_factory=list)
    finished: list[Operation] = field(default_factory=list)
    scanned: Scanned | None = None

    @property
    def shown(self) -> Iterable[Work]:
        if self.scanned and self.scanned.work:
            yield self.scanned.work
        yield from self.current
        if self.offered:
            yield self.offered
        yield from self.following
        yield from self.coming
        yield from self.others
        yield from self.held


_RUNNING = Prepared(
    lambda: (
        TimeEntry.objects.running()
        .select_related("person", "operation__kind__station", "operation__panel__job", "operation__job")
        .defer("operation__panel__drawing")
        .order_by("started_at", "pk")
    )
)


def read_timers(at: datetime, studio: Studio) -> list[Timer]:
    """Every timer that runs, in the order in which they started."""
    entries = _RUNNING()
    hours = hours_of(entries, at, studio)
    return [_timer(entry, hours[entry.person_id], at) for entry in entries]


def _timer(entry: TimeEntry, hours: WorkingHours, at: datetime) -> Timer:
    since = hours.left_on_since(entry, at)
    return Timer(entry, hours.counted(entry.started_at, max(since or at, entry.started_at)), since)


def _open_operations(station: int, person: int, at: datetime) -> QuerySet[Operation]:
    """What is unfinished at the station, and what the person keeps elsewhere; without the drawings, which are large."""
    promised = Promise.objects.filter(job=OuterRef("job")).order_by("-given_at", "-pk")
    return (
        Operation.objects.open(at)
        .filter(Q(kind__station=station) | Q(keeper=person), kind__nature=Nature.ATTENDED)
        .with_state(at)
        .with_hours()
        .with_beyond()
        .annotate(due=Coalesce(Subquery(promised.values("day")[:1]), F("job__wanted_by")))
        .select_related(*RELATED)
        .defer("panel__drawing")
        .order_by("pk")
    )


def _before(station: int, at: datetime) -> QuerySet[Operation]:
    """What the unfinished operations of the station come after and is unfinished; `holds_up` is the one it is for."""
    return (
        Operation.objects.filter(
            then__kind__station=station,
            then__job__stage=Stage.ORDERED,
            then__finished_at__isnull=True,
            skipped=False,
        )
        .exclude(finished_at__lte=at)
        .with_state(at)
        .annotate(holds_up=F("then"))
        .select_related("kind__station", "keeper")
    )


_SKILL = Prepared(
    lambda person, station: Skill.objects.filter(person=person, station=station).values_list("pk", flat=True)
)
_OPEN, _BEFORE = Prepared(_open_operations), Prepared(_before)


def read_bench(
    station: Station,
    person: Person,
    at: datetime,
    studio: Studio,
    next_up: int = NEXT_UP,
    scanned: Panel | None = None,
) -> Bench:
    """The page of a station for a person: twelve queries at the most, and four for the panel `scanned` there.
    `next_up`: how much is listed of what follows."""
    skilled = bool(_SKILL(person.pk, station.pk))
    timers = read_timers(at, studio)
    bench = Bench(station, person, skilled)
    bench.running = next((timer for timer in timers if timer.entry.person_id == person.pk), None)
    works = [_work(operation, timers, station, person) for operation in _OPEN(station.pk, person.pk, at)]
    _sort_out(bench, works, next_up)
    _read_coming(bench, works, at)
    if scanned is not None:
        bench.scanned = pick_out(bench, works, scanned, at)
    _read_holds([work for work in bench.shown if work.state == State.HELD])
    read_drawings(bench.shown)
    read_marks(bench.shown)
    picked = bench.scanned.work if bench.scanned else None
    read_photos([work for work in (*bench.current, bench.offered, picked) if work])
    bench.finished = _finished_today(station, person, at, studio)
    return bench


def read_whole_bench(station: Station, at: datetime, studio: Studio, next_up: int) -> Bench:
    """The work of a station whoever does it: `current` is all that is on the bench, `following` what is ready, in the
    planned order."""
    bench = Bench(station, Person(), skilled=True)
    timers = read_timers(at, studio)
    works = [_work(operation, timers, station, bench.person) for operation in _OPEN(station.pk, 0, at)]
    works.sort(key=_place)
    bench.held = [work for work in works if work.state == State.HELD]
    bench.current = [work for work in works if work.state == State.ON_BENCH]
    ready = [work for work in works if work.state == State.READY]
    bench.following, bench.more = ready[:next_up], max(0, len(ready) - next_up)
    _read_coming(bench, works, at)
    _read_holds(bench.held)
    return bench


def _work(operation: Operation, timers: Collection[Timer], station: Station, person: Person) -> Work:
    mine = [timer for timer in timers if timer.entry.operation_id == operation.pk]
    counted = sum(timer.minutes for timer in mine if timer.left_on_since is None)
    return Work(
        operation,
        spent=operation.spent + counted,  # type: ignore[attr-defined]
        timers=mine,
        here=operation.kind.station_id == station.pk,
        mine=next((timer for timer in mine if timer.entry.person_id == person.pk), None),
    )


def _sort_out(bench: Bench, works: list[Work], next_up: int) -> None:
    """Lay each operation where the person looks for it, in the planned order, their own first."""
    works.sort(key=lambda work: _order(work, bench.person))
    free = []
    for work in works:
        operation = work.operation
        keeps = operation.keeper_id == bench.person.pk or work.mine is not None
        meant_for_others = operation.pinned_person_id not in (None, bench.person.pk)
        if work.state == State.HELD:
            bench.held.append(work)
        elif work.state == State.ON_BENCH:
            (bench.current if keeps else bench.others).append(work)
        elif work.state == State.READY:
            if meant_for_others:
                bench.others.append(work)
            elif bench.skilled or operation.pinned_person_id == bench.person.pk:
                free.append(work)
    bench.current.sort(key=lambda work: (work.mine is None, not work.here))
    if free and not bench.current:
        bench.offered = free.pop(0)
    bench.following, bench.more = free[:next_up], max(0, len(free) - next_up)


def _order(work: Work, person: Person) -> tuple[Any, ...]:
    """Sorts work as the person takes it: what is meant for them first, then by the plan, and where there is none by
    what was put first by hand, then by the day promised or wished, then by age."""
    plan = work.plan
    planned_for = work.operation.pinned_person_id or (plan.person_id if plan is not None else None)
    return (planned_for != person.pk, *_place(work))


def _place(work: Work) -> tuple[Any, ...]:
    """Sorts work of a station as it is taken there, whoever takes it."""
    operation, rank = work.operation, work.plan.rank if work.plan is not None else None
    return (
        rank is None,
        rank or 0,
        operation.pinned_place is None,
        operation.pinned_place or 0,
        work.due or date.max,
        operation.pk,
    )


def _read_coming(bench: Bench, works: Iterable[Work], at: datetime) -> None:
    """What waits for one thing only, and that is being worked on or could be."""
    waiting = {work.operation.pk: work for work in works if work.state == State.WAITING and work.here}
    before: dict[int, list[Any]] = {}
    for row in _BEFORE(bench.station.pk, at):
        before.setdefault(row.holds_up, []).append(row)
    for pk, work in waiting.items():
        waits_for = before.get(pk, [])
        soon = len(waits_for) == 1 and waits_for[0].state in (State.READY, State.ON_BENCH)
        if soon and not work.operation.gate_open:  # type: ignore[attr-defined]
            work.waits_for = waits_for[0]
            bench.coming.append(work)
    last = datetime.max.replace(tzinfo=at.tzinfo)
    bench.coming.sort(key=lambda work: (work.plan and work.plan.start) or last)
    del bench.coming[COMING:]


def _read_holds(held: Collection[Work]) -> None:
    """The hold that each held operation rests by: its own, or else its panel's or its job's."""
    holds = Hold.objects.filter(
        Q(operation__in=[work.operation.pk for work in held])
        | Q(panel__in=[work.operation.panel_id for work in held if work.operation.panel_id])
        | Q(job__in=[work.operation.job_id for work in held]),
        released_at__isnull=True,
    )
    by_thing = {}
    for hold in holds:
        by_thing[("operation", hold.operation_id)] = hold
        by_thing[("panel", hold.panel_id)] = hold
        by_thing[("job", hold.job_id)] = hold
    for work in held:
        operation = work.operation
        keys = (("operation", operation.pk), ("panel", operation.panel_id), ("job", operation.job_id))
        work.hold = next((by_thing[key] for key in keys if key[1] and key in by_thing), None)


def _finished(station: int, person: int, since: datetime, at: datetime) -> QuerySet[Operation]:
    by_them = Event.objects.filter(
        subject="operation", subject_id=OuterRef("pk"), verb="finished", person=person
    )
    return (
        Operation.objects.filter(kind__station=station, finished_at__range=(since, at))
        .filter(Exists(by_them))
        .select_related("kind", "panel__job", "job")
        .defer("panel__drawing")
        .order_by("-finished_at")[:5]
    )


_FINISHED = Prepared(_finished)


def _finished_today(station: Station, person: Person, at: datetime, studio: Studio) -> list[Operation]:
    """What the person finished here today, the last first."""
    midnight = datetime.combine(at.astimezone(studio.zone).date(), time(), studio.zone)
    return _FINISHED(station.pk, person.pk, midnight, at)


def read_names(station: Station) -> list[Person]:
    """Everybody who works in the station's workshop, those with its skill first; each has `skilled`."""
    skills = Skill.objects.filter(person=OuterRef("pk"), station=station)
    people = Person.objects.filter(active=True, workshop=station.workshop_id)
    return list(
        people.annotate(skilled=Exists(skills, output_field=BooleanField())).order_by("-skilled", "name")
    )


def loggable(at: datetime, workshop: int | None = None) -> Any:
    """The work that hours may be written down for afterwards: what is open or was finished lately; of one workshop or
    all."""
    return (
        scope(Operation.objects.filter(kind__nature=Nature.ATTENDED, skipped=False), workshop)
        .filter(Q(finished_at__isnull=True) | Q(finished_at__gte=at - LATELY))
        .exclude(job__stage__in=NOT_WORKED_ON)
        .select_related("kind", "job", "panel__job")
        .defer("panel__drawing")
        .order_by("job__number", "panel__number", "place", "pk")
    )


def loggable_names(at: datetime, most: int, workshop: int | None = None) -> list[tuple[str, str]]:
    """What hours may be written down for, without making rows of it: its name, 0412/3 Beveling, and what that is."""
    rows = loggable(at, workshop).select_related(None).defer(None)
    return [
        (f"{job}{'' if panel is None else f'/{panel}'} {label or kind}", f"{name or ''} {title}".strip())
        for job, panel, label, kind, name, title in rows.values_list(
            "job__number", "panel__number", "label", "kind__name", "panel__name", "job__title"
        )[:most]
    ]
