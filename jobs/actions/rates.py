"""Rates: set by hand, or learned from finished work and accepted by the lead. Each change is a new dated row.

A rate that has held is never altered: what was quoted with it keeps it. Only of one day the last word counts.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from jobs.estimating.learning import Proposal
from jobs.estimating.rates import DRIVERS, KindRates
from jobs.models import Event, KindSetup, May, Nature, OperationKind, Rate, Studio
from jobs.snapshot.footing import ACCEPTED, FINISHED
from jobs.snapshot.rates import read_rates

from .base import Actor, Refused, mark_out_of_date, record
from .learning import Lesson, read_lessons

LEFT = "left the rates of"
# What a driver or the set-up takes at most; a row holds no more.
MOST = 100_000
SETUP = ""  # The driver that stands for the set-up.
SEEN_CLOSE = Decimal("0.005")
# A proposal that was left comes back once it has moved by this share of the rate.
MOVED = Decimal("0.05")
FOURTH = Decimal("0.0001")


@transaction.atomic
def accept_rates(
    kind: OperationKind, seen: Mapping[str, Decimal], *, by: Actor, at: datetime
) -> list[Proposal]:
    """Let what was learned hold from today: minutes by driver, "" for the set-up, as the lead saw them proposed.

    Refuses where more work has been finished since, so that something else would be proposed now. A driver's steps
    keep their shares of it.
    """
    kind = _locked(kind, by)
    lesson = _lesson(kind, at)
    chosen = _still_proposed(lesson, seen)
    learned = {each.driver: each.learned for each in chosen}
    present = lesson.present
    rates = {driver: minutes for driver, minutes in learned.items() if driver != SETUP}
    new = present.scaled_to(learned.get(SETUP, present.setup), rates)
    day = _today(at)
    if SETUP in learned:
        _write_setup(kind, new, day, _from(chosen, SETUP), by)
    for step, minutes in new.steps.items():
        for driver in minutes.keys() & rates.keys():
            _write_rate(kind, step, driver, minutes[driver], day, _from(chosen, driver), by)
    before = {_word(each.driver): round(each.now, 4) for each in chosen}
    after = {_word(each.driver): round(each.learned, 4) for each in chosen}
    # What it comes to all together: the planner takes older estimates times that (snapshot/footing.py).
    before[FINISHED], after[FINISHED] = _estimates(lesson, present), _estimates(lesson, new)
    record(ACCEPTED, kind, by=by, at=at, before=before, after=after)
    mark_out_of_date()
    return chosen


@transaction.atomic
def leave_rates(
    kind: OperationKind, seen: Mapping[str, Decimal], *, by: Actor, at: datetime
) -> list[Proposal]:
    """Keep the present rates though others were learned; these are not proposed again until they have moved on."""
    kind = _locked(kind, by)
    chosen = _still_proposed(_lesson(kind, at), seen)
    now = {each.driver: round(each.now, 4) for each in chosen}
    learned = {each.driver: round(each.learned, 4) for each in chosen}
    record(LEFT, kind, by=by, at=at, before=now, after=learned)
    return chosen


@transaction.atomic
def set_rate(
    kind: OperationKind,
    *,
    step: str,
    driver: str,
    minutes: Decimal,
    since: date | None = None,
    note: str = "",
    by: Actor,
    at: datetime,
) -> Rate:
    """Say by hand what a driver takes, from today or a later day on; 0 where it does not count."""
    kind = _locked(kind, by)
    if driver not in DRIVERS:
        raise Refused("Choose what the minutes are for.", "driver")
    present = read_rates(_today(at), [kind]).get(kind.slug, KindRates())
    if step and step not in {*kind.steps, *present.steps}:
        raise Refused(f"{kind} has no step “{step}”.", "step")
    _check(minutes, note)
    day = _from_day(since, at)
    before = present.steps.get(step, {}).get(driver)
    row = _write_rate(kind, step, driver, minutes, day, note, by)
    word = f"{step}, {DRIVERS[driver]}" if step else DRIVERS[driver]
    told = {word: row.minutes, "since": day}
    record("set a rate of", kind, by=by, at=at, before={word: before}, after=told, why=note)
    mark_out_of_date()
    return row


@transaction.atomic
def set_setup(
    kind: OperationKind,
    *,
    minutes: Decimal,
    slope: Decimal = Decimal(1),
    since: date | None = None,
    note: str = "",
    by: Actor,
    at: datetime,
) -> KindSetup:
    """Say by hand what the set-up of a kind takes and how much faster each further copy goes, from a day on."""
    kind = _locked(kind, by)
    _check(minutes, note)
    if not Decimal("0.5") <= slope <= 1:
        raise Refused("A learning slope is from 0.5 to 1; 1 is no learning.", "slope")
    day = _from_day(since, at)
    present = read_rates(_today(at), [kind]).get(kind.slug, KindRates())
    row = _write_setup(kind, KindRates(float(minutes), {}, float(slope)), day, note, by)
    before = {"set-up": present.setup, "learning slope": present.slope}
    after = {"set-up": row.minutes, "learning slope": row.slope, "since": day}
    record("set the set-up of", kind, by=by, at=at, before=before, after=after, why=note)
    mark_out_of_date()
    return row


@dataclass(frozen=True, slots=True)
class Left:
    """A proposal that the lead has left: what held then and what was learned."""

    now: Decimal
    learned: Decimal

    def covers(self, proposal: Proposal) -> bool:
        """Whether a proposal is still the one that was left."""
        now, learned = Decimal(proposal.now), Decimal(proposal.learned)
        return abs(now - self.now) <= FOURTH and abs(learned - self.learned) <= MOVED * max(now, FOURTH)


def left_proposals() -> dict[tuple[int, str], Left]:
    """What was left, by kind and driver; of several times the last. One query."""
    events = Event.objects.filter(subject="operationkind", verb=LEFT).order_by("at", "pk")
    return {
        (number, driver): Left(Decimal(str(before[driver])), Decimal(str(minutes)))
        for number, before, after in events.values_list("subject_id", "before", "after")
        for driver, minutes in after.items()
    }


def _locked(kind: OperationKind, by: Actor) -> OperationKind:
    if not by.may(May.SET_RATES):
        raise Refused("Only the lead changes the rates.")
    row = OperationKind.objects.select_for_update().get(pk=kind.pk)
    if row.nature != Nature.ATTENDED:
        raise Refused(f"Nobody works at {row}; it has no rates.")
    return row


def _lesson(kind: OperationKind, at: datetime) -> Lesson:
    lessons = read_lessons(_today(at), at, kind)
    if not lessons or lessons[0].learned is None:
        raise Refused(f"{kind} has no rates to learn.")
    return lessons[0]


def _still_proposed(lesson: Lesson, seen: Mapping[str, Decimal]) -> list[Proposal]:
    """The proposals of these drivers, if they are still what the lead saw."""
    if not seen:
        raise Refused("Choose at least one rate.")
    proposals = {each.driver: each for each in (lesson.learned.proposals if lesson.learned else ())}
    if not seen.keys() <= proposals.keys():
        raise Refused("That rate is not there any more.")
    for driver, minutes in seen.items():
        learned = Decimal(proposals[driver].learned)
        if not abs(learned - minutes) <= SEEN_CLOSE * max(learned, FOURTH):
            raise Refused("More has been learned meanwhile; look at the new proposal.")
    rest = proposals.keys() - seen.keys() - {SETUP}
    if rest and not lesson.by_driver and seen.keys() - {SETUP}:
        raise Refused("These rates were learned as one; accept or leave all of them.")
    return [proposals[driver] for driver in seen]


def _estimates(lesson: Lesson, rates: KindRates) -> float:
    """Minutes at which these rates put all the finished work that was learned from."""
    each = rates.rates
    work = (sum(each.get(d, 0.0) * much for d, much in point.drivers.items()) for point in lesson.points)
    return round(sum(rates.setup + minutes for minutes in work), 1)


def _from(chosen: list[Proposal], driver: str) -> str:
    panels = next(each.panels for each in chosen if each.driver == driver)
    return f"learned from {panels} finished"


def _word(driver: str) -> str:
    return DRIVERS[driver] if driver else "set-up"


def _today(at: datetime) -> date:
    return at.astimezone(Studio.current().zone).date()


def _from_day(since: date | None, at: datetime) -> date:
    today = _today(at)
    if since is None:
        return today
    if not today <= since <= today + timedelta(days=366):
        raise Refused("A rate holds from today on, or from a day of the coming year.", "since")
    return since


def _check(minutes: Decimal, note: str) -> None:
    if not (minutes.is_finite() and 0 <= minutes <= MOST):
        raise Refused("Rates are minutes, and not less than none.", "minutes")
    if len(note) > 200:
        raise Refused("Say why in at most 200 letters.", "note")


def _write_rate(
    kind: OperationKind, step: str, driver: str, minutes: float | Decimal, day: date, note: str, by: Actor
) -> Rate:
    values = {
        "minutes": Decimal(minutes).quantize(FOURTH),
        "accepted_by": by.account,
        "note": note,
    }
    return Rate.objects.update_or_create(kind=kind, step=step, driver=driver, since=day, defaults=values)[0]


def _write_setup(kind: OperationKind, rates: KindRates, day: date, note: str, by: Actor) -> KindSetup:
    third = Decimal("0.001")
    values = {
        "minutes": Decimal(rates.setup).quantize(third),
        "slope": Decimal(rates.slope).quantize(third),
        "accepted_by": by.account,
        "note": note,
    }
    return KindSetup.objects.update_or_create(kind=kind, since=day, defaults=values)[0]
