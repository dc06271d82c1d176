"""The people at the benches: who they are, what they can do, and when they are there."""

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from itertools import pairwise
from typing import Any

from django.contrib.auth.hashers import make_password
from django.db import models, transaction
from django.utils.formats import date_format

from jobs.models import (
    ClosedDay,
    DayOff,
    ExtraHours,
    Operation,
    Person,
    Shift,
    Skill,
    Station,
    TimeEntry,
    Workshop,
)

from .base import Actor, Refused, mark_out_of_date, put, record
from .names import clean_name

Span = tuple[time, time]
FIELDS = ("name", "active", "hourly_cost", "workshop")
PACES = Decimal("0.1"), Decimal("10")


@transaction.atomic
def add_person(name: str, workshop: Workshop | None = None, *, by: Actor, at: datetime) -> Person:
    """Somebody new, without hours or skills yet, of the first workshop if none is given; refuses a taken name."""
    person = Person(name=clean_name(name, "person", 60))
    if workshop is not None:
        person.workshop = workshop
    _check_name(person)
    person.save()
    record("added", person, by=by, at=at, after={"name": person.name})
    mark_out_of_date()
    return person


@transaction.atomic
def change_person(person: Person, values: Mapping[str, Any], *, by: Actor, at: datetime) -> Person:
    """Change what FIELDS say. Who leaves must not have a timer running; work they keep goes back to its station.

    So it is with who goes to another workshop, who also leaves the skills behind, since they are for its stations.
    """
    person = _locked(person)
    wanted = {name: values[name] for name in FIELDS if name in values}
    if "name" in wanted:
        wanted["name"] = clean_name(wanted["name"], "person", 60)
    if wanted.get("hourly_cost", 0) < 0:
        raise Refused("An hour cannot cost less than nothing.", "hourly_cost")
    before, after = put(person, wanted)
    if not after:
        return person
    _check_name(person)
    if after.get("active") is False:
        _let_go(person, "has left", by=by, at=at)
    elif "workshop" in after:
        _let_go(person, "is at another workshop", by=by, at=at)
        set_skills(person, {}, by=by, at=at)
    person.save(update_fields=list(after))
    record("changed", person, by=by, at=at, before=before, after=after)
    mark_out_of_date()
    return person


@transaction.atomic
def set_pin(person: Person, pin: str, *, by: Actor, at: datetime) -> Person:
    """Set the PIN that this person gives at the bench, 4 to 8 digits; an empty one asks for none."""
    if pin and not re.fullmatch(r"[0-9]{4,8}", pin):
        raise Refused("A PIN has 4 to 8 digits and nothing else.", "pin")
    person = _locked(person)
    person.pin = make_password(pin) if pin else ""
    person.save(update_fields=["pin"])
    # Neither the PIN nor its hash is written down.
    record("set PIN of" if pin else "cleared PIN of", person, by=by, at=at)
    return person


@transaction.atomic
def set_skills(person: Person, paces: Mapping[Station, Decimal], *, by: Actor, at: datetime) -> None:
    """What this person can do, and at what pace (0.1 to 10); stations that are not named are unlearned."""
    low, high = PACES
    for station, pace in paces.items():
        if not low <= pace <= high:
            raise Refused(f"A pace lies between {low} and {high}; 1 is the usual one.", f"pace_{station.pk}")
    person = _locked(person)
    for station in paces:
        if station.workshop_id != person.workshop_id:
            raise Refused(f"{station} is at another workshop than {person}.", f"pace_{station.pk}")
    before = {skill.station.name: skill.pace for skill in person.skills.select_related("station")}
    after = {station.name: pace for station, pace in paces.items()}
    if before == after:
        return
    person.skills.exclude(station__in=paces).delete()
    for station, pace in paces.items():
        Skill.objects.update_or_create(person=person, station=station, defaults={"pace": pace})
    record("changed skills of", person, by=by, at=at, before=before, after=after)
    mark_out_of_date()


@transaction.atomic
def set_week(person: Person, week: Mapping[int, Sequence[Span]], *, by: Actor, at: datetime) -> None:
    """The weekly hours: spans from and to by weekday, 0 Monday to 6 Sunday; a day not named is free."""
    for weekday, spans in week.items():
        _check_spans(spans, f"day_{weekday}")
    person = _locked(person)
    before: dict[int, list[Span]] = {}
    for shift in person.shifts.all():
        before.setdefault(shift.weekday, []).append((shift.start, shift.stop))
    after = {weekday: sorted(spans) for weekday, spans in sorted(week.items()) if spans}
    if before == after:
        return
    person.shifts.all().delete()
    Shift.objects.bulk_create(
        Shift(person=person, weekday=weekday, start=start, stop=stop)
        for weekday, spans in after.items()
        for start, stop in spans
    )
    record("changed hours of", person, by=by, at=at, before=_words(before), after=_words(after))
    mark_out_of_date()


@transaction.atomic
def add_day_off(
    person: Person, first: date, last: date | None = None, reason: str = "", *, by: Actor, at: datetime
) -> DayOff:
    """Days this person is not there, the first and the last included; refuses days that are off already."""
    person, last = _locked(person), last or first
    if last < first:
        raise Refused("The last day off comes before the first.", "last")
    known = person.days_off.filter(first__lte=last, last__gte=first).first()
    if known:
        span = f"{date_format(known.first, 'j F Y')} to {date_format(known.last, 'j F Y')}"
        raise Refused(f"{person.name} is off from {span} already.", "first")
    off = DayOff.objects.create(person=person, first=first, last=last, reason=reason.strip())
    after = {"first": first, "last": last, "reason": off.reason}
    record("gave days off to", person, by=by, at=at, after=after)
    mark_out_of_date()
    return off


@transaction.atomic
def remove_day_off(off: DayOff, *, by: Actor, at: datetime) -> None:
    before = {"first": off.first, "last": off.last, "reason": off.reason}
    _remove(off, f"{off.person.name} has no such days off any more.")
    record("took days off from", off.person, by=by, at=at, before=before)
    mark_out_of_date()


@transaction.atomic
def add_extra_hours(
    person: Person, day: date, start: time, stop: time, *, by: Actor, at: datetime
) -> ExtraHours:
    """Hours on one day beside the weekly ones, which may also be a closed one; refuses overlapping ones."""
    person = _locked(person)
    _check_beside_the_week(person, day, start, stop)
    known = [(hours.start, hours.stop) for hours in person.extra_hours.filter(day=day)]
    _check_spans([*known, (start, stop)], "stop" if stop <= start else "start")
    extra = ExtraHours.objects.create(person=person, day=day, start=start, stop=stop)
    record("gave extra hours to", person, by=by, at=at, after={"day": day, "hours": _span(start, stop)})
    mark_out_of_date()
    return extra


@transaction.atomic
def remove_extra_hours(extra: ExtraHours, *, by: Actor, at: datetime) -> None:
    before = {"day": extra.day, "hours": _span(extra.start, extra.stop)}
    _remove(extra, f"{extra.person.name} has no such extra hours any more.")
    record("took extra hours from", extra.person, by=by, at=at, before=before)
    mark_out_of_date()


def _check_beside_the_week(person: Person, day: date, start: time, stop: time) -> None:
    """Extra hours within the ones of the week would give nothing, and look as if they did."""
    off = person.days_off.filter(first__lte=day, last__gte=day).exists()
    if off or ClosedDay.objects.filter(day=day).exists():
        return
    for shift in person.shifts.filter(weekday=day.weekday(), start__lt=stop, stop__gt=start):
        raise Refused(
            f"{person.name} works from {_span(shift.start, shift.stop)} on {day:%A} anyway: "
            "extra hours lie outside of that.",
            "start",
        )


def _locked(person: Person) -> Person:
    return Person.objects.select_for_update().get(pk=person.pk)


def _check_name(person: Person) -> None:
    if Person.objects.filter(name__iexact=person.name).exclude(pk=person.pk).exists():
        raise Refused(f"There is somebody called {person.name} already: add an initial.", "name")


def _let_go(person: Person, why: str, *, by: Actor, at: datetime) -> None:
    running = TimeEntry.objects.running().filter(person=person).select_related("operation__kind").first()
    if running:
        raise Refused(
            f"{person.name} has a timer running on {running.operation}: stop it at the bench first.",
            "active" if not person.active else "workshop",
        )
    for operation in (
        Operation.objects.select_for_update(of=("self",)).filter(keeper=person).select_related("kind")
    ):
        operation.keeper = None
        operation.save(update_fields=["keeper"])
        record("put back", operation, by=by, at=at, before={"keeper": person}, why=f"{person.name} {why}")
    pinned = Operation.objects.filter(pinned_person=person, finished_at__isnull=True)
    for operation in pinned.select_for_update(of=("self",)).select_related("kind", "job", "panel"):
        operation.pinned_person = None
        operation.save(update_fields=["pinned_person"])
        told = f"{person.name} {why}"
        record("freed", operation, by=by, at=at, before={"person": person}, after={"person": None}, why=told)


def _check_spans(spans: Sequence[Span], field: str) -> None:
    for start, stop in spans:
        if stop <= start:
            raise Refused(
                f"{_span(start, stop)} stops before it starts; work over midnight is two days.", field
            )
    for (start, stop), (following, end) in pairwise(sorted(spans)):
        if following < stop:
            raise Refused(f"{_span(start, stop)} and {_span(following, end)} overlap.", field)


def _remove(row: models.Model, gone: str) -> None:
    # What a second tap asks for was done by the first.
    if not type(row)._default_manager.filter(pk=row.pk).delete()[0]:
        raise Refused(gone)


def _span(start: time, stop: time) -> str:
    return f"{start:%H:%M}-{stop:%H:%M}"


def _words(week: Mapping[int, Sequence[Span]]) -> dict[str, str]:
    return {
        str(Shift.Weekday(weekday).label): ", ".join(_span(*span) for span in spans)
        for weekday, spans in week.items()
    }
