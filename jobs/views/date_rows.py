"""What the dates page says of each open job, and the time axis that all rows share."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db.models import Prefetch
from django.utils import timezone

from jobs.actions.slipping import SLIPPED
from jobs.estimating.shares import format_share
from jobs.models import Event, Gate, Hold, Job, PlanState, Projection, Promise, Stage, Studio
from jobs.models.plan_asks import words_of

_LONGEST = timedelta(days=26 * 7)
_SHORTEST = timedelta(days=4 * 7)
# The axis writes so many days of the month at most; further Mondays have their tick only.
_LABELS = 14
# How much of the axis a letter of a month's name takes on a phone, in per cent.
_LETTER = 2.9


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on the axis: per cent of its length, and what is written there."""

    place: float
    words: str


@dataclass(frozen=True, slots=True)
class Axis:
    first: date
    last: date

    def place(self, day: date) -> float:
        share = (day - self.first).days / max((self.last - self.first).days, 1)
        return round(min(max(share, 0), 1) * 100, 2)

    @property
    def mondays(self) -> list[Mark]:
        days = [self.first + timedelta(days=n) for n in range((self.last - self.first).days + 1)]
        mondays = [day for day in days if day.weekday() == 0]
        every = -(-len(mondays) // _LABELS)
        return [
            Mark(self.place(day), str(day.day) if number % every == 0 and day < self.last else "")
            for number, day in enumerate(mondays)
        ]

    @property
    def months(self) -> list[Mark]:
        """Each month once, where it begins, if its name has room; the year with the first and where it changes."""
        found = [self.first]
        while (after := (found[-1].replace(day=1) + timedelta(days=32)).replace(day=1)) < self.last:
            found.append(after)
        # A few days of a month at the left edge leave no room for its name, on a phone least of all.
        if len(found) > 1 and self.place(found[1]) < 21:
            found = found[1:]
        marks: list[Mark] = []
        room, year = 0.0, 0
        for day in found:
            place = self.place(day)
            if room <= place < 92:
                marks.append(Mark(place, f"{day:%b}" if day.year == year else f"{day:%b %Y}"))
                room, year = place + _LETTER * len(marks[-1].words), day.year
        return marks


@dataclass(slots=True)
class Row:
    """An open job: its dates, the promise, and what it waits for. `at_risk`: less likely than the studio promises.
    `slipped`: since when the promise is doubtful, and why."""

    job: Job
    today: date
    dates: Projection | None
    promise: Promise | None
    chance_words: str
    at_risk: bool
    overdue: bool
    slipped: str = ""
    waits: list[str] = field(default_factory=list)
    assumes: list[str] = field(default_factory=list)

    @property
    def promised(self) -> date | None:
        return self.promise.day if self.promise else None

    @property
    def days(self) -> list[tuple[str, str]]:
        """Chance and day, in words."""
        if self.dates is None:
            return []
        found = ((0.5, self.dates.p50), (0.8, self.dates.p80), (0.95, self.dates.p95))
        return [
            (format_share(share), short(timezone.localtime(at).date(), self.today)) for share, at in found
        ]

    @property
    def due_words(self) -> str:
        return short(self.due, self.today) if self.due else ""

    @property
    def due(self) -> date | None:
        return self.promised or self.job.wanted_by

    @property
    def sort_key(self) -> tuple[date, str]:
        return self.due or date.max, self.job.number


@dataclass(frozen=True, slots=True)
class DatesPage:
    """Every open job in one of three groups, each by the day promised or wished."""

    at_risk: list[Row]
    kept: list[Row]
    unpromised: list[Row]
    assumes: list[str]
    axis: Axis


def short(day: date, today: date) -> str:
    """“Mon 18 Jan”: the year is plain while the day lies within ten months."""
    words = f"{day:%a} {day.day} {day:%b}"
    return words if abs((day - today).days) < 300 else f"{words} {day.year}"


def in_words(chance: float | None) -> str:
    """A chance as one says it."""
    if chance is None:
        return ""
    steps = (
        (0.95, "safe"),
        (0.8, "likely"),
        (0.6, "rather likely"),
        (0.4, "even"),
        (0.05, "unlikely"),
    )
    for least, words in steps:
        if chance >= least:
            return words
    return "as good as missed"


def read_rows(at: datetime, studio: Studio, state: PlanState, jobs: Iterable[int] | None = None) -> list[Row]:
    """The open jobs, or those of the ids among them: six queries however many."""
    chosen = Job.objects.open().select_related("customer", "projection")
    if jobs is not None:
        chosen = chosen.filter(pk__in=list(jobs))
    promises = Prefetch("promises", Promise.objects.order_by("-given_at", "-pk"), to_attr="given")
    gates = Prefetch("gates", Gate.objects.filter(cleared__isnull=True), to_attr="open_gates")
    holds = _read_holds()
    assumes: dict[int, list[str]] = defaultdict(list)
    for problem in state.problems:
        assumes[problem["job"]].append(problem["sentence"])
    today = timezone.localtime(at).date()
    reports = Event.objects.filter(subject="promise", verb=SLIPPED, job__stage=Stage.ORDERED)
    slipped = {event.subject_id: event for event in reports}
    return sorted(
        (
            _row(job, studio, today, holds, assumes, slipped)
            for job in chosen.prefetch_related(promises, gates)
        ),
        key=lambda row: row.sort_key,
    )


def _row(
    job: Job,
    studio: Studio,
    today: date,
    holds: Mapping[int, list[str]],
    assumes: Mapping[int, list[str]],
    slipped: Mapping[int, Event],
) -> Row:
    given: list[Promise] = job.given  # type: ignore[attr-defined]
    dates: Projection | None = getattr(job, "projection", None)
    promise = given[0] if given else None
    chance = dates.chance if dates else None
    risky = chance is None or chance < float(studio.confidence)
    report = slipped.get(promise.pk) if promise and risky else None
    return Row(
        job=job,
        today=today,
        dates=dates,
        promise=promise,
        chance_words=in_words(chance),
        at_risk=promise is not None and risky,
        overdue=promise is not None and promise.day < today,
        slipped=_slipped(report, today) if report else "",
        waits=[_gate(gate, today) for gate in job.open_gates]  # type: ignore[attr-defined]
        + list(holds.get(job.pk, ())),
        # The number of the job stands in the row already.
        assumes=list(dict.fromkeys(words_of(sentence, job.number) for sentence in assumes.get(job.pk, ()))),
    )


def _slipped(report: Event, today: date) -> str:
    since = timezone.localdate(report.at)
    day = "today" if since == today else short(since, today)
    return f"Doubtful since {day}. {report.why}".strip()


def _gate(gate: Gate, today: date) -> str:
    if gate.expected is None:
        return f"{gate.get_kind_display()}: no day given"
    verb = "was expected" if gate.expected < today else "expected"
    return f"{gate.get_kind_display()}: {verb} {gate.expected:%a} {gate.expected.day} {gate.expected:%b}"


def _read_holds() -> dict[int, list[str]]:
    """By job, what is held in it and why."""
    found: dict[int, list[str]] = defaultdict(list)
    for hold in Hold.objects.filter(released_at__isnull=True).select_related(
        "job", "panel", "operation__panel", "operation__kind"
    ):
        if hold.operation is not None:
            on = (
                f"{hold.operation} of {hold.operation.panel.name}" if hold.operation.panel else hold.operation
            )
            number = hold.operation.job_id
        elif hold.panel is not None:
            on, number = hold.panel.name, hold.panel.job_id
        else:
            on, number = "the whole job", hold.job_id or 0
        found[number].append(f"{on} held: {hold.reason}")
    return found


def read_page(at: datetime, studio: Studio, state: PlanState, workshop: int | None = None) -> DatesPage:
    rows = [row for row in read_rows(at, studio, state) if workshop in (None, row.job.workshop_id)]
    return DatesPage(
        at_risk=[row for row in rows if row.at_risk],
        kept=[row for row in rows if row.promise is not None and not row.at_risk],
        unpromised=[row for row in rows if row.promise is None],
        assumes=[problem["sentence"] for problem in state.problems if problem["job"] is None],
        axis=axis_of(rows, timezone.localtime(at).date()),
    )


def read_axis(at: datetime) -> Axis:
    """The axis that all open jobs share, without their rows: two queries."""
    jobs = Job.objects.open().with_promise().select_related("projection")
    found = [(getattr(job, "projection", None), job.promised) for job in jobs]  # type: ignore[attr-defined]
    return _axis(found, timezone.localtime(at).date())


def axis_of(rows: Iterable[Row], today: date) -> Axis:
    return _axis([(row.dates, row.promised) for row in rows], today)


def _axis(found: Iterable[tuple[Projection | None, date | None]], today: date) -> Axis:
    """From the Monday of this week, or of one of the two weeks before if a promise was for then, to the Monday after
    the last date; half a year at most, so that one distant job does not squeeze all others."""
    days, flags = [], [today]
    for dates, promised in found:
        if dates is not None:
            days.append(timezone.localtime(dates.p95).date())
        if promised is not None:
            days.append(promised)
            flags.append(promised)
    return axis_between([*days, max(min(flags), today - timedelta(days=14))], today)


def axis_between(days: Iterable[date], today: date) -> Axis:
    """From the Monday of the earliest of these days or of today, to the Monday after the last."""
    known = [*days, today]
    begin = min(known)
    end = min(max([*known, today + _SHORTEST]), today + _LONGEST)
    return Axis(begin - timedelta(days=begin.weekday()), end + timedelta(days=7 - end.weekday()))
