"""Hours that are typed in afterwards, corrected, taken back or answered for. The first entry is always kept."""

from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock_time
from itertools import pairwise

from django.utils.formats import date_format
from django.utils.translation import gettext_noop

from jobs.models import May, Operation, Person, Studio, TimeEntry
from jobs.models.working import LONGEST, LOOK_BACK, WorkingHours, hours_of, read_hours

from .base import Actor, Refused, mark_out_of_date, record, refused_for
from .taps import once
from .timers import locked, locked_person, must_be_attended, must_share_a_workshop, reasons_against
from .weeks import must_be_open

# Where a day has no hours of its own, typed hours are laid down from this time on.
MORNING = clock_time(8)
DAY = timedelta(days=1)
type Span = tuple[datetime, datetime]


@once
def log_span(
    operation: Operation,
    person: Person,
    started_at: datetime,
    stopped_at: datetime,
    *,
    by: Actor,
    at: datetime,
    note: str = "",
    allow: bool = False,
    reason: str = "",
) -> TimeEntry:
    """Write down work from one time to another. `allow`: the lead lets it count although the work might not start.
    `reason`: why, where the week is closed."""
    person = locked_person(person)
    operation = locked(operation)
    allowed = _must_be_loggable(operation, person, at, by, allow)
    _must_be_a_span(started_at, stopped_at, at)
    must_be_open([started_at], by=by, reason=reason)
    _must_not_overlap(person, started_at, stopped_at)
    hours = _hours(person, started_at, stopped_at)
    entry = TimeEntry(
        person=person,
        operation=operation,
        started_at=started_at,
        stopped_at=stopped_at,
        minutes=hours.counted(started_at, stopped_at),
        note=note,
        source=TimeEntry.Source.SPAN,
    )
    return _add(entry, allowed, by=by, at=at, reason=reason)


@once
def log_hours(
    operation: Operation,
    person: Person,
    day: date,
    minutes: int,
    *,
    by: Actor,
    at: datetime,
    note: str = "",
    allow: bool = False,
    reason: str = "",
) -> TimeEntry:
    """Write down an amount of work of one day. It is laid into the time of that day that is still free: within the
    person's hours if it fits, after them or before them if it does not."""
    person = locked_person(person)
    operation = locked(operation)
    allowed = _must_be_loggable(operation, person, at, by, allow)
    if minutes <= 0:
        raise Refused("Type how many hours it was.", "hours")
    if timedelta(minutes=minutes) > LONGEST:
        raise Refused("Nobody works more than 16 hours in one go.", "hours")
    zone = Studio.current().zone
    if day > at.astimezone(zone).date():
        raise Refused("That day is still to come.", "day")
    midnight = datetime.combine(day, clock_time(), zone)
    must_be_open([midnight], by=by, reason=reason)
    hours = _hours(person, midnight, midnight)
    started_at, stopped_at = _lay_down(person, hours, day, minutes, at)
    entry = TimeEntry(
        person=person,
        operation=operation,
        started_at=started_at,
        stopped_at=stopped_at,
        minutes=minutes,
        note=note,
        source=TimeEntry.Source.HOURS,
    )
    return _add(entry, allowed, by=by, at=at, reason=reason)


@once
def correct(
    entry: TimeEntry,
    started_at: datetime,
    stopped_at: datetime,
    *,
    by: Actor,
    at: datetime,
    reason: str = "",
) -> TimeEntry:
    """Put other times in the place of an entry; the one as it was is kept and can be seen. Gives the new one."""
    entry = _locked_entry(entry)
    _must_be_theirs(entry, by, at)
    _must_be_a_span(started_at, stopped_at, at)
    must_be_open([entry.started_at, started_at], by=by, reason=reason)
    return _replace(entry, started_at, stopped_at, by=by, at=at, reason=reason.strip())


@once
def take_back(entry: TimeEntry, *, by: Actor, at: datetime, reason: str) -> TimeEntry:
    """Say that an entry was none: it stays to be seen and counts no more."""
    if not reason.strip():
        raise Refused("Say why it is taken back.", "reason")
    entry = _locked_entry(entry)
    _must_be_theirs(entry, by, at)
    must_be_open([entry.started_at], by=by, reason=reason)
    entry.voided_at, entry.void_reason, entry.questioned = at, reason.strip()[:200], False
    entry.save(update_fields=["voided_at", "void_reason", "questioned"])
    record("taken back", entry, by=by, at=at, before=_told(entry), why=reason.strip()[:200])
    mark_out_of_date()
    return entry


@once
def answer(entry: TimeEntry, stopped_at: datetime, *, by: Actor, at: datetime) -> TimeEntry:
    """Say when the work of a timer left on really stopped; from then on it counts.

    Anybody whose name it is may, and the lead. Where it was stopped and questioned already, and the answer is another
    time, that is a correction.
    """
    entry = _locked_entry(entry)
    if not by.may(May.KEEP_HOURS) and by.person != entry.person:
        raise Refused("Only %(person)s or the lead can say that.", person=entry.person)
    if not entry.questioned and not entry.is_running:
        raise Refused("That is answered already.")
    _must_be_a_span(entry.started_at, stopped_at, at)
    hours = _hours(entry.person, entry.started_at, stopped_at)
    minutes = hours.counted(entry.started_at, stopped_at)
    before = _told(entry)
    if entry.stopped_at is None or entry.stopped_at == stopped_at:
        _must_not_overlap(entry.person, entry.started_at, stopped_at, but=entry)
        entry.stopped_at, entry.minutes, entry.questioned = stopped_at, minutes, False
        entry.save(update_fields=["stopped_at", "minutes", "questioned"])
        record("answered", entry, by=by, at=at, before=before, after=_told(entry))
        mark_out_of_date()
        return entry
    return _replace(entry, entry.started_at, stopped_at, by=by, at=at, reason="left on")


def proposed_stop(entry: TimeEntry, at: datetime) -> datetime:
    """When the work of a timer left on should have stopped: the end of its shift; `at` where it is not left on."""
    if entry.stopped_at is not None:
        return entry.stopped_at
    since = hours_of([entry], at, Studio.current())[entry.person_id].left_on_since(entry, at)
    return since or at


def _replace(
    entry: TimeEntry, started_at: datetime, stopped_at: datetime, *, by: Actor, at: datetime, reason: str
) -> TimeEntry:
    entry.voided_at, entry.void_reason, entry.questioned = at, (reason or "corrected")[:200], False
    entry.save(update_fields=["voided_at", "void_reason", "questioned"])
    _must_not_overlap(entry.person, started_at, stopped_at)
    made = TimeEntry.objects.create(
        person=entry.person,
        operation=entry.operation,
        started_at=started_at,
        stopped_at=stopped_at,
        minutes=_hours(entry.person, started_at, stopped_at).counted(started_at, stopped_at),
        pieces_done=entry.pieces_done,
        note=entry.note,
        source=TimeEntry.Source.SPAN,
        corrects=entry,
    )
    record("corrected", made, by=by, at=at, before=_told(entry), after=_told(made), why=reason[:200])
    mark_out_of_date()
    return made


def _must_be_loggable(
    operation: Operation, person: Person, at: datetime, by: Actor, allow: bool
) -> tuple[str, ...]:
    """Refuse hours on work that may not be done, unless the lead allows it; gives what was allowed."""
    must_be_attended(operation)
    must_share_a_workshop(person, operation)
    reasons = reasons_against(operation, at)
    if operation.finished_at is not None and not operation.skipped and operation.job.closed_at is None:
        # It was allowed to be done, so its hours may be told; a hold on what is finished says nothing of it.
        reasons = ()
    if not reasons:
        return ()
    if allow and by.may(May.KEEP_HOURS):
        return reasons
    raise refused_for((*reasons, gettext_noop("The lead can allow it.")), "operation")


def _must_be_a_span(started_at: datetime, stopped_at: datetime, at: datetime) -> None:
    if stopped_at <= started_at:
        raise Refused("It ends before it begins.", "stop")
    if stopped_at > at:
        raise Refused("That time is still to come.", "stop")
    if stopped_at.astimezone(UTC) - started_at.astimezone(UTC) > LONGEST:
        raise Refused("Nobody works more than 16 hours in one go.", "stop")


def _must_not_overlap(
    person: Person, started_at: datetime, stopped_at: datetime, but: TimeEntry | None = None
) -> None:
    others = _between(person, started_at, stopped_at)
    other = next((entry for entry in others if but is None or entry.pk != but.pk), None)
    if other is None:
        return
    zone = Studio.current().zone
    start = other.started_at.astimezone(zone)
    words = {
        "work": other.operation,
        "person": person,
        "day": lambda: date_format(start, "l"),
        "start": f"{start:%H:%M}",
    }
    if other.stopped_at is None:
        raise Refused(
            "It overlaps with %(work)s of %(person)s on %(day)s from %(start)s on, still running.",
            "start",
            **words,
        )
    raise Refused(
        "It overlaps with %(work)s of %(person)s on %(day)s from %(start)s to %(stop)s.",
        "start",
        stop=f"{other.stopped_at.astimezone(zone):%H:%M}",
        **words,
    )


def _must_be_theirs(entry: TimeEntry, by: Actor, at: datetime) -> None:
    """People change their own hours of today and yesterday; the lead changes all."""
    if entry.voided_at is not None:
        raise Refused("It was corrected or taken back already.")
    if by.may(May.KEEP_HOURS):
        return
    if by.person is None or by.person != entry.person:
        raise Refused("Only %(person)s or the lead can change that.", person=entry.person)
    zone = Studio.current().zone
    if entry.started_at.astimezone(zone).date() < at.astimezone(zone).date() - DAY:
        raise Refused("That is more than a day ago; the lead can still change it.")


def _locked_entry(entry: TimeEntry) -> TimeEntry:
    rows = TimeEntry.objects.select_for_update(of=("self",))
    entry = rows.select_related("person", "operation__job", "operation__panel", "operation__kind").get(
        pk=entry.pk
    )
    locked_person(entry.person)
    return entry


def _add(entry: TimeEntry, allowed: Sequence[str], *, by: Actor, at: datetime, reason: str) -> TimeEntry:
    entry.save()
    operation = entry.operation
    if operation.started_at is None or operation.started_at > entry.started_at:
        operation.started_at = entry.started_at
        operation.save(update_fields=["started_at"])
    allowance = f"allowed: {' '.join(allowed)}" if allowed else ""
    why = " ".join(part for part in (reason.strip(), allowance) if part)
    record("written down", entry, by=by, at=at, after=_told(entry), why=why[:200])
    mark_out_of_date()
    return entry


def _told(entry: TimeEntry) -> dict[str, object]:
    return {
        "person": entry.person,
        "from": entry.started_at,
        "to": entry.stopped_at,
        "minutes": entry.minutes,
    }


def _hours(person: Person, start: datetime, stop: datetime) -> WorkingHours:
    studio = Studio.current()
    first, last = start.astimezone(studio.zone).date(), stop.astimezone(studio.zone).date()
    return read_hours([person.pk], first, last, studio)[person.pk]


def _lay_down(person: Person, hours: WorkingHours, day: date, minutes: int, at: datetime) -> Span:
    """Where in a day an amount of work fits beside what is written down already; Refused where it does not."""
    zone = Studio.current().zone
    begin = datetime.combine(day, clock_time(), zone)
    end = min(datetime.combine(day + DAY, clock_time(), zone), at)
    spans = hours.spans(day, day)
    opening = spans[0][0] if spans else datetime.combine(day, MORNING, zone)
    closing = max(spans[-1][1] if spans else opening, opening)
    gaps = list(_free(person, begin, end, at))
    # First within the person's hours, then from wherever it is free after them, then before them.
    for low, high in ((opening, closing), (opening, end), (begin, end)):
        for start, stop in gaps:
            laid = _from(hours, max(start, low), min(stop, high), minutes)
            if laid is not None:
                return laid
    raise Refused("That is more than is still free on that day beside what is written down.", "hours")


def _free(person: Person, begin: datetime, end: datetime, at: datetime) -> Iterator[Span]:
    """The times between `begin` and `end` of which nothing is written down."""
    taken = _between(person, begin, end)
    edges: list[Span] = [(begin, begin)]
    edges += [(entry.started_at, entry.stopped_at or at) for entry in taken]
    edges.append((end, end))
    for (_, stop), (start, _) in pairwise(edges):
        if start > stop:
            yield stop, start


def _between(person: Person, start: datetime, stop: datetime) -> list[TimeEntry]:
    """The person's entries that reach into a time, in order; one that runs reaches into all that is to come."""
    rows = person.entries.valid().filter(started_at__lt=stop).select_related("operation__kind")
    stopped = rows.filter(started_at__gt=start - LOOK_BACK, stopped_at__gt=start)
    return [*stopped, *rows.filter(stopped_at__isnull=True)]


def _from(hours: WorkingHours, start: datetime, limit: datetime, minutes: int) -> Span | None:
    """The span from `start` on that counts as so many minutes, or None if it does not end by `limit`."""
    zone = Studio.current().zone
    spans = hours.spans(start.astimezone(zone).date(), start.astimezone(zone).date())
    for (_, stop), (begin, _) in pairwise(spans):
        if stop <= start < begin:
            start = begin  # Work is not laid into a break.
    start = start.astimezone(UTC)  # In a zone of its own Python would add to the clock, not to the time.
    stop = start + timedelta(minutes=minutes)
    while stop <= limit:
        missing = minutes - hours.counted(start, stop)
        if missing <= 0:
            return start, stop
        stop += timedelta(minutes=missing)
    return None
