"""Calendars: the secret links to them, and keeping what they say in step with the plan and the promises."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import uuid4

from django.db import transaction

from jobs.models import CalendarEntry, CalendarLink, Job, May, Operation, Person, Stage, Studio
from jobs.models.customer_links import digest_of, new_seed, token_of

from .base import Actor, Refused, put, record

# What leaves the house, by the kinds that a new studio starts with; they are told beside promises.
KINDS = ("delivery", "installation")
# A calendar shows what was, for a while.
KEPT = timedelta(days=90)
QUARTER = 15 * 60


@dataclass(frozen=True, slots=True)
class Told:
    """What a calendar should say of one thing now: a whole `day`, or from `starts_at` to `ends_at`."""

    job: Job
    operation_number: int | None
    summary: str
    place: str = ""
    person: Person | None = None
    day: date | None = None
    starts_at: datetime | None = None
    ends_at: datetime | None = None

    def values(self) -> dict[str, object]:
        names = ("summary", "place", "person", "day", "starts_at", "ends_at")
        return {name: getattr(self, name) for name in names} | {"cancelled": False}


def to_quarter(at: datetime) -> datetime:
    """Down to the quarter of an hour: a plan that moves work by minutes is no news to a crew."""
    seconds = at.timestamp()
    return datetime.fromtimestamp(seconds - seconds % QUARTER, tz=at.tzinfo)


def told_now(at: datetime) -> Iterable[Told]:
    """Deliveries and installations that are planned or done, and the promise in force of each open job."""
    rows = Operation.objects.filter(kind__slug__in=KINDS, skipped=False, job__stage__in=SHOWN)
    rows = rows.select_related(
        "kind", "panel", "job__customer", "projection__person", "pinned_person", "keeper"
    )
    for row in rows.exclude(finished_at__lt=at - KEPT):
        times = _times(row)
        if times is None:
            continue
        projection = getattr(row, "projection", None)
        person = row.keeper or row.pinned_person or (projection.person if projection else None)
        job = row.job
        start, stop = times
        what = f"{row}: {job.number} {job.title}"[:200]
        yield Told(job, row.pk, what, job.customer.address, person, None, start, stop)
    for job in Job.objects.filter(stage=Stage.ORDERED).with_promise():
        promised: date | None = job.promised  # type: ignore[attr-defined]
        if promised is not None:
            yield Told(job, None, f"Promised: {job.number} {job.title}"[:200], day=promised)


SHOWN = (Stage.ORDERED, Stage.COMPLETE)


def _times(row: Operation) -> tuple[datetime, datetime] | None:
    projection = getattr(row, "projection", None)
    start = row.started_at or (projection.start if projection else None)
    stop = row.finished_at or (projection.finish if projection else None)
    if start is None or stop is None:
        return None
    start = to_quarter(start)
    return start, max(to_quarter(stop), start + timedelta(seconds=QUARTER))


@transaction.atomic
def bring_up_to_date(*, at: datetime) -> None:
    """Take into the entries what has changed since calendars were last read, each change with its next number."""
    there = {
        (entry.job_id, entry.operation_number): entry
        for entry in CalendarEntry.objects.select_for_update().filter(changed_at__isnull=False)
    }
    for told in told_now(at):
        entry = there.pop((told.job.pk, told.operation_number), None)
        if entry is None:
            CalendarEntry.objects.create(
                job=told.job,
                operation_number=told.operation_number,
                uid=f"{uuid4()}@studio",
                changed_at=at,
                **told.values(),
            )
        else:
            _change(entry, told.values(), at)
    kept = {job.pk for job in Job.objects.filter(pk__in={pk for pk, _ in there}, stage=Stage.COMPLETE)}
    for (job, _), entry in there.items():
        # A job that is complete keeps its promise and its last days as they were.
        if job not in kept:
            _change(entry, {"cancelled": True}, at)


def _change(entry: CalendarEntry, values: dict[str, object], at: datetime) -> None:
    _, after = put(entry, values)
    if not after:
        return
    entry.sequence, entry.changed_at = entry.sequence + 1, at
    entry.save(update_fields=[*after, "sequence", "changed_at"])


def _check_lead(by: Actor) -> None:
    if by.account is None or not by.may(May.SET_UP):
        raise Refused("Only the lead gives out calendars.")


@transaction.atomic
def make_calendar_link(person: Person | None, *, by: Actor, at: datetime) -> CalendarLink:
    """A secret address of a calendar, of a person or of the studio. One that is there opens nothing from now on."""
    _check_lead(by)
    assert by.account is not None
    # One address of a calendar, also where two ask at once.
    Studio.objects.select_for_update().filter(pk=1).first()
    if person is not None:
        person = Person.objects.select_for_update().get(pk=person.pk)
        if not person.active:
            raise Refused(f"{person} does not work here any more.")
    CalendarLink.objects.filter(person=person, revoked_at__isnull=True).update(revoked_at=at)
    seed = new_seed()
    link = CalendarLink.objects.create(
        person=person, seed=seed, digest=digest_of(token_of(seed)), made_at=at, made_by=by.account
    )
    record("made", link, by=by, at=at, after={"calendar of": str(person or "the studio")})
    return link


@transaction.atomic
def revoke_calendar_link(person: Person | None, *, by: Actor, at: datetime) -> None:
    """From this minute the address opens nothing, for ever."""
    _check_lead(by)
    link = CalendarLink.objects.select_for_update(of=("self",)).filter(person=person, revoked_at=None).first()
    if link is None:
        raise Refused("There is no address of that calendar.")
    link.revoked_at = at
    link.save(update_fields=["revoked_at"])
    record("revoked", link, by=by, at=at, before={"revoked": False}, after={"revoked": True})
