"""What changes during the day: somebody moved or ill, a bench down, a supplier late, a rush job, Saturday work.

`Asked` is what the lead typed (models/day_changes.py). `tried` tells which dates it moves, and writes nothing;
`confirm` writes it down if it still moves the dates that were shown, and makes the dates anew; `take_back`
(taking_back.py) undoes it while it lasts.
"""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import Any

from django.db import transaction

from jobs.models import (
    ChangeKind,
    DayChange,
    Gate,
    Need,
    Operation,
    Person,
    Station,
    Studio,
)
from jobs.models.day_changes import Asked, back_on

from .base import Actor, Refused, in_words, mark_out_of_date, record
from .gates import set_gate
from .graph import lock_job
from .operations import change_estimate
from .people import add_day_off, add_extra_hours
from .plan import replan
from .purchases import expect_need
from .timers import locked_person, running_of, stop_entry
from .whatif import DAY, Effect, Wishes, is_first, put_job_first, stand, waits_for_a_turn

LONGEST = timedelta(days=366)


class Moved(Refused):
    """The floor is not what it was when the dates were shown. `effect`: what it would move now."""

    def __init__(self, effect: Effect) -> None:
        super().__init__(
            "The floor has changed since these dates were shown. Below they are new: look again, then confirm."
        )
        self.effect = effect


def wishes_of(asked: Asked) -> Wishes:
    """The same as the what-if page would ask it."""
    match asked.kind:
        case ChangeKind.MOVED:
            return Wishes(moved=asked.person, moved_to=asked.station, moved_until=asked.until)
        case ChangeKind.ILL:
            assert asked.person is not None
            return Wishes(away=[asked.person], away_until=asked.until)
        case ChangeKind.DOWN:
            return Wishes(down=asked.station, down_until=asked.until, down_benches=asked.count)
        case ChangeKind.LATE:
            return _lateness_of(asked)
        case ChangeKind.RUSH:
            return Wishes(first=asked.job)
    return Wishes(extra_days=[asked.last], extra_people=asked.people, extra_hours=asked.hours)


def _lateness_of(asked: Asked) -> Wishes:
    match asked.late:
        case Operation():
            return Wishes(outside=asked.late, outside_days=(asked.last - back_on(asked.late)).days)
        case Need():
            return Wishes(gate=gate_of(asked.late), gate_day=_with_the_others(asked.late, asked.last))
    return Wishes(gate=asked.late, gate_day=asked.until)


def gate_of(need: Need) -> Gate | None:
    """The gate that opens once it has arrived, if that is shut."""
    return need.job.gates.filter(kind=need.gate, cleared=None).first() if need.gate else None


def _with_the_others(need: Need, day: date) -> date | None:
    """When all that its gate waits for is there; None where of something else nobody knows."""
    others = need.job.needs.open().filter(gate=need.gate).exclude(pk=need.pk)
    days = [day, *others.values_list("expected", flat=True)]
    return None if None in days else max(each for each in days if each is not None)


def tried(asked: Asked, *, at: datetime) -> Effect:
    """Which dates it would move. Refused for what cannot be, or is so already."""
    _check(asked, at)
    base = stand(at)
    try:
        return base.effect(wishes_of(asked).changes(base))
    except ValueError as impossible:
        raise Refused(str(impossible)) from impossible


def fingerprint(effect: Effect) -> str:
    """Short for the days that are moved, as they are shown, and for the promises at risk before and after."""
    moved = sorted((each.job, each.before, each.after) for each in effect.moved if each.days)
    return sha256(repr((moved, effect.at_risk)).encode()).hexdigest()[:16]


def confirm(asked: Asked, *, seen: str, by: Actor, at: datetime) -> DayChange:
    """Write it down and make the dates anew. `seen`: the fingerprint of what was shown; Moved if that has changed."""
    _check_lead(by)
    effect = tried(asked, at=at)
    if fingerprint(effect) != seen:
        raise Moved(effect)
    change = _write(asked, by=by, at=at)
    replan(at=at)
    return change


def _check_lead(by: Actor) -> None:
    if not by.is_lead:
        raise Refused("Only the lead says what has changed.")


def _check(asked: Asked, at: datetime) -> None:
    """Refuse what cannot be, or is so already. Asked when it is tried, and again under locks."""
    today = at.astimezone(Studio.current().zone).date()
    if asked.until is not None and asked.until < today:
        raise Refused("That day is over.", "until")
    if asked.until is not None and asked.until > today + LONGEST:
        raise Refused("That is more than a year away.", "until")
    if len(asked.why) > 200:
        raise Refused("Say it in 200 letters or fewer.", "why")
    match asked.kind:
        case ChangeKind.MOVED:
            _check_moved(asked, today)
        case ChangeKind.ILL:
            _check_ill(asked, today)
        case ChangeKind.DOWN:
            _check_down(asked, today)
        case ChangeKind.LATE:
            _check_late(asked)
        case ChangeKind.RUSH:
            _check_rush(asked, at)
        case ChangeKind.SATURDAY if not asked.people:
            raise Refused("Say who comes.", "people")


def _check_moved(asked: Asked, today: date) -> None:
    person, station = asked.person, asked.station
    assert person is not None
    if not person.active:
        raise Refused(f"{person} does not work here any more.", "person")
    if not person.skills.filter(station=station).exists():
        raise Refused(f"{person} does not work at {station}.", "station")
    there = DayChange.objects.lasting(today).filter(kind=ChangeKind.MOVED, person=person, station=station)
    row = there.filter(until__gte=asked.last).first()
    if row is not None and row.until is not None:
        raise Refused(f"{person} is at {station} until {in_words(row.until)} already.", "person")


def _check_ill(asked: Asked, today: date) -> None:
    assert asked.person is not None
    off = asked.person.days_off.filter(first__lte=asked.last, last__gte=today).first()
    if off is not None:
        raise Refused(f"{asked.person} is off until {in_words(off.last)} already.", "person")


def _check_down(asked: Asked, today: date) -> None:
    station = asked.station
    assert station is not None
    if len(asked.what) > 40:
        raise Refused("Name it in 40 letters or fewer.", "what")
    rows = DayChange.objects.lasting(today).filter(kind=ChangeKind.DOWN, station=station)
    left = station.benches - sum(row.count for row in rows)
    if left <= 0:
        raise Refused(f"Every bench of {station} is down already.", "station")
    if not 1 <= asked.count <= left:
        raise Refused(f"{station} has {left} {'bench' if left == 1 else 'benches'} in use.", "count")


def _check_late(asked: Asked) -> None:
    late = asked.late
    if isinstance(late, Operation):
        expected: date | None = back_on(late)
        settled = late.finished_at is not None
    elif late is not None:
        expected = late.expected
        settled = (late.arrived if isinstance(late, Need) else late.cleared) is not None
    else:
        raise Refused("Say what comes late.", "late")
    if settled:
        raise Refused(f"{late} is here already.", "late")
    if expected == asked.until:
        raise Refused(f"{late} is expected on that day already.", "until")


def _check_rush(asked: Asked, at: datetime) -> None:
    assert asked.job is not None
    waiting = waits_for_a_turn(asked.job, at)
    if not waiting:
        raise Refused(f"{asked.job.number} has no work that waits for a turn.", "job")
    if all(is_first(row, at) for row in waiting):
        raise Refused(f"{asked.job.number} goes first everywhere already.", "job")


@transaction.atomic
def _write(asked: Asked, *, by: Actor, at: datetime) -> DayChange:
    # Of two leads who say the same at once, the second is told that it is so already.
    Studio.objects.select_for_update().filter(pk=1).first()
    _check(asked, at)
    row = DayChange(
        kind=asked.kind,
        since=at,
        until=asked.until,
        person=asked.person,
        station=asked.station,
        job=asked.job,
        what=asked.what.strip(),
        count=asked.count,
        why=asked.why.strip(),
        written_by=by.name[:80],
    )
    match asked.kind:
        case ChangeKind.MOVED:
            _move(asked, row, by=by, at=at)
        case ChangeKind.ILL:
            _is_ill(asked, row, by=by, at=at)
        case ChangeKind.DOWN:
            row.made = {"station": str(asked.station), "benches down": row.count, "machine": row.what}
        case ChangeKind.LATE:
            _comes_late(asked, row, by=by, at=at)
        case ChangeKind.RUSH:
            _goes_first(asked, row, by=by, at=at)
        case ChangeKind.SATURDAY:
            _works(asked, row, by=by, at=at)
    row.save()
    told = {"change": row.get_kind_display(), "until": row.until} | _in_words(row.made)
    record("written down", row, by=by, at=at, before=_in_words(row.before), after=told, why=row.why)
    mark_out_of_date()
    return row


def _in_words(values: Mapping[str, Any]) -> dict[str, Any]:
    """Without keys of rows, each of which has an Event of its own."""
    return {name: value for name, value in values.items() if name not in ("places", "extra")}


def _stop_timer(person: Person, station: Station | None, why: str, *, by: Actor, at: datetime) -> None:
    """Pause what the person is at, unless that is at the station."""
    person = locked_person(person)
    running = running_of(person)
    if running is None or running.started_at > at:
        return
    if station is None or running.operation.kind.station_id != station.pk:
        stop_entry(running, at, by=by, verb="paused", why=why)


def _move(asked: Asked, row: DayChange, *, by: Actor, at: datetime) -> None:
    assert asked.person is not None
    _stop_timer(asked.person, asked.station, f"moved to {asked.station}", by=by, at=at)
    earlier = DayChange.objects.select_for_update(of=("self",)).filter(
        kind=ChangeKind.MOVED, person=asked.person, ended_at=None
    )
    for before in earlier.select_related("station"):
        before.ended_at = at
        before.save(update_fields=["ended_at"])
        row.before = {"station": str(before.station), "until": f"{before.until}"}
    row.made = {"person": str(asked.person), "station": str(asked.station)}


def _is_ill(asked: Asked, row: DayChange, *, by: Actor, at: datetime) -> None:
    assert asked.person is not None
    _stop_timer(asked.person, None, "ill", by=by, at=at)
    today = at.astimezone(Studio.current().zone).date()
    row.day_off = add_day_off(asked.person, today, asked.last, "ill", by=by, at=at)
    row.made = {"person": str(asked.person)}


def _comes_late(asked: Asked, row: DayChange, *, by: Actor, at: datetime) -> None:
    late = asked.late
    why = row.why or "the supplier is late"
    if isinstance(late, Operation):
        row.operation, row.job = late, late.job
        minutes = max(0, late.estimate + (asked.last - back_on(late)).days * DAY)
        row.before = {"minutes": late.estimate, "day": f"{back_on(late)}"}
        row.made = {"minutes": minutes}
        change_estimate(late, minutes, why=why, by=by, at=at)
    elif isinstance(late, Need):
        row.need, row.job, row.before = late, late.job, {"day": f"{late.expected}"}
        expect_need(late, asked.last, by=by, at=at)
    elif late is not None:
        row.gate, row.job = late, late.job
        row.before = {"day": f"{late.expected}" if late.expected else None}
        set_gate(late.job, late.kind, asked.last, by=by, at=at)


def _goes_first(asked: Asked, row: DayChange, *, by: Actor, at: datetime) -> None:
    assert asked.job is not None
    lock_job(asked.job)
    before = {str(each.pk): each.pinned_place for each in waits_for_a_turn(asked.job, at)}
    placed = {str(each.pk): each.pinned_place for each in put_job_first(asked.job, by=by, at=at)}
    row.before = {"places": {pk: before[pk] for pk in placed}}
    row.made = {"places": placed}


def _works(asked: Asked, row: DayChange, *, by: Actor, at: datetime) -> None:
    made = [add_extra_hours(person, asked.last, *asked.hours, by=by, at=at) for person in asked.people]
    row.person = asked.people[0]  # By whom it is known whose workshop it is of.
    row.made = {
        "extra": [each.pk for each in made],
        "names": ", ".join(str(person) for person in asked.people),
        "span": "-".join(f"{each:%H:%M}" for each in asked.hours),
    }
