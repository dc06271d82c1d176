"""Taking back what the lead said during the day, while it lasts."""

from datetime import date, datetime, timedelta

from django.db import transaction

from jobs.models import ChangeKind, DayChange, DayOff, ExtraHours, Operation, Studio
from jobs.models.day_changes import read_lasting

from .base import Actor, Refused, mark_out_of_date, record
from .gates import set_gate
from .operations import change_estimate
from .people import remove_day_off, remove_extra_hours
from .plan import replan
from .purchases import expect_need


def take_back(change: DayChange, *, by: Actor, at: datetime) -> None:
    """It is over, or was a mistake: from now on it is as if it had not been said. The dates are made anew.

    What was changed by hand since stays as it is; what was worked and logged meanwhile stays too.
    """
    _undo(change, by=by, at=at)
    replan(at=at)


@transaction.atomic
def _undo(change: DayChange, *, by: Actor, at: datetime) -> None:
    if not by.is_lead:
        raise Refused("Only the lead takes that back.")
    Studio.objects.select_for_update().filter(pk=1).first()
    today = at.astimezone(Studio.current().zone).date()
    row = next((each.change for each in read_lasting(today) if each.change.pk == change.pk), None)
    if row is None:
        raise Refused("That does not hold any more.")
    match row.kind:
        case ChangeKind.ILL:
            _is_well(row, today, by=by, at=at)
        case ChangeKind.LATE:
            _as_expected(row, by=by, at=at)
        case ChangeKind.RUSH:
            _by_the_rule(row, by=by, at=at)
        case ChangeKind.SATURDAY:
            for extra in ExtraHours.objects.filter(pk__in=row.made["extra"]).select_related("person"):
                remove_extra_hours(extra, by=by, at=at)
    row.ended_at = at
    row.save(update_fields=["ended_at"])
    told = {"change": row.get_kind_display(), "until": row.until}
    record("taken back", row, by=by, at=at, before=told)
    mark_out_of_date()


def _is_well(row: DayChange, today: date, *, by: Actor, at: datetime) -> None:
    """Back from today on: the days that have passed were days off."""
    assert row.day_off is not None
    off = DayOff.objects.select_for_update(of=("self",)).select_related("person").get(pk=row.day_off.pk)
    if off.first >= today:
        remove_day_off(off, by=by, at=at)
        row.day_off = None
        return
    before, off.last = off.last, today - timedelta(days=1)
    off.save(update_fields=["last"])
    record("is back", off.person, by=by, at=at, before={"last": before}, after={"last": off.last})


def _as_expected(row: DayChange, *, by: Actor, at: datetime) -> None:
    day = row.before["day"]
    expected = date.fromisoformat(day) if day and day != "None" else None
    if row.gate is not None:
        set_gate(row.gate.job, row.gate.kind, expected, by=by, at=at)
    elif row.need is not None:
        expect_need(row.need, expected, by=by, at=at)
    elif row.operation is not None:
        change_estimate(row.operation, row.before["minutes"], why="not late after all", by=by, at=at)


def _by_the_rule(row: DayChange, *, by: Actor, at: datetime) -> None:
    """Each operation that still has the place it was given gets the one it had."""
    placed: dict[str, int] = row.made["places"]
    rows = Operation.objects.select_for_update(of=("self",)).filter(pk__in=placed, finished_at=None)
    for operation in rows.select_related("job", "panel", "kind"):
        key = str(operation.pk)
        if operation.pinned_place != placed[key]:
            continue
        operation.pinned_place = row.before["places"][key]
        operation.save(update_fields=["pinned_place"])
        after = {"place": operation.pinned_place}
        record("left to the rule", operation, by=by, at=at, before={"place": placed[key]}, after=after)
