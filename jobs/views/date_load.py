"""Load: hours of work against hours there are, by week, of each station and each person; and what would relieve it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_safe

from jobs.actions.plan import dates_for_reader
from jobs.actions.whatif import Effect, stand
from jobs.models import LoadWeek, Person, PersonWeek, PlanState, Skill, Station
from jobs.models.scope import scope
from jobs.planning import whatif
from jobs.views.access import office_only
from jobs.views.middleware import StudioRequest
from jobs.views.workshops import workshop_key

WEEKS = 10
_LATER = 6  # "In six weeks" is the week that begins then, and the one after.
_FULL = 0.9


@dataclass(frozen=True, slots=True)
class Cell:
    """One week: minutes of work in the middle, with 80 %, and those there are. Shares are of what there is."""

    week: date
    work: int
    work_80: int
    capacity: int

    @property
    def share(self) -> float:
        return self.work / self.capacity if self.capacity else (1.0 if self.work else 0.0)

    @property
    def full(self) -> bool:
        return self.work > 0 and self.share >= _FULL

    @property
    def bar(self) -> float:
        return round(min(self.share, 1) * 100, 1)

    @property
    def tick(self) -> float:
        share = self.work_80 / self.capacity if self.capacity else (1.0 if self.work_80 else 0.0)
        return round(min(share, 1) * 100, 1)


@dataclass(frozen=True, slots=True)
class Line:
    name: str
    cells: list[Cell]
    tightest: bool = False

    @property
    def work(self) -> int:
        return sum(cell.work for cell in self.cells)

    @property
    def any(self) -> bool:
        return any(cell.work or cell.work_80 for cell in self.cells)


@dataclass(frozen=True, slots=True)
class Relief:
    """What one change at the tightest station would do."""

    what: str
    risk_before: int
    risk_after: int
    late_before: float
    late_after: float
    earlier: int
    later: int


@require_safe
@office_only
def date_load(request: StudioRequest) -> HttpResponse:
    state = dates_for_reader(request.now)
    tightest, workshop = state.tightest, workshop_key(request)
    if tightest is not None and workshop not in (None, tightest.workshop_id):
        tightest = None
    if request.GET.get("relief") and tightest is not None:
        context = {"relief": relief(tightest, request.now), "station": tightest}
        part = bool(request.htmx)
    else:
        context, part = {"relief": None, "station": tightest}, False
    if not part:
        context |= _page(request, state)
    response = render(request, "dates_load.html#relief" if part else "dates_load.html", context)
    patch_vary_headers(response, ["HX-Request"])
    return response


def _page(request: StudioRequest, state: PlanState) -> dict[str, object]:
    today = timezone.localdate(request.now)
    monday = today - timedelta(days=today.weekday())
    weeks = [monday + timedelta(days=7 * number) for number in range(WEEKS)]
    workshop = workshop_key(request)
    stations = station_lines(state, weeks, workshop)
    return {
        "plan_state": state,
        "weeks": weeks,
        "stations": stations,
        "later": tightest_later(stations),
        "people": person_lines(weeks, workshop),
    }


def station_lines(state: PlanState, weeks: list[date], workshop: int | None = None) -> list[Line]:
    """Active stations of all workshops or of one, in the floor's order: two queries."""
    known: dict[tuple[int, date], LoadWeek] = {
        (load.station_id, load.week): load for load in LoadWeek.objects.filter(week__in=weeks)
    }
    found = []
    for station in scope(Station.objects.filter(active=True), workshop):
        rows = [known.get((station.pk, week)) for week in weeks]
        cells = [
            Cell(week, row.work, row.work_80, row.capacity) if row else Cell(week, 0, 0, 0)
            for week, row in zip(weeks, rows, strict=True)
        ]
        found.append(Line(station.name, cells, station.pk == state.tightest_id))
    return found


def tightest_later(lines: Iterable[Line]) -> Line | None:
    """The line with the largest share of its hours taken in six weeks; None if nothing is planned then."""
    busy = []
    for line in lines:
        cells = line.cells[_LATER : _LATER + 2]
        work, there = sum(cell.work for cell in cells), sum(cell.capacity for cell in cells)
        if work:
            busy.append((work / max(there, 1), line))
    return max(busy, key=lambda pair: pair[0])[1] if busy else None


def person_lines(weeks: list[date], workshop: int | None = None) -> list[Line]:
    """Active people of all workshops or of one who have a skill: two queries."""
    known = {(row.person_id, row.week): row for row in PersonWeek.objects.filter(week__in=weeks)}
    found = []
    people = Person.objects.filter(active=True, pk__in=Skill.objects.values("person"))
    for person in scope(people, workshop):
        rows = [known.get((person.pk, week)) for week in weeks]
        cells = [
            Cell(week, row.work, row.work_80, row.there) if row else Cell(week, 0, 0, 0)
            for week, row in zip(weeks, rows, strict=True)
        ]
        found.append(Line(person.name, cells))
    return found


def relief(station: Station, at: datetime) -> list[Relief]:
    """One more person, one more bench, four Saturday mornings: each by itself, with the same chances."""
    base = stand(at)
    today = timezone.localdate(at)
    saturday = today + timedelta(days=(5 - today.weekday()) % 7 or 7)
    saturdays = tuple(saturday + timedelta(days=7 * number) for number in range(4))
    able = tuple(person.id for person in base.shop.people if station.pk in person.skills)
    tries: list[tuple[str, whatif.Change]] = [
        (f"One more bench at {station}", whatif.MoreBenches(station.pk))
    ]
    if able:
        tries.insert(0, (f"One more person at {station}", whatif.MorePeople(station.pk)))
        tries.append(
            (f"Four Saturday mornings of those who work at {station}", whatif.ExtraHours(saturdays, able))
        )
    return [_relief(what, base.effect([change])) for what, change in tries]


def _relief(what: str, effect: Effect) -> Relief:
    before, after = effect.at_risk
    late_before, late_after = effect.late_days
    moved = effect.moved
    return Relief(
        what,
        len(before),
        len(after),
        late_before,
        late_after,
        sum(each.days < 0 for each in moved),
        sum(each.days > 0 for each in moved),
    )
