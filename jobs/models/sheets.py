"""The weeks of people as they stand: hours of each day against the hours due, and what stands out. Read only."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from jobs.planning import sheets
from jobs.planning.sheets import Span

from .hours import TimeEntry
from .people import Person
from .studios import Studio
from .weeks import ClosedWeek, ConfirmedDay
from .working import WorkingHours, left_on, read_hours

WEEK = timedelta(days=7)
DAY = timedelta(days=1)


@dataclass(slots=True)
class PersonDay:
    """One day of one person. Minutes count as everywhere: less breaks, without what is questioned or taken back."""

    person: Person
    day: date
    minutes: int = 0
    due: int = 0
    rounded: int = 0
    gaps: list[Span] = field(default_factory=list)
    beyond: list[Span] = field(default_factory=list)
    overlaps: list[Span] = field(default_factory=list)
    running: bool = False
    left_on: bool = False
    confirmed: ConfirmedDay | None = None

    @property
    def gap_minutes(self) -> int:
        return sheets.minutes_of(self.gaps)

    @property
    def beyond_minutes(self) -> int:
        return sheets.minutes_of(self.beyond)

    @property
    def changed_since(self) -> bool:
        """Its person confirmed another amount than stands there now."""
        return self.confirmed is not None and self.confirmed.minutes != self.minutes

    @property
    def stands_out(self) -> bool:
        return bool(self.gaps or self.beyond or self.overlaps or self.left_on or self.changed_since)


@dataclass(slots=True)
class PersonWeek:
    person: Person
    days: list[PersonDay]
    at_closing: int | None = None

    @property
    def minutes(self) -> int:
        return sum(day.minutes for day in self.days)

    @property
    def due(self) -> int:
        return sum(day.due for day in self.days)

    @property
    def rounded(self) -> int:
        return sum(day.rounded for day in self.days)

    @property
    def changed_since(self) -> int:
        """Minutes that came or went since the week was closed; 0 while it is open."""
        return 0 if self.at_closing is None else self.minutes - self.at_closing


@dataclass(slots=True)
class Week:
    monday: date
    people: list[PersonWeek]
    closed: ClosedWeek | None

    @property
    def days(self) -> list[date]:
        return [self.monday + number * DAY for number in range(7)]

    @property
    def unanswered(self) -> list[PersonDay]:
        """The days on which a timer runs, or is not answered for: such a week cannot be closed."""
        return [day for row in self.people for day in row.days if day.running or day.left_on]


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


def closed_days(days: Iterable[date]) -> set[date]:
    """Those of the days that lie in a closed week."""
    days = set(days)
    mondays = ClosedWeek.objects.filter(monday__in={monday_of(day) for day in days})
    closed = set(mondays.values_list("monday", flat=True))
    return {day for day in days if monday_of(day) in closed}


def read_week(monday: date, at: datetime, studio: Studio, person: Person | None = None) -> Week:
    """The week from `monday` on, of one person or of everybody who works or has hours in it, by name."""
    first, last = monday, monday + WEEK - DAY
    chosen = {} if person is None else {"person": person}
    entries = _entries(first, last, studio, chosen)
    if person is not None:
        people = [person]
    else:
        known = {entry.person_id for entry in entries}
        people = [row for row in Person.objects.order_by("name") if row.active or row.pk in known]
    hours = read_hours([row.pk for row in people], first, last, studio)
    left = left_on([entry for entry in entries if entry.is_running], at, studio)
    words = ConfirmedDay.objects.filter(day__range=(first, last), **chosen)
    confirmed = {(word.person_id, word.day): word for word in words}
    closed = ClosedWeek.objects.select_related("closed_by").filter(monday=monday).first()
    by_day: defaultdict[tuple[int, date], list[TimeEntry]] = defaultdict(list)
    for entry in entries:
        by_day[entry.person_id, entry.started_at.astimezone(studio.zone).date()].append(entry)
    rows = []
    for row in people:
        days = [
            _day(row, day, by_day[row.pk, day], hours[row.pk], left, at, studio)
            for day in (monday + number * DAY for number in range(7))
        ]
        for each in days:
            each.confirmed = confirmed.get((row.pk, each.day))
        rows.append(PersonWeek(row, days, closed.minutes.get(str(row.pk), 0) if closed else None))
    return Week(monday, rows, closed)


def read_day(person: Person, day: date, at: datetime, studio: Studio) -> PersonDay:
    return read_week(monday_of(day), at, studio, person).people[0].days[day.weekday()]


def _entries(first: date, last: date, studio: Studio, chosen: dict[str, Person]) -> list[TimeEntry]:
    start = datetime.combine(first, time(), studio.zone)
    stop = datetime.combine(last + DAY, time(), studio.zone)
    # Naming the people lets the index of a person's entries serve it, whatever the history.
    chosen = chosen or {"person__in": list(Person.objects.values_list("pk", flat=True))}  # type: ignore[dict-item]
    rows = TimeEntry.objects.valid().filter(started_at__gte=start, started_at__lt=stop, **chosen)
    return list(rows.order_by("started_at", "pk"))


def _day(
    person: Person,
    day: date,
    entries: list[TimeEntry],
    hours: WorkingHours,
    left: dict[int, datetime],
    at: datetime,
    studio: Studio,
) -> PersonDay:
    due = hours.spans(day, day)
    # What was left on is no work until its person has said so: it reaches to the end of the shift at the most.
    worked = [
        (entry.started_at, entry.stopped_at or left.get(entry.pk, at))
        for entry in entries
        if not entry.questioned
    ]
    worked = [(start, stop) for start, stop in worked if start < stop]
    minutes = sum(entry.minutes or 0 for entry in entries if not entry.questioned)
    return PersonDay(
        person=person,
        day=day,
        minutes=minutes,
        due=sheets.minutes_of(due),
        rounded=sheets.rounded(minutes, studio.rounding),
        gaps=sheets.gaps(worked, due, at),
        beyond=sheets.beyond(worked, due),
        overlaps=sheets.overlaps(worked),
        running=any(entry.is_running for entry in entries),
        left_on=any(entry.questioned or entry.pk in left for entry in entries),
    )
