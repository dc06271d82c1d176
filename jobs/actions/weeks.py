"""The end of a day and of a week: a person confirms a day, the lead closes a week."""

from collections.abc import Iterable
from datetime import date, datetime

from django.db import IntegrityError, transaction

from jobs.models import ClosedWeek, ConfirmedDay, May, Person, Studio
from jobs.models.sheets import WEEK, closed_days, monday_of, read_day, read_week

from .base import Actor, Refused, record
from .taps import once
from .timers import locked_person


@once
def confirm_day(person: Person, day: date, *, by: Actor, at: datetime) -> ConfirmedDay:
    """Take a person's word that a day is right. What is changed afterwards shows, and can be confirmed again."""
    if by.person != person:
        raise Refused("Only %(person)s can confirm that day.", person=person)
    person = locked_person(person)
    studio = Studio.current()
    if day > at.astimezone(studio.zone).date():
        raise Refused("That day is still to come.", "day")
    now = read_day(person, day, at, studio)
    if now.left_on:
        raise Refused("A timer of that day was left on: say first when it stopped.")
    if now.running:
        raise Refused("Your work still runs: pause or finish it first.")
    word, _ = ConfirmedDay.objects.update_or_create(
        person=person, day=day, defaults={"minutes": now.minutes, "confirmed_at": at}
    )
    record("confirmed", word, by=by, at=at, after={"minutes": now.minutes})
    return word


@transaction.atomic
def close_week(monday: date, *, by: Actor, at: datetime) -> ClosedWeek:
    """Settle the hours of a week that is over; from then on a change needs the lead and a reason."""
    if not by.may(May.KEEP_HOURS):
        raise Refused("Only the lead closes a week.")
    if monday != monday_of(monday):
        raise Refused("A week begins on a Monday.", "day")
    studio = Studio.current()
    if at.astimezone(studio.zone).date() < monday + WEEK:
        raise Refused("That week is not over yet.", "day")
    week = read_week(monday, at, studio)
    if week.closed is not None:
        raise Refused("That week is closed already.", "day")
    if week.unanswered:
        names = sorted({row.person.name for row in week.unanswered})
        raise Refused("First say when the timers of %(names)s stopped.", "day", names=", ".join(names))
    minutes = {str(row.person.pk): row.minutes for row in week.people if row.minutes}
    try:
        with transaction.atomic():
            closed = ClosedWeek.objects.create(
                monday=monday, closed_at=at, closed_by=by.account, minutes=minutes
            )
    except IntegrityError as error:
        raise Refused("That week is closed already.", "day") from error
    record("closed", closed, by=by, at=at, after={"minutes": sum(minutes.values())})
    return closed


def must_be_open(moments: Iterable[datetime], *, by: Actor, reason: str) -> None:
    """Refuse a change of hours in a closed week, unless it is the lead's and has a reason."""
    zone = Studio.current().zone
    closed = closed_days(moment.astimezone(zone).date() for moment in moments)
    if not closed:
        return
    if not by.may(May.KEEP_HOURS):
        raise Refused("That week is closed; the lead can still change it.", "day")
    if not reason.strip():
        raise Refused("That week is closed: say why it is changed.", "reason")
