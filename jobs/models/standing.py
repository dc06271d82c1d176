"""How the floor stands: every unfinished operation with its state, hours and plan, and the timers that run.

It reads only what is unfinished, in one number of queries whatever the history and however many panels are open.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import cached_property
from typing import Any

from django.db.models import QuerySet, TextField
from django.db.models.functions import Cast
from django.urls import reverse

from jobs.estimating.remaining import minutes_left, worked

from .hours import TimeEntry
from .kinds import Nature, OperationKind
from .operations import Operation
from .orders import Job, Panel, Stage
from .people import Person
from .prepared import Prepared
from .stations import Station
from .studios import Studio
from .working import hours_of

_COLUMNS = {
    "pk": "pk",
    "job_id": "job_id",
    "panel_id": "panel_id",
    "panel_number": "panel__number",
    "panel_name": "panel__name",
    "kind_id": "kind_id",
    "label": "label",
    "place": "place",
    "state": "state",
    "estimate": "estimate",
    "logged": "spent",
    "quantity": "quantity",
    "quantity_done": "quantity_done",
    "beyond": "beyond",
    "started_at": "started_at",
    "finished_at": "finished_at",
    "keeper_id": "keeper_id",
    "pinned_place": "pinned_place",
    "broke_at": "breakage__at",
    "start": "projection__start",
    "finish": "projection__finish",
    "rank": "projection__rank",
    "person_id": "projection__person_id",
}


@dataclass(slots=True)
class Work:
    """One unfinished operation as it stands. Minutes are whole; `logged` leaves out a timer that still runs,
    `running` is what such timers have run. `start`, `finish`, `rank` and `person` are what the plan says."""

    pk: int
    job: Job
    kind: OperationKind
    panel_id: int | None
    panel_number: int | None
    panel_name: str | None
    label: str
    place: int
    state: str
    estimate: int
    logged: int
    quantity: int
    quantity_done: int
    beyond: float
    started_at: datetime | None
    finished_at: datetime | None
    pinned_place: int | None
    broke_at: datetime | None
    start: datetime | None
    finish: datetime | None
    rank: int | None
    keeper: Person | None
    person: Person | None
    running: int = 0
    # The unfinished operations that it comes after, as read_before() found them.
    before: list["Work"] = field(default_factory=list)

    def __str__(self) -> str:
        return self.label or self.kind.name

    @property
    def code(self) -> str:
        """What is worked on, as papers and labels call it: 0412/3, or 0412 for work on the whole job."""
        return self.job.number if self.panel_id is None else f"{self.job.number}/{self.panel_number}"

    @property
    def title(self) -> str:
        return self.panel_name or self.job.title

    @property
    def url(self) -> str:
        """The page of what is worked on."""
        if self.panel_id is None:
            return reverse("job", args=[self.job.number])
        return reverse("panel", args=[self.job.number, self.panel_number])

    @property
    def thing(self) -> tuple[str, int]:
        """The panel or, for work on the whole job, the job: what is counted when panels are."""
        return ("job", self.job.pk) if self.panel_id is None else ("panel", self.panel_id)

    @property
    def spent(self) -> int:
        return self.logged + self.running

    @property
    def left(self) -> int:
        done = worked(self.quantity, self.quantity_done, self.beyond)
        return minutes_left(self.estimate, self.spent, self.quantity, done)

    @property
    def over(self) -> int:
        """Minutes spent beyond the estimate; elapsed work, a cure say, has none."""
        return max(self.spent - self.estimate, 0) if self.estimate and self.attended else 0

    @property
    def due(self) -> date | None:
        return due(self.job)

    @property
    def attended(self) -> bool:
        return self.kind.nature == Nature.ATTENDED

    def bench_order(self) -> tuple[Any, ...]:
        """Sorts work of one station as its benches take it: by the plan, and where there is none by what was put
        first by hand, then by the day promised or wished, then by age."""
        return (
            self.rank is None,
            self.rank or 0,
            self.pinned_place is None,
            self.pinned_place or 0,
            due(self.job) or date.max,
            self.pk,
        )


def due(job: Job) -> date | None:
    """The day last promised, else the day wished. The job is one of `with_promise()`."""
    return job.promised or job.wanted_by  # type: ignore[attr-defined]


@dataclass(frozen=True, slots=True)
class Timer:
    """An entry that runs: on what, and since when it should have stopped if it was left on."""

    entry: TimeEntry
    left_on_since: datetime | None


@dataclass
class Standing:
    """The whole floor at one moment, or that of one workshop.

    `jobs` are the open ones, with their promise, customer and projection.
    """

    at: datetime
    jobs: dict[int, Job]
    kinds: dict[int, OperationKind]
    work: dict[int, Work]
    timers: list[Timer]
    # The workshop that all of it is of, None where it is of all.
    workshop: int | None = None

    @cached_property
    def timers_of(self) -> dict[int, list[Timer]]:
        """Timers by the operation they run on, without the ones left on."""
        found: dict[int, list[Timer]] = {}
        for timer in self.timers:
            if timer.left_on_since is None:
                found.setdefault(timer.entry.operation_id, []).append(timer)
        return found

    def is_of(self, row: Station | Person | Job) -> bool:
        """Whether a row is of the workshop looked at."""
        return self.workshop in (None, row.workshop_id)

    def part_of(self, workshop: int) -> "Standing":
        """What of it is of one workshop."""
        jobs = {pk: job for pk, job in self.jobs.items() if job.workshop_id == workshop}
        return replace(
            self,
            jobs=jobs,
            work={pk: work for pk, work in self.work.items() if work.job.pk in jobs},
            timers=[timer for timer in self.timers if timer.entry.person.workshop_id == workshop],
            workshop=workshop,
        )

    def at_station(self, station_id: int) -> list[Work]:
        return [work for work in self.work.values() if work.kind.station_id == station_id]


_JOBS = Prepared(lambda: Job.objects.open().with_promise().select_related("customer", "projection"))
_KINDS = Prepared(lambda: OperationKind.objects.select_related("station"))
_PEOPLE = Prepared(lambda: Person.objects.all())
_WORK = Prepared(
    lambda at: (
        Operation.objects.open(at)
        .with_state(at)
        .with_hours()
        .with_beyond()
        .order_by()
        .values_list(*_COLUMNS.values())
    )
)


def read_standing(at: datetime, studio: Studio, workshop: int | None = None) -> Standing:
    """Every unfinished operation of the open jobs at `at`, of all workshops or of one: nine queries."""
    jobs = {job.pk: job for job in _JOBS()}
    kinds = {kind.pk: kind for kind in _KINDS()}
    people = {person.pk: person for person in _PEOPLE()}
    work: dict[int, Work] = {}
    for values in _WORK(at):
        row = dict(zip(_COLUMNS, values, strict=True))
        job = jobs.get(row.pop("job_id"))
        # A job that was ordered between the two queries is there at the next look.
        if job is None:
            continue
        work[row["pk"]] = Work(
            job=job,
            kind=kinds[row.pop("kind_id")],
            keeper=people.get(row.pop("keeper_id")),
            person=people.get(row.pop("person_id")),
            **row,
        )
    whole = Standing(at, jobs, kinds, work, _read_timers(work, at, studio))
    return whole if workshop is None else whole.part_of(workshop)


def with_subject(entries: QuerySet[TimeEntry]) -> QuerySet[TimeEntry]:
    """The entries with who made them and on what, in one query."""
    return entries.select_related("person", "operation__kind", "operation__panel", "operation__job").defer(
        "operation__panel__drawing"
    )


def whole(entries: list[TimeEntry]) -> list[TimeEntry]:
    """Entries read `with_subject`, whose panels know their job."""
    for entry in entries:
        if entry.operation.panel is not None:
            entry.operation.panel.job = entry.operation.job
    return entries


_RUNNING = Prepared(lambda: with_subject(TimeEntry.objects.running().order_by("started_at", "pk")))


def _read_timers(work: dict[int, Work], at: datetime, studio: Studio) -> list[Timer]:
    """The timers that run, and what they have run so far put onto their operations."""
    entries = whole(_RUNNING())
    hours = hours_of(entries, at, studio)
    timers = []
    for entry in entries:
        own = hours[entry.person_id]
        since = own.left_on_since(entry, at)
        timers.append(Timer(entry, since))
        if since is None and entry.operation_id in work and entry.started_at < at:
            work[entry.operation_id].running += own.counted(entry.started_at, at)
    return timers


def panels_drawn(wanted: Iterable[int | None]) -> dict[int, Panel]:
    """Panels by id with their drawing as the text it is kept as, `drawing_text`: the drawings of a long list take
    longer to decode than all else on the page, and are the same at the next look."""
    drawn = Panel.objects.defer("drawing").annotate(drawing_text=Cast("drawing", TextField()))
    return dict(drawn.in_bulk([pk for pk in wanted if pk is not None]))


_PAIRS = Prepared(
    lambda: Operation.after.through.objects.filter(
        from_operation__job__stage=Stage.ORDERED, from_operation__finished_at__isnull=True
    ).values_list("from_operation_id", "to_operation_id")
)


def read_before(work: dict[int, Work]) -> None:
    """Fill in what each operation comes after and is unfinished: one query."""
    for after, before in _PAIRS():
        if after in work and before in work:
            work[after].before.append(work[before])


def things(works: Iterable[Work]) -> int:
    """How many panels (and whole jobs) these operations are of."""
    return len({work.thing for work in works})


def minutes(works: Iterable[Work]) -> int:
    return sum(work.left for work in works)
