"""What if: today's plan beside the plan of a changed shop, from one reading and with the same chances.

Nothing is written while one only asks. `carry_out` writes down what was confirmed, by the same actions as the pages
of people, gates and jobs.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from django.db import transaction

from jobs import planning
from jobs.models import (
    Gate,
    Job,
    Nature,
    Operation,
    OperationKind,
    Person,
    PlanState,
    Route,
    RouteStep,
    Skill,
    Station,
    Studio,
)
from jobs.planning import whatif
from jobs.planning.better import lateness
from jobs.snapshot.footing import Footing, read_footing

from .base import Actor, Refused
from .gates import set_gate
from .operations import change_estimate
from .panels import chosen_steps, step_minutes
from .people import add_day_off, add_extra_hours, set_skills
from .plan import read
from .turns import put_first
from .workshops import kind_in

DAY = 24 * 60


@dataclass(frozen=True, slots=True)
class Base:
    """The shop as it stands and its plan."""

    shop: planning.Shop
    plan: planning.Plan
    confidence: float

    def effect(self, changes: Sequence[whatif.Change]) -> "Effect":
        """What the changes do. ValueError if one names something that is not there."""
        shop = whatif.apply(self.shop, *changes, now=self.plan.now)
        plan = planning.plan(shop, now=self.plan.now, seed=self.plan.seed, futures=self.plan.futures)
        return Effect(self, shop, plan)


@dataclass(frozen=True, slots=True)
class Effect:
    """The changed shop's plan beside today's."""

    base: Base
    shop: planning.Shop
    plan: planning.Plan

    @property
    def moved(self) -> tuple[whatif.Moved, ...]:
        return whatif.compare(self.base.plan, self.plan, confidence=self.base.confidence)

    @property
    def at_risk(self) -> tuple[list[int], list[int]]:
        """Jobs whose day is kept with less than the studio's confidence: today, and with the changes."""
        confidence = self.base.confidence
        return at_risk(self.base.shop, self.base.plan, confidence), at_risk(self.shop, self.plan, confidence)

    @property
    def late_days(self) -> tuple[float, float]:
        """Weighted days of lateness to be expected, today and with the changes, of the jobs that are there today."""
        before, after = (lateness(plan, self.base.shop) for plan in (self.base.plan, self.plan))
        return float(before.mean()), float(after.mean())


# Who tries things out asks again and again of the same floor: it is read and planned once, until something is written
# that the planner reads or the minute is over. One of each process: a shop is too large to be sent to a cache.
_SAME_FLOOR = timedelta(minutes=1)
_kept: dict[tuple[int, int, int], Base] = {}


def stand(at: datetime) -> Base:
    """Today's plan, made so that it can be compared: of this instant, or of less than a minute before if nothing was
    written since. What is asked is then answered for that instant too."""
    state = PlanState.current()
    confidence = float(Studio.current().confidence)
    key = state.revision, state.seed, state.futures
    known = _kept.get(key)
    if known is not None and timedelta(0) <= at - known.plan.now < _SAME_FLOOR:
        return replace(known, confidence=confidence)
    reading = read(at)
    plan = planning.plan(reading.shop, now=at, seed=state.seed, futures=state.futures)
    found = Base(reading.shop, plan, confidence)
    forget()
    if reading.settled:
        _kept[reading.revision, state.seed, state.futures] = found
    return found


def forget() -> None:
    """Have the next `stand` read the floor anew: for what writes rows without an action."""
    _kept.clear()


def at_risk(shop: planning.Shop, plan: planning.Plan, confidence: float) -> list[int]:
    return [
        job.id
        for job in shop.jobs
        if job.due is not None and job.id in plan.jobs and plan.chance(job.id, job.due) < confidence
    ]


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is asked, as rows; everything that is not asked is empty."""

    away: Sequence[Person] = ()
    away_until: date | None = None
    gate: Gate | None = None
    gate_day: date | None = None
    outside: Operation | None = None
    outside_days: int = 0
    extra_days: Sequence[date] = ()
    extra_people: Sequence[Person] = ()
    trained: Person | None = None
    trained_at: Station | None = None
    trained_pace: float = 1.0
    first: Job | None = None
    more_people: Station | None = None
    more_benches: Station | None = None
    route: Route | None = None
    pieces: int = 1
    new_due: date | None = None
    rush: bool = False
    # Who makes the new job, by id; None: whoever the route was written for.
    workshop: int | None = None
    extra_hours: tuple[time, time] = field(default=(time(8), time(12)))
    moved: Person | None = None
    moved_to: Station | None = None
    moved_until: date | None = None
    down: Station | None = None
    down_until: date | None = None
    down_benches: int = 1

    def changes(self, base: Base) -> list[whatif.Change]:
        """The same as the planner wants it; Refused where it cannot be."""
        found: list[whatif.Change] = []
        if self.away_until is not None:
            found += [whatif.PersonAway(person.pk, self.away_until) for person in self.away]
        if self.gate is not None and self.gate_day is not None:
            found.append(whatif.GateLater(self.gate.pk, self.gate_day))
        if self.outside is not None and self.outside_days:
            found.append(whatif.OutsideLater(self.outside.pk, self.outside_days))
        if self.extra_days and self.extra_people:
            people = tuple(person.pk for person in self.extra_people)
            found.append(whatif.ExtraHours(tuple(self.extra_days), people, *self.extra_hours))
        if self.trained is not None and self.trained_at is not None:
            if self.trained.workshop_id != self.trained_at.workshop_id:
                raise Refused(f"{self.trained_at} is at another workshop than {self.trained}.", "trained_at")
            found.append(whatif.Trained(self.trained.pk, self.trained_at.pk, self.trained_pace))
        if self.first is not None:
            found.append(whatif.JobFirst(self.first.pk))
        if self.more_people is not None:
            found.append(whatif.MorePeople(self.more_people.pk))
        if self.more_benches is not None:
            found.append(whatif.MoreBenches(self.more_benches.pk))
        if self.moved is not None and self.moved_to is not None and self.moved_until is not None:
            found.append(whatif.PersonMoved(self.moved.pk, self.moved_to.pk, self.moved_until))
        if self.down is not None and self.down_until is not None:
            found.append(whatif.BenchesDown(self.down.pk, self.down_until, self.down_benches))
        if self.route is not None:
            found += self._new_job(base)
        return found

    def _new_job(self, base: Base) -> list[whatif.Change]:
        assert self.route is not None
        made = new_job(
            base.shop, self.route, self.pieces, self.new_due, workshop=self.workshop, at=base.plan.now
        )
        return [made, whatif.JobFirst(made.job.id)] if self.rush else [made]

    @property
    def can_be_carried_out(self) -> bool:
        """Whether anything asked can be written down from here; new jobs, people and benches have their own pages."""
        return bool(
            (self.away and self.away_until)
            or (self.gate and self.gate_day)
            or (self.outside and self.outside_days)
            or (self.extra_days and self.extra_people)
            or (self.trained and self.trained_at)
            or self.first
        )


def new_job(
    shop: planning.Shop,
    route: Route,
    pieces: int,
    due: date | None,
    *,
    workshop: int | None = None,
    at: datetime,
) -> whatif.NewJob:
    """A job of one panel of so many pieces by a route's steps, as `add_panel` would make it and the planner read it;
    nothing is written."""
    footing = read_footing(at)
    number = max((job.id for job in shop.jobs), default=0) + 1_000_000
    first = max((each.id for each in shop.operations), default=0) + 1_000_000
    steps = chosen_steps(route, ())
    ids = {step: first + place for place, step in enumerate(steps)}
    kinds = {step: step.kind if workshop is None else kind_in(step.kind, workshop) for step in steps}
    operations = tuple(
        planning.Operation(
            id=ids[step],
            job=number,
            panel=number,
            kind=kinds[step].pk,
            station=kinds[step].station_id,
            minutes=_route_minutes(step, kinds[step], pieces, footing),
            crew=step.kind.crew,
            after=tuple(ids[before] for before in after),
            quantity=pieces if step.kind.counts_pieces else 0,
        )
        for step, after in steps.items()
    )
    return whatif.NewJob(planning.Job(number, "new", due), operations)


def _route_minutes(step: RouteStep, kind: OperationKind, pieces: int, footing: Footing) -> int:
    minutes = step_minutes(step, pieces, 1)
    return round(minutes * footing.usual(kind)) if step.kind.nature == Nature.ATTENDED else minutes


@transaction.atomic
def carry_out(wishes: Wishes, *, by: Actor, at: datetime) -> list[str]:
    """Write down what was asked, all of it or nothing; a sentence for each thing done.

    A new job, more people and more benches are not written down here: they need more than a question says.
    """
    if not by.is_lead:
        raise Refused("Only the lead changes people, gates and the order from here.")
    if not wishes.can_be_carried_out:
        raise Refused("Nothing of this can be written down from here.")
    today = at.astimezone(Studio.current().zone).date()
    done = []
    if wishes.away_until is not None:
        for person in wishes.away:
            add_day_off(person, today, wishes.away_until, "ill", by=by, at=at)
            done.append(f"{person} is off until {_day(wishes.away_until)}.")
    if wishes.gate is not None and wishes.gate_day is not None:
        set_gate(wishes.gate.job, wishes.gate.kind, wishes.gate_day, by=by, at=at)
        done.append(f"{wishes.gate} is expected on {_day(wishes.gate_day)}.")
    if wishes.outside is not None and wishes.outside_days:
        minutes = max(0, wishes.outside.estimate + wishes.outside_days * DAY)
        change_estimate(wishes.outside, minutes, why="the supplier takes longer", by=by, at=at)
        done.append(f"{wishes.outside} comes back {wishes.outside_days} days later.")
    done += _extra_hours(wishes, by, at)
    if wishes.trained is not None and wishes.trained_at is not None:
        done.append(_train(wishes, wishes.trained, wishes.trained_at, by, at))
    if wishes.first is not None:
        put_job_first(wishes.first, by=by, at=at)
        done.append(f"{wishes.first.number} goes first everywhere.")
    return done


def _extra_hours(wishes: Wishes, by: Actor, at: datetime) -> list[str]:
    for person in wishes.extra_people:
        for day in wishes.extra_days:
            add_extra_hours(person, day, *wishes.extra_hours, by=by, at=at)
    if not (wishes.extra_people and wishes.extra_days):
        return []
    names = ", ".join(str(person) for person in wishes.extra_people)
    return [f"{names}: extra hours on {', '.join(_day(day) for day in wishes.extra_days)}."]


def _train(wishes: Wishes, person: Person, station: Station, by: Actor, at: datetime) -> str:
    paces = {
        skill.station: skill.pace for skill in Skill.objects.filter(person=person).select_related("station")
    }
    set_skills(person, paces | {station: Decimal(f"{wishes.trained_pace:.2f}")}, by=by, at=at)
    return f"{person} works at {station}."


def put_job_first(job: Job, *, by: Actor, at: datetime) -> list[Operation]:
    """Put all the waiting work of a job before everything else at its stations; gives what was not there yet."""
    waiting = waits_for_a_turn(job, at)
    if not waiting:
        raise Refused(f"{job.number} has no work that waits for a turn.")
    # The last of the route first, so that each one that follows comes before it.
    return [put_first(row, by=by, at=at) for row in waiting if not is_first(row, at)]


def waits_for_a_turn(job: Job, at: datetime) -> list[Operation]:
    """The work of a job that lies on no bench yet, the last of its route first."""
    rows = Operation.objects.open(at).filter(job=job, kind__nature=Nature.ATTENDED, keeper=None)
    return list(rows.select_related("kind", "job").order_by("-place", "-pk"))


def is_first(row: Operation, at: datetime) -> bool:
    """Whether it goes before the work of all other jobs at its station by hand already."""
    others = Operation.objects.open(at).filter(kind__station=row.kind.station_id).exclude(job=row.job)
    return row.pinned_place is not None and not others.filter(pinned_place__lte=row.pinned_place).exists()


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
