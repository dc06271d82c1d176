"""Dates given to customers."""

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from jobs import planning
from jobs.models import (
    ClosedDay,
    ExtraHours,
    Job,
    MailKind,
    PlanState,
    Projection,
    Promise,
    Shift,
    Stage,
    Studio,
)

from .base import Actor, Refused, in_words, mark_out_of_date, record
from .mail_drafts import draft_for, drop_drafts
from .plan import read

FARTHEST = timedelta(days=3653)
_LOOK_AHEAD = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class OpenDays:
    """On which days of a span somebody works: closed days by their name, weekdays and single days with hours."""

    closed: dict[date, str]
    weekdays: frozenset[int]
    extra: frozenset[date]

    @classmethod
    def read(cls, first: date, last: date) -> "OpenDays":
        """Right for the days from `first` to `last`: three queries."""
        closed = ClosedDay.objects.filter(day__range=(first, last)).values_list("day", "name")
        hours = ExtraHours.objects.filter(person__active=True, day__range=(first, last))
        shifts = Shift.objects.filter(person__active=True).order_by().values_list("weekday", flat=True)
        return cls(dict(closed), frozenset(shifts.distinct()), frozenset(hours.values_list("day", flat=True)))

    def why_closed(self, day: date) -> str | None:
        """A sentence why nothing is handed over on that day; None where the studio is open."""
        if day in self.extra:
            return None
        if day in self.closed:
            name = self.closed[day]
            return f"The studio is closed on {in_words(day)}{f': {name}' if name else ''}."
        if self.weekdays and day.weekday() not in self.weekdays:
            return f"Nobody works on {in_words(day)}."
        return None

    def from_day(self, day: date) -> date:
        """That day if the studio is open on it, else the next one; the day itself if there is none for long."""
        for number in range(_LOOK_AHEAD.days):
            if self.why_closed(day + timedelta(days=number)) is None:
                return day + timedelta(days=number)
        return day


def proposed_day(job: Job, *, at: datetime) -> date | None:
    """The day to promise: the one that the plan keeps with the studio's confidence, moved to a day on which the
    studio is open. None while there is no plan of this job. `job` has its projection."""
    dates: Projection | None = getattr(job, "projection", None)
    if dates is None or dates.confident_day is None:
        return None
    today = at.astimezone(Studio.current().zone).date()
    day = max(dates.confident_day, today)
    return OpenDays.read(day, day + _LOOK_AHEAD).from_day(day)


def chance_if_promised(job: Job, day: date, *, at: datetime) -> float | None:
    """The chance that `job` is ready by `day` once that day is promised; None if the job cannot be planned.

    The floor takes first what is due first, so a promise changes the order that it is judged by: a later day than the
    one wished lets others pass. The plan is made with the new day in place, from the rows as they stand.
    """
    state = PlanState.current()
    shop = read(at).shop
    jobs = tuple(replace(each, due=day) if each.id == job.pk else each for each in shop.jobs)
    plan = planning.plan(replace(shop, jobs=jobs), now=at, seed=state.seed, futures=state.futures)
    return plan.chance(job.pk, day) if job.pk in plan.jobs else None


def give_promise(job: Job, day: date, told: str, *, by: Actor, at: datetime, reason: str = "") -> Promise:
    """Write down that a customer was told `day`, by whom and with which chance. A changed day needs a `reason`.

    The chance is worked out before the transaction, which nobody at a bench then waits for.
    """
    told, reason = told.strip(), reason.strip()
    if by.account is None or not by.is_office:
        raise Refused("Only the office gives dates to customers.")
    _check_typed(job, day, told, at)
    _check_against_last(job, day, told, reason)
    chance = chance_if_promised(job, day, at=at)
    with transaction.atomic():
        job = Job.objects.select_for_update().get(pk=job.pk)
        _check_stage(job)
        last = _check_against_last(job, day, told, reason)
        promise = Promise.objects.create(
            job=job,
            day=day,
            given_at=at,
            given_by=by.account,
            told=told,
            reason=reason,
            chance=None if chance is None else Decimal(f"{chance:.3f}"),
        )
        # Until the dates are made anew the row speaks of this promise, not of the one before.
        Projection.objects.filter(job=job).update(chance=chance)
        record(
            "promised",
            job,
            by=by,
            at=at,
            before={"day": last.day} if last else {},
            after={"day": day, "told": told, "chance": promise.chance},
            why=reason,
        )
        if last is not None and last.day != day:
            drop_drafts(job, MailKind.AT_RISK, why="another day is promised", at=at)
            draft_for(MailKind.NEW_DATE, job, f"promise:{promise.pk}", at=at)
        mark_out_of_date()
    return promise


def _check_typed(job: Job, day: date, told: str, at: datetime) -> None:
    _check_stage(job)
    if not told:
        raise Refused("Say who was told.", "told")
    if len(told) > 80:
        raise Refused("Say it in 80 letters or fewer.", "told")
    today = at.astimezone(Studio.current().zone).date()
    if day < today:
        raise Refused(f"{in_words(day)} is over.", "day")
    if day > today + FARTHEST:
        raise Refused("That is more than ten years from now.", "day")
    closed = OpenDays.read(day, day + _LOOK_AHEAD).why_closed(day)
    if closed is not None:
        raise Refused(closed, "day")


def _check_stage(job: Job) -> None:
    if job.stage in (Stage.ENQUIRY, Stage.QUOTED):
        raise Refused(f"{job.number} is not ordered yet; only ordered work has a place in the plan.")
    if not job.is_open:
        raise Refused(
            f"{job.number} is closed ({job.get_stage_display()}); there is nothing left to promise."
        )


def _check_against_last(job: Job, day: date, told: str, reason: str) -> Promise | None:
    """The promise that holds until now."""
    last = Promise.objects.filter(job=job).order_by("-given_at", "-pk").first()
    if last is not None and last.day == day and last.told == told:
        raise Refused(f"{told} was told {in_words(day)} already.", "day")
    if last is not None and last.day != day and not reason:
        raise Refused(f"{in_words(last.day)} was promised before. Say why it changes.", "reason")
    if len(reason) > 200:
        raise Refused("Say it in 200 letters or fewer.", "reason")
    return last
