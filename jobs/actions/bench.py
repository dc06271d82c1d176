"""What people tap at a bench: start, pause, put back, pieces done, finish, open again."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext_noop

from jobs.models import Event, Nature, Operation, Person, Skill, Studio, TimeEntry
from jobs.models.prepared import Prepared
from jobs.models.working import LOOK_BACK, WorkingHours, hours_of

from .base import Actor, Refused, mark_out_of_date, record, refused_for
from .mail_drafts import DONE, drop_drafts, notice_done
from .pieces import ONE_PIECE, must_hold_the_named
from .taps import once
from .timers import (
    add_pieces,
    locked,
    locked_person,
    move_panel,
    must_be_attended,
    must_be_open,
    must_have_begun,
    must_share_a_workshop,
    questioned_of,
    reasons_against,
    running_of,
    stop_all,
    stop_entry,
)

_SKILL = Prepared(lambda person, station: Skill.objects.filter(person=person, station=station)[:1])
_LATER = Prepared(
    lambda person, since, at: (
        TimeEntry.objects.valid()
        .filter(person=person, started_at__gt=since)
        .filter(Q(stopped_at__gt=at) | Q(started_at__gt=at))
        .values_list("pk", flat=True)[:1]
    )
)


@once
def start(
    operation: Operation,
    person: Person,
    *,
    by: Actor,
    at: datetime,
    take_over: bool = False,
    late: bool = False,
) -> TimeEntry:
    """Begin or go on with work; what the person did before is stopped. Gives the running entry.

    `take_over`: it is taken from whoever has it on the bench or whom it is meant for. `late`: the tap was made while
    the line was away, where nobody could ask about a timer left on: that one is stopped at the end of its shift, and
    questioned. Who had the work keeps it, and the hours stand beside theirs (late.py).
    """
    person = locked_person(person)
    operation = locked(operation)
    running = running_of(person)
    hours = hours_of([running], at, Studio.current())[person.pk] if running else None
    if running is not None and running.operation_id == operation.pk and not late:
        _must_have_answered(person, running, hours, at)
        return running
    _must_be_startable(operation, at)
    _must_be_skilled(operation, person)
    if not late:
        _must_have_answered(person, running, hours, at)
    if _LATER(person.pk, at - LOOK_BACK, at):
        raise Refused("%(person)s has hours written down that are later than that.", person=person)
    if running is not None:
        stop_entry(running, at, by=by, hours=hours)
    others = late and operation.kind.crew == 1 and operation.keeper not in (None, person)
    if not others or take_over:
        _must_be_free(operation, person, take_over, by=by, at=at)
    entry = TimeEntry.objects.create(person=person, operation=operation, started_at=at)
    before = {"keeper": operation.keeper}
    others = others or (operation.kind.crew > 1 and operation.keeper_id is not None)
    operation.started_at = min(operation.started_at or at, at)
    # Somebody has finished it since: the hours count, and it stays finished.
    if operation.finished_at is None and (take_over or not others):
        operation.keeper = person
    operation.save(update_fields=["started_at", "keeper"])
    assert operation.kind.station is not None  # A constraint of attended kinds.
    move_panel(operation.panel, operation.kind.station.name)
    record("started", operation, by=by, at=at, before=before, after={"keeper": operation.keeper})
    mark_out_of_date()
    return entry


def _must_be_startable(operation: Operation, at: datetime) -> None:
    must_be_attended(operation)
    if operation.finished_at is not None and operation.finished_at <= at:
        raise Refused("It is finished already.")
    reasons = reasons_against(operation, at)
    if reasons:
        raise refused_for(reasons)


def _must_be_skilled(operation: Operation, person: Person) -> None:
    if not person.active:
        raise Refused("%(person)s is not on the list of people who work here.", person=person)
    must_share_a_workshop(person, operation)
    if operation.pinned_person_id == person.pk:
        return
    if not _SKILL(person.pk, operation.kind.station_id):
        raise Refused(
            "%(station)s is not among the skills of %(person)s. The lead can add it, or give them this.",
            station=operation.kind.station,
            person=person,
        )


def _must_have_answered(
    person: Person, running: TimeEntry | None, hours: WorkingHours | None, at: datetime
) -> None:
    entry = questioned_of(person)
    if entry is None and running is not None and hours is not None and hours.left_on_since(running, at):
        entry = running
    if entry is not None:
        started_at = entry.started_at.astimezone(Studio.current().zone)
        raise Refused(
            "%(person)s left %(work)s running on %(day)s: first say when it stopped.",
            person=person,
            work=entry.operation,
            day=lambda: date_format(started_at, "l"),
        )


def _must_be_free(operation: Operation, person: Person, take_over: bool, *, by: Actor, at: datetime) -> None:
    """Refuse what others have, unless it is taken over: then their timers on it stop."""
    meant_for = operation.pinned_person
    if meant_for is not None and meant_for != person and not take_over:
        raise Refused("It is meant for %(person)s.", person=meant_for)
    crew = operation.kind.crew
    if crew == 1:
        keeper = operation.keeper
        if keeper is not None and keeper != person and not take_over:
            raise Refused("%(person)s has it on the bench.", person=keeper)
        if keeper is not None and keeper != person:
            stop_all([operation], at, by=by, why=f"taken over by {person}")
    elif operation.entries.running().exclude(person=person).count() >= crew:
        raise Refused("It takes %(crew)s people, and %(crew)s are at it.", crew=crew)


@once
def pause(operation: Operation, person: Person, *, by: Actor, at: datetime) -> TimeEntry:
    """Stop the person's timer. The work stays on the bench with whoever keeps it."""
    person = locked_person(person)
    running = running_of(person)
    if running is None or running.operation_id != operation.pk:
        raise Refused("%(work)s is not running for %(person)s.", work=operation, person=person)
    must_have_begun(running, at)
    stop_entry(running, at, by=by, verb="paused")
    mark_out_of_date()
    return running


@once
def put_back(operation: Operation, *, by: Actor, at: datetime) -> Operation:
    """Take the work off the bench unfinished, for whoever is next."""
    operation = locked(operation)
    if operation.keeper is None:
        raise Refused("It is not on a bench.")
    stop_all([operation], at, by=by, why="put back")
    before, operation.keeper = operation.keeper, None
    operation.save(update_fields=["keeper"])
    record("put back", operation, by=by, at=at, before={"keeper": before})
    mark_out_of_date()
    return operation


@once
def count_pieces(
    operation: Operation,
    person: Person | None,
    *,
    by: Actor,
    at: datetime,
    add: int | None = None,
    total: int | None = None,
) -> Operation:
    """Add to the pieces done, or say how many are done in all. Exactly one of `add` and `total` is given.

    Pieces marked on the drawing are among them (pieces.py), so that there cannot be fewer.
    """
    if (add is None) == (total is None):
        raise ValueError("Either add or total")
    operation = locked(operation)
    must_be_open(operation.job)
    if not operation.quantity:
        raise Refused("%(work)s is not counted by the piece.", "total", work=operation)
    if operation.finished_at is not None:
        raise Refused("It is finished already.")
    before = operation.quantity_done
    after = total if total is not None else before + (add or 0)
    if after < 0:
        raise Refused("There cannot be fewer than no pieces done.", "total")
    if after > operation.quantity:
        left = operation.quantity - before
        several = gettext_noop("There are %(all)s pieces, %(left)s of them left to do.")
        raise Refused(
            ONE_PIECE if operation.quantity == 1 else several, "total", all=operation.quantity, left=left
        )
    if after < before:
        must_hold_the_named(operation, after)
    operation.quantity_done = after
    operation.save(update_fields=["quantity_done"])
    add_pieces(operation, person, after - before)
    record("counted", operation, by=by, at=at, before={"pieces": before}, after={"pieces": after})
    mark_out_of_date()
    return operation


@once
def finish(
    operation: Operation, person: Person | None, *, by: Actor, at: datetime, all_done: bool = True
) -> Operation:
    """The work is done: its timers stop, it leaves the bench, and what cures after it begins to cure.

    Its pieces count as done with it. Without `all_done` it is refused while some are left.
    """
    operation = locked(operation)
    if operation.finished_at is not None:
        raise Refused("It is finished already.")
    must_be_attended(operation)
    reasons = reasons_against(operation, at)
    if reasons:
        raise refused_for(reasons)
    keeper = operation.keeper
    if operation.kind.crew == 1 and keeper not in (None, person) and not by.is_lead:
        raise Refused("%(person)s has it on the bench.", person=keeper)
    left = operation.quantity - operation.quantity_done
    if left and not all_done:
        one = gettext_noop("%(left)s piece is not counted as done yet. Is it done as well?")
        several = gettext_noop(
            "%(left)s of %(all)s pieces are not counted as done yet. Are they done as well?"
        )
        raise Refused(one if left == 1 else several, left=left, all=operation.quantity)
    before = {"keeper": keeper.pk if keeper else None, "pieces": operation.quantity_done}
    add_pieces(operation, person, operation.quantity - operation.quantity_done)
    stop_all([operation], at, by=by, why="finished")
    operation.quantity_done = operation.quantity
    operation.started_at = operation.started_at or at
    operation.finished_at, operation.keeper = at, None
    operation.save(update_fields=["quantity_done", "started_at", "finished_at", "keeper"])
    record("finished", operation, by=by, at=at, before=before, after={"pieces": operation.quantity})
    begin_cures(operation, by=by, at=at)
    notice_done(at=at, job=operation.job)
    mark_out_of_date()
    return operation


def begin_cures(operation: Operation, *, by: Actor, at: datetime) -> None:
    """Start what cures by itself once everything before it is finished, at the last of those finishes.

    To be called in the transaction that sets the operation's `finished_at`.
    """
    cures = operation.then.filter(kind__nature=Nature.CURE, skipped=False, started_at__isnull=True)
    for cure in cures.select_related("job", "panel", "kind").select_for_update(of=("self",)):
        ends = [other.finished_at for other in cure.after.filter(skipped=False)]
        finished = [end for end in ends if end is not None]
        if len(finished) < len(ends):
            continue
        cure.started_at = max(finished, default=at).astimezone(UTC)
        cure.finished_at = cure.started_at + timedelta(minutes=cure.estimate)
        cure.save(update_fields=["started_at", "finished_at"])
        record("begun", cure, by=by, at=at, after={"from": cure.started_at, "to": cure.finished_at})
        begin_cures(cure, by=by, at=at)


@once
def reopen(operation: Operation, *, by: Actor, at: datetime) -> Operation:
    """Undo a finish by mistake: by whoever tapped it, on the same day, or by the lead."""
    operation = locked(operation)
    must_be_open(operation.job)
    must_be_attended(operation)
    if operation.finished_at is None:
        raise Refused("It is not finished.")
    finish_of = Event.objects.filter(verb="finished", subject="operation", subject_id=operation.pk).first()
    if not by.is_lead:
        _must_be_theirs_today(operation, finish_of, by, at)
    before = finish_of.before if finish_of else {}
    cures = list(_cures_from(operation))
    operation.finished_at = None
    operation.keeper = Person.objects.filter(pk__in=[before.get("keeper")], active=True).first()
    pieces = min(before.get("pieces", operation.quantity_done), operation.quantity)
    # What the finish credited to somebody's hours is taken back from them.
    add_pieces(operation, finish_of.person if finish_of else None, pieces - operation.quantity_done)
    operation.quantity_done = pieces
    operation.save(update_fields=["finished_at", "keeper", "quantity_done"])
    for cure in cures:
        cure.started_at = cure.finished_at = None
        cure.save(update_fields=["started_at", "finished_at"])
    record("opened again", operation, by=by, at=at, after={"pieces": operation.quantity_done})
    drop_drafts(operation.job, *DONE, why="work is open again", at=at, again=True)
    mark_out_of_date()
    return operation


def _must_be_theirs_today(operation: Operation, finish_of: Event | None, by: Actor, at: datetime) -> None:
    zone = Studio.current().zone
    mine = finish_of is not None and by.person is not None and finish_of.person_id == by.person.pk
    if finish_of is None or not mine or finish_of.at.astimezone(zone).date() != at.astimezone(zone).date():
        raise Refused("Only who finished it can open it again, on the same day; after that the lead can.")
    later = operation.then.filter(kind__nature=Nature.ATTENDED, started_at__isnull=False).first()
    if later is not None:
        raise Refused("%(work)s has begun since; the lead can open it again.", work=later)


def _cures_from(operation: Operation) -> Iterable[Operation]:
    """The cures that began with the operation's finish, and those that began with theirs."""
    for cure in operation.then.filter(kind__nature=Nature.CURE, started_at=operation.finished_at):
        yield from _cures_from(cure)
        yield cure
