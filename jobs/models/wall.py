"""The week for the wall: what the plan has at each station on each day, and what was finished there."""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.db.models import Q

from .floor import Week, read_weeks
from .kinds import Nature
from .operations import Operation
from .orders import Stage
from .people import ClosedDay
from .scope import scope
from .stations import Station
from .studios import Studio

SATURDAY = 5


@dataclass(slots=True)
class JobOnDay:
    """Work of one job at a station on a day: the numbers of its panels, none of which is work on the whole job.
    `done` are those that were finished there that day."""

    number: str
    panels: list[int] = field(default_factory=list)
    done: list[int] = field(default_factory=list)
    whole: bool = False
    whole_done: bool = False

    def take(self, panel: int | None, finished: bool) -> None:
        if panel is None:
            self.whole, self.whole_done = self.whole or not finished, self.whole_done or finished
            return
        found = self.done if finished else self.panels
        if panel not in found:
            found.append(panel)
            found.sort()


@dataclass(frozen=True, slots=True)
class WallRow:
    """A station with its jobs day by day, and the hours of its week where the plan has them."""

    station: Station
    days: list[list[JobOnDay]]
    week: Week | None


@dataclass(frozen=True, slots=True)
class Wall:
    days: list[date]
    closed: set[date]
    rows: list[WallRow]


def read_wall(at: datetime, studio: Studio, workshop: int | None = None) -> Wall:
    """The week of `at`, Monday to Friday and the days of its end on which work begins or ends; of one workshop or
    all."""
    today = _day(at, studio)
    monday = today - timedelta(days=today.weekday())
    whole = [monday + timedelta(days=number) for number in range(7)]
    closed = set(ClosedDay.objects.filter(day__in=whole).values_list("day", flat=True))
    spans = [span for span in _spans(whole, closed, studio) if workshop in (None, span[0].job.workshop_id)]
    used = {day for _, days, _ in spans for day in days}
    days = [day for day in whole if day.weekday() < SATURDAY or day in used]
    weeks = read_weeks(today)
    rows = []
    for station in scope(Station.objects.filter(active=True), workshop):
        own = [span for span in spans if span[0].kind.station_id == station.pk]
        week = next((week for week in weeks.get(station.pk, []) if week.monday == monday), None)
        rows.append(WallRow(station, [_jobs_on(day, own) for day in days], week))
    return Wall(days, closed, rows)


Span = tuple[Operation, list[date], bool]


def _spans(week: list[date], closed: set[date], studio: Studio) -> list[Span]:
    """Each operation at a station with its days in the week and whether it is finished, in the planned order."""
    first = datetime.combine(week[0], time(), studio.zone)
    last = datetime.combine(week[-1] + timedelta(days=1), time(), studio.zone)
    planned = Q(finished_at=None, job__stage=Stage.ORDERED)
    planned &= Q(projection__start__lt=last, projection__finish__gte=first)
    finished = Q(finished_at__gte=first, finished_at__lt=last)
    found = (
        Operation.objects.filter(planned | finished, kind__nature=Nature.ATTENDED, skipped=False)
        .exclude(kind__station=None)
        .select_related("kind", "job", "panel", "projection")
        .defer("panel__drawing")
        .order_by("projection__start", "projection__rank", "finished_at", "pk")
    )
    spans = []
    for row in found:
        if row.finished_at is not None:
            spans.append((row, [_day(row.finished_at, studio)], True))
            continue
        plan = row.projection
        begin, end = (_day(moment, studio) for moment in (plan.start, plan.finish) if moment is not None)
        spans.append((row, [day for day in week if _works(day, begin, end, closed)], False))
    return spans


def _day(moment: datetime, studio: Studio) -> date:
    return moment.astimezone(studio.zone).date()


def _works(day: date, begin: date, end: date, closed: set[date]) -> bool:
    """Whether work from `begin` to `end` is on that day; in between it rests on closed days and at the week's end."""
    if day in (begin, end):
        return True
    return begin < day < end and day not in closed and day.weekday() < SATURDAY


def _jobs_on(day: date, spans: list[Span]) -> list[JobOnDay]:
    jobs: dict[str, JobOnDay] = {}
    for operation, days, finished in spans:
        if day in days:
            number = operation.job.number
            panel = operation.panel.number if operation.panel else None
            jobs.setdefault(number, JobOnDay(number)).take(panel, finished)
    return list(jobs.values())
