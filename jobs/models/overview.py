"""All workshops at one glance: who is at work in each, how much waits, what decides, and what leaves next."""

from dataclasses import dataclass

from .decisions import Leaving, Risk, at_risk, deliveries
from .floor import STATIONS, Tightest, Week, read_weeks, tightest_by_share
from .operations import State
from .people import Person
from .plans import PlanState
from .standing import Standing, minutes
from .stations import Station
from .studios import Studio
from .workshops import Workshop

NEXT = 3


@dataclass(frozen=True, slots=True)
class WorkshopRow:
    """One workshop. `minutes`: by state, of work at benches that is left; `next` what leaves it first."""

    workshop: Workshop
    jobs: int
    at_work: list[Person]
    minutes: dict[str, int]
    tightest: Tightest | None
    risks: list[Risk]
    next: list[Leaving]


def read_overview(
    workshops: list[Workshop], standing: Standing, plan: PlanState, studio: Studio
) -> list[WorkshopRow]:
    """A row for each workshop: two queries beside those of the standing of all, however many there are."""
    today = standing.at.astimezone(studio.zone).date()
    weeks, stations = read_weeks(today), STATIONS()
    rows = []
    for workshop in workshops:
        own = standing.part_of(workshop.pk)
        there = [station for station in stations if station.workshop_id == workshop.pk]
        rows.append(
            WorkshopRow(
                workshop,
                len(own.jobs),
                _at_work(own),
                {state: _minutes(own, state) for state in (State.READY, State.WAITING, State.HELD)},
                _tightest(own, there, weeks, plan),
                at_risk(own, today, float(studio.confidence)),
                deliveries(own)[:NEXT],
            )
        )
    return rows


def _at_work(own: Standing) -> list[Person]:
    people = {timer.entry.person for timer in own.timers if timer.left_on_since is None}
    return sorted(people, key=lambda person: person.name)


def _minutes(own: Standing, state: str) -> int:
    return minutes(work for work in own.work.values() if work.attended and work.state == state)


def _tightest(
    own: Standing, stations: list[Station], weeks: dict[int, list[Week]], plan: PlanState
) -> Tightest | None:
    """The station that the plan names where it is of this workshop, else the one that is filled most."""
    station = next((each for each in stations if each.pk == plan.tightest_id), None)
    station = station or tightest_by_share(stations, weeks)
    if station is None or not weeks.get(station.pk):
        return None
    left = minutes(own.at_station(station.pk))
    return Tightest(station, left, sum(week.capacity for week in weeks[station.pk]))
