"""When people work, read from their rows: what of an entry counts, and which timers were left on."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from jobs.planning import calendars
from jobs.planning.shop import Shift as PlanningShift

from .hours import TimeEntry
from .people import ClosedDay, DayOff, ExtraHours, Shift
from .prepared import Prepared
from .studios import Studio

# A timer may run on this long past the end of the shift before it is called left on.
GRACE = timedelta(minutes=15)
# Nobody works longer in one go.
LONGEST = timedelta(hours=16)
# So no entry that started longer ago than this reaches into now; it spares reading a person's whole history.
LOOK_BACK = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class WorkingHours:
    """One person's hours: weekly shifts, days off, the studio's closed days, extra hours, in the studio's zone."""

    zone: str
    shifts: tuple[PlanningShift, ...] = ()
    days_off: frozenset[date] = frozenset()
    closed: frozenset[date] = frozenset()
    extra: tuple[tuple[date, time, time], ...] = ()

    def spans(self, first: date, last: date) -> list[tuple[datetime, datetime]]:
        """When the person works from one local day to another, both included."""
        found = calendars.intervals(
            self.shifts, self.days_off, self.closed, self.zone, first, last, self.extra
        )
        return [
            (calendars.from_minute(start, self.zone), calendars.from_minute(stop, self.zone))
            for start, stop in found
        ]

    def shift_end(self, at: datetime) -> datetime | None:
        """The end of the working day that contains `at`; None without hours on that day, or after them."""
        return calendars.shift_end(self.shifts, self.days_off, self.closed, self.zone, at, self.extra)

    def counted(self, start: datetime, stop: datetime) -> int:
        """Whole minutes from start to stop less the breaks in them: the gaps between two shifts of one day.

        A span that touches no shift counts whole, a break worked through for instance.
        """
        zone = ZoneInfo(self.zone)
        spans = self.spans(start.astimezone(zone).date(), stop.astimezone(zone).date())
        # In one zone Python subtracts clocks, not times: over a clock change only UTC is right.
        start, stop = start.astimezone(UTC), stop.astimezone(UTC)
        whole = (stop - start).total_seconds()
        if any(begin < stop and end > start for begin, end in spans):
            for (first, end), (begin, _) in pairwise(spans):
                if first.date() == begin.date():
                    pause = min(begin.astimezone(UTC), stop) - max(end.astimezone(UTC), start)
                    whole -= max(0.0, pause.total_seconds())
        return int(whole // 60)

    def left_on_since(self, entry: TimeEntry, at: datetime) -> datetime | None:
        """When work of a timer that still runs at `at` should have stopped; None while it may well be going on.

        That is the end of its person's working day, once that and the grace are over. On a day without hours, or
        after them, it is sixteen hours after the start.
        """
        if not entry.is_running:
            return None
        end = self.shift_end(entry.started_at)
        if end is not None:
            return end if at > end + GRACE else None
        longest = entry.started_at.astimezone(UTC) + LONGEST
        return longest if at > longest else None


# Of everybody: they are few, and so each query is always the same.
_SHIFTS = Prepared(lambda: Shift.objects.values_list("person_id", "weekday", "start", "stop"))
_DAYS_OFF = Prepared(lambda first, last: DayOff.objects.filter(last__gte=first, first__lte=last))
_EXTRA = Prepared(lambda first, last: ExtraHours.objects.filter(day__range=(first, last)))
_CLOSED = Prepared(
    lambda first, last: ClosedDay.objects.filter(day__range=(first, last)).values_list("day", flat=True)
)


def read_hours(people: Collection[int], first: date, last: date, studio: Studio) -> dict[int, WorkingHours]:
    """The hours of people by id, right for local days from `first` to `last`, in four queries however many."""
    if not people:
        return {}
    shifts: defaultdict[int, list[PlanningShift]] = defaultdict(list)
    days_off: defaultdict[int, set[date]] = defaultdict(set)
    extra: defaultdict[int, list[tuple[date, time, time]]] = defaultdict(list)
    for person, weekday, start, stop in _SHIFTS():
        if person in people:
            shifts[person].append(PlanningShift(weekday, start, stop))
    for off in _DAYS_OFF(first, last):
        days_off[off.person_id].update(_days(max(off.first, first), min(off.last, last)))
    for hours in _EXTRA(first, last):
        extra[hours.person_id].append((hours.day, hours.start, hours.stop))
    closed = frozenset(_CLOSED(first, last))
    return {
        person: WorkingHours(
            zone=studio.time_zone,
            shifts=tuple(shifts[person]),
            days_off=frozenset(days_off[person]),
            closed=closed,
            extra=tuple(extra[person]),
        )
        for person in people
    }


def hours_of(entries: Iterable[TimeEntry], at: datetime, studio: Studio) -> dict[int, WorkingHours]:
    """The hours of everybody who made one of these entries, over the days of them up to `at`."""
    entries = list(entries)
    days = [entry.started_at.astimezone(studio.zone).date() for entry in entries]
    today = at.astimezone(studio.zone).date()
    return read_hours(
        {entry.person_id for entry in entries}, min(days, default=today), max([*days, today]), studio
    )


def left_on(entries: Iterable[TimeEntry], at: datetime, studio: Studio) -> dict[int, datetime]:
    """Of the entries, the timers left on: their id, and when the work should have stopped."""
    entries = list(entries)
    hours = hours_of(entries, at, studio)
    found = {entry.pk: hours[entry.person_id].left_on_since(entry, at) for entry in entries}
    return {pk: since for pk, since in found.items() if since is not None}


def _days(first: date, last: date) -> Iterator[date]:
    for number in range((last - first).days + 1):
        yield first + timedelta(days=number)
