"""The floor as it stood at an instant in the past, with only what was known then; for looking back at old dates.

What rows do not tell is taken as it is now: routes, stations, paces, weekly hours. What the record of changes tells is
put back: estimates, skipped work and expected days that were changed later. Further:

- Hours, pieces, holds, gates and promises count as far as they had come.
- Work lies on the bench of whoever worked on it last, if they have worked on nothing else since.
- Of absences and extra hours those are known that were written down by then, or whose writing down is not recorded.
- People are those of now who had begun to work by then, and those who left since.
- Pins and places in the order are not remembered.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q, QuerySet, Sum

from jobs import planning
from jobs.models import (
    DayOff,
    Event,
    Gate,
    Hold,
    Job,
    Nature,
    Operation,
    OperationKind,
    Person,
    PieceMark,
    Promise,
    Stage,
    Studio,
    TimeEntry,
)
from jobs.models.working import WorkingHours, read_hours

from .footing import read_footing
from .history import at_pace_one, gate_days, kinds_with_reach, log_ratios, minutes_by_person
from .presence import SPAN, logged_shares
from .read import AHEAD, Facts, by_what_they_hold, read_order, read_paces

# Somebody who logged hours within this span was at work then, even if they have left since.
_LATELY = timedelta(days=28)


def open_then(at: datetime) -> QuerySet[Job]:
    """The jobs that the floor worked on at `at`, as far as their rows tell."""
    business = [Stage.ENQUIRY, Stage.QUOTED, Stage.DECLINED]
    begun = Q(ordered_at__lte=at) | Q(ordered_at__isnull=True, entered_at__lte=at)
    return Job.objects.exclude(stage__in=business).filter(begun).exclude(closed_at__lte=at)


def read_shop_then(at: datetime) -> planning.Shop:
    """The shop of `read_shop`, for an instant in the past. One number of queries however much is open."""
    studio = Studio.current()
    today = at.astimezone(studio.zone).date()
    kinds = {kind.pk: kind for kind in kinds_with_reach(at)}
    paces = read_paces()
    jobs = open_then(at)
    of = Q(job__in=jobs.values("pk"))
    since = _Since.read(at)
    operations, not_yet = _operations(of, at, kinds, since)
    people = _people(at)
    entries = TimeEntry.objects.filter(operation__in=[row.pk for row in operations], started_at__lt=at)
    spent = minutes_by_person(entries.filter(stopped_at__lte=at))
    _put_on_benches(operations, kinds, at)
    first = today - SPAN
    hours = since.without_later(read_hours([person.pk for person in people], first, today + AHEAD, studio))
    footing = read_footing(at, studio)
    return Facts(
        at=at,
        zone=studio.time_zone,
        kinds=kinds,
        ratios=log_ratios(kinds.values(), at, paces, footing),
        footing=footing,
        paces=paces,
        people=people,
        hours=hours,
        shares=logged_shares(people, hours, at),
        jobs=_jobs(jobs, at),
        operations=operations,
        spent={
            row.pk: round(at_pace_one(spent[row.pk], kinds[row.kind_id], paces))
            for row in operations
            if row.pk in spent
        },
        beyond=PieceMark.objects.standing_at(at)
        .filter(operation__in=[row.pk for row in operations])
        .beyond(),
        after=read_order({row.pk for row in operations}, at, of, not_yet),
        gates=_gates(jobs, at, since, studio),
        gate_days=gate_days(today),
        holds=by_what_they_hold(
            Hold.objects.filter(since__lte=at).filter(Q(released_at__isnull=True) | Q(released_at__gt=at))
        ),
    ).shop()


@dataclass(slots=True)
class _Since:
    """What the record tells of changes after an instant: what was added, and what values changed rows had before."""

    added: set[tuple[str, int | None]] = field(default_factory=set)
    values: dict[tuple[str, int, str], Any] = field(default_factory=dict)
    days_off: set[tuple[int, str]] = field(default_factory=set)
    extra_hours: set[tuple[int, str]] = field(default_factory=set)

    @classmethod
    def read(cls, at: datetime) -> "_Since":
        found = cls()
        events = Event.objects.filter(at__gt=at, subject__in=["operation", "panel", "gate", "person"])
        # The earliest change after the instant is looked at last, and its values are those that held.
        for event in events.order_by("-at", "-pk"):
            found._look_at(event)
        return found

    def _look_at(self, event: Event) -> None:
        subject, number = event.subject, event.subject_id
        match subject, event.verb:
            case (("operation" | "panel" | "gate"), "added"):
                self.added.add((subject, number))
            case "operation", ("skipped" | "taken up again"):
                self.values[subject, number, "skipped"] = event.verb != "skipped"
            case "person", "gave days off to":
                self.days_off.add((number, event.after["first"]))
            case "person", "gave extra hours to":
                self.extra_hours.add((number, event.after["day"]))
            # There “pieces” are those done, which hours tell better.
            case "operation", ("counted" | "finished"):
                pass
            case (("operation" | "gate"), _):
                for name in ("minutes", "pieces", "expected"):
                    if name in event.before:
                        self.values[subject, number, name] = event.before[name]

    def without_later(self, hours: dict[int, WorkingHours]) -> dict[int, WorkingHours]:
        """Hours without the absences and extra hours that were written down later."""
        return {person: self._without_later(person, each) for person, each in hours.items()}

    def _without_later(self, person: int, hours: WorkingHours) -> WorkingHours:
        known = DayOff.objects.filter(person=person) if any(p == person for p, _ in self.days_off) else ()
        free = set(hours.days_off)
        for off in known:
            if (person, off.first.isoformat()) in self.days_off:
                free -= {off.first + timedelta(days=n) for n in range((off.last - off.first).days + 1)}
        extra = tuple(each for each in hours.extra if (person, each[0].isoformat()) not in self.extra_hours)
        return replace(hours, days_off=frozenset(free), extra=extra)


def _operations(
    of: Q, at: datetime, kinds: dict[int, OperationKind], since: _Since
) -> tuple[list[Operation], set[int]]:
    """What was unfinished, and the ids of what was not there yet: work added later, or again after a breakage."""
    rows = Operation.objects.filter(of).exclude(finished_at__lte=at).select_related("breakage").order_by("pk")
    done = dict(
        TimeEntry.objects.counted()
        .filter(operation__in=rows.values("pk"), stopped_at__lte=at)
        .order_by()
        .values_list("operation")
        .annotate(Sum("pieces_done"))
    )
    found, not_yet = [], set()
    for row in rows:
        again = row.breakage is not None and row.breakage.at > at
        if again or {("operation", row.pk), ("panel", row.panel_id)} & since.added:
            not_yet.add(row.pk)
        elif not since.values.get(("operation", row.pk, "skipped"), row.skipped):
            _put_back(row, kinds[row.kind_id], done.get(row.pk, 0), at, since)
            found.append(row)
    return found, not_yet


def _put_back(row: Operation, kind: OperationKind, done: int, at: datetime, since: _Since) -> None:
    """Give a row, in memory, the values that it had. A cure that had begun knew its end; other work did not."""
    row.estimate = since.values.get(("operation", row.pk, "minutes"), row.estimate)
    row.quantity = since.values.get(("operation", row.pk, "pieces"), row.quantity)
    row.quantity_done = min(done, row.quantity)
    row.keeper_id = row.pinned_person_id = row.pinned_place = None
    if row.started_at is not None and row.started_at > at:
        row.started_at = row.finished_at = None
    if kind.nature != Nature.CURE:
        row.finished_at = None


def _put_on_benches(operations: Iterable[Operation], kinds: dict[int, OperationKind], at: datetime) -> None:
    """Give each operation the keeper who worked on it last and on nothing else since."""
    rows = {row.pk: row for row in operations if kinds[row.kind_id].nature == Nature.ATTENDED}
    lately = TimeEntry.objects.valid().filter(started_at__lt=at, started_at__gt=at - _LATELY)
    last: dict[int, int] = dict(lately.order_by("started_at", "pk").values_list("person", "operation"))
    for person, operation in last.items():
        if operation in rows:
            rows[operation].keeper_id = person


def _people(at: datetime) -> list[Person]:
    entries = TimeEntry.objects.valid()
    before = set(entries.filter(started_at__lt=at).order_by().values_list("person", flat=True).distinct())
    lately = entries.filter(started_at__lt=at, started_at__gt=at - _LATELY)
    there = set(lately.order_by().values_list("person", flat=True).distinct())
    ever = set(entries.order_by().values_list("person", flat=True).distinct())
    return [
        person
        for person in Person.objects.order_by("pk")
        if person.pk in there or (person.active and (person.pk in before or person.pk not in ever))
    ]


def _jobs(jobs: QuerySet[Job], at: datetime) -> list[planning.Job]:
    promised = dict(
        Promise.objects.filter(job__in=jobs.values("pk"), given_at__lte=at)
        .order_by("given_at", "pk")
        .values_list("job", "day")
    )
    return [
        planning.Job(job.pk, job.number, promised.get(job.pk) or job.wanted_by, float(job.weight))
        for job in jobs.order_by("pk")
    ]


def _gates(jobs: QuerySet[Job], at: datetime, since: _Since, studio: Studio) -> dict[int, list[Gate]]:
    found: dict[int, list[Gate]] = {}
    open_ones = Gate.objects.filter(job__in=jobs.values("pk"))
    open_ones = open_ones.exclude(cleared__lte=at.astimezone(studio.zone).date())
    for gate in open_ones.order_by("pk"):
        if ("gate", gate.pk) in since.added:
            continue
        key = ("gate", gate.pk, "expected")
        if key in since.values:
            told = since.values[key]
            gate.expected = date.fromisoformat(told) if told else None
        found.setdefault(gate.job_id, []).append(gate)
    return found
