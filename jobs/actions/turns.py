"""Whose turn it is: work given to a person, put first at its station, let start early, sent out and come back."""

from datetime import datetime

from django.db import transaction
from django.db.models import Min

from jobs.models import Nature, Operation, Person, Station

from .base import Actor, Refused, mark_out_of_date, record
from .bench import begin_cures
from .graph import lock_operation
from .timers import move_panel, must_be_open, reasons_against


@transaction.atomic
def pin_person(operation: Operation, person: Person | None, *, by: Actor, at: datetime) -> Operation:
    """Give work to one person, who has to have the skill; None: to whoever is free."""
    row = lock_operation(operation)
    _refuse_unattended(row)
    if person is not None:
        if not person.active:
            raise Refused(f"{person} does not work here any more.", "person")
        if not person.skills.filter(station=row.kind.station).exists():
            raise Refused(f"{person} does not work at {row.kind.station}.", "person")
    before, row.pinned_person = row.pinned_person, person
    row.save(update_fields=["pinned_person"])
    verb = "given to a person" if person else "given to nobody in particular"
    record(verb, row, by=by, at=at, before={"person": before}, after={"person": person})
    mark_out_of_date()
    return row


def _refuse_unattended(row: Operation) -> None:
    if row.kind.nature != Nature.ATTENDED:
        raise Refused(f"{row} is done without any of our people.")


@transaction.atomic
def put_first(operation: Operation, *, by: Actor, at: datetime) -> Operation:
    """Take this before everything else that waits at its station."""
    row = lock_operation(operation)
    must_be_open(row.job)
    _refuse_unattended(row)
    # The lock of the station keeps two of these from getting the same place.
    station = row.kind.station
    assert station is not None  # A constraint of attended kinds.
    Station.objects.select_for_update().get(pk=station.pk)
    others = Operation.objects.open(at).filter(kind__station=station).exclude(pk=row.pk)
    lowest = others.aggregate(lowest=Min("pinned_place"))["lowest"]
    if row.pinned_place is not None and (lowest is None or row.pinned_place < lowest):
        raise Refused(f"{row} is first at {station} already.")
    before = row.pinned_place
    row.pinned_place = min(lowest if lowest is not None else 0, 0) - 1
    row.save(update_fields=["pinned_place"])
    told = {"place": row.pinned_place}
    record("put first", row, by=by, at=at, before={"place": before}, after=told)
    mark_out_of_date()
    return row


@transaction.atomic
def unpin(operation: Operation, *, by: Actor, at: datetime) -> Operation:
    """Let the rule decide again when its turn comes."""
    row = lock_operation(operation)
    if row.pinned_place is None:
        raise Refused(f"{row} takes its turn by the rule already.")
    before, row.pinned_place = row.pinned_place, None
    row.save(update_fields=["pinned_place"])
    record("left to the rule", row, by=by, at=at, before={"place": before}, after={"place": None})
    mark_out_of_date()
    return row


@transaction.atomic
def allow_early(operation: Operation, *, why: str, by: Actor, at: datetime) -> Operation:
    """The lead lets work start before what comes first is done; a hold still holds it."""
    if not by.is_lead:
        raise Refused("Only the lead can let work start early.")
    row = lock_operation(operation)
    if row.early:
        raise Refused(f"{row} may start early already.")
    why = why.strip()
    if not why or len(why) > 200:
        raise Refused("Say in a few words why it may start early.", "why")
    row.early = True
    row.save(update_fields=["early"])
    record(
        "allowed to start early", row, by=by, at=at, before={"early": False}, after={"early": True}, why=why
    )
    mark_out_of_date()
    return row


@transaction.atomic
def make_wait(operation: Operation, *, by: Actor, at: datetime) -> Operation:
    """Let work wait again for what comes before it."""
    if not by.is_lead:
        raise Refused("Only the lead can take that back.")
    row = lock_operation(operation)
    if not row.early:
        raise Refused(f"{row} waits for its turn already.")
    row.early = False
    row.save(update_fields=["early"])
    record("made to wait again", row, by=by, at=at, before={"early": True}, after={"early": False})
    mark_out_of_date()
    return row


@transaction.atomic
def send_out(operation: Operation, *, by: Actor, at: datetime) -> Operation:
    """Outside work has left the studio. Refused while it has to wait, as work at a bench is."""
    row = lock_operation(operation)
    _refuse_inside(row)
    if row.started_at is not None:
        raise Refused(f"{row} is out already.")
    reasons = reasons_against(row, at)
    if reasons:
        raise Refused(" ".join(reasons))
    row.started_at = at
    row.save(update_fields=["started_at"])
    before = row.panel.where if row.panel else ""
    move_panel(row.panel, f"out: {row}"[:60])
    record("sent out", row, by=by, at=at, before={"where": before}, after={"where": f"out: {row}"[:60]})
    mark_out_of_date()
    return row


def _refuse_inside(row: Operation) -> None:
    if row.kind.nature != Nature.OUTSIDE:
        raise Refused(f"{row} is done in the studio.")


@transaction.atomic
def not_out(operation: Operation, *, by: Actor, at: datetime) -> Operation:
    """Take back a sending out by mistake."""
    row = lock_operation(operation)
    _refuse_inside(row)
    if row.started_at is None:
        raise Refused(f"{row} is not out.")
    before, row.started_at = row.started_at, None
    row.save(update_fields=["started_at"])
    move_panel(row.panel, "")
    record("not sent out after all", row, by=by, at=at, before={"sent": before})
    mark_out_of_date()
    return row


@transaction.atomic
def came_back(operation: Operation, *, by: Actor, at: datetime) -> Operation:
    """Outside work is back in the studio, done."""
    row = lock_operation(operation)
    _refuse_inside(row)
    if row.started_at is None:
        raise Refused(f"{row} has not been sent out.")
    row.finished_at, row.quantity_done = max(at, row.started_at), row.quantity
    row.save(update_fields=["finished_at", "quantity_done"])
    before = row.panel.where if row.panel else ""
    move_panel(row.panel, f"back: {row}"[:60])
    record("came back", row, by=by, at=at, before={"where": before}, after={"where": f"back: {row}"[:60]})
    begin_cures(row, by=by, at=at)
    mark_out_of_date()
    return row
