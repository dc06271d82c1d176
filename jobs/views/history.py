"""What has changed, told from Event rows in words."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django.apps import apps
from django.db.models import Model, QuerySet
from django.utils import timezone

from jobs.estimating.hours import format_hours
from jobs.estimating.lengths import format_length, in_units
from jobs.models import Account, Customer, Event, Job, Operation, OperationKind, Person, Station, Studio
from jobs.snapshot.footing import FINISHED
from jobs.templatetags.studio import clock, day, percent

FIRST, MOST = 20, 500
# Said in another way, or of use to nobody who reads.
UNTOLD = frozenset(
    {FINISHED, "gate", "keeper", "drawing", "place", "by", "change", "skipped", "early", "revoked"}
)
WORDS = {
    "width_mm": "width",
    "height_mm": "height",
    "thickness_mm": "glass",
    "minutes": "hours",
    "close_below_mm": "gaps closed up to",
    "drawn_width_mm": "width of the drawing",
}
# Tables whose rows are called by a name, with what the name is made of.
NAMED: dict[str, tuple[type[Model], tuple[str, ...]]] = {
    "account": (Account, ()),
    "customer": (Customer, ()),
    "operation": (Operation, ("kind",)),
    "operationkind": (OperationKind, ()),
    "person": (Person, ()),
    "station": (Station, ()),
    "studio": (Studio, ()),
}
SHARES = frozenset({"chance", "confidence"})
MINUTES = frozenset({"minutes", "estimate", "spent"})


@dataclass(frozen=True, slots=True)
class Change:
    word: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Told:
    at: datetime
    who: str
    subject: str
    verb: str
    changes: tuple[Change, ...]
    why: str
    # Where it is told of many things: what it was part of, with its page.
    where: str = ""
    address: str = ""


def history_of(events: QuerySet[Event], job: Job, studio: Studio, *, whole: bool) -> tuple[list[Told], bool]:
    """The last changes first, and whether there are more than these."""
    most = MOST if whole else FIRST
    rows = list(events.select_related("account", "person", "panel")[: most + 1])
    wanted = [row.subject_id for row in rows if row.subject == "operation"]
    names = {
        row.pk: str(row) for row in Operation.objects.filter(pk__in=wanted, job=job).select_related("kind")
    }
    return [_told(row, names, studio) for row in rows[:most]], len(rows) > most


def history_about(row: Model, address: str, studio: Studio, *, whole: bool) -> dict[str, Any]:
    """What job/history.html shows of a row that is no job's: a person, a kind of work, an account."""
    most = MOST if whole else FIRST
    events = Event.objects.filter(subject=row._meta.model_name, subject_id=row.pk)
    rows = list(events.select_related("account", "person", "panel")[: most + 1])
    told = [_after_verb(_told(event, {}, studio), str(row)) for event in rows[:most]]
    return {"history": told, "more_history": len(rows) > most, "page_url": address}


def told_everywhere(events: Sequence[Event], studio: Studio) -> list[Told]:
    """Each with the name of what it is about, as far as that is still there, and where it belongs."""
    names = {subject: _names(subject, events) for subject in {event.subject for event in events}}
    return [_told_with_place(event, names[event.subject], studio) for event in events]


def _names(subject: str, events: Iterable[Event]) -> dict[int, str]:
    """Names of the rows of one table that events are about, in one query; none where they have no name."""
    if subject not in NAMED:
        return {}
    model, related = NAMED[subject]
    keys = {event.subject_id for event in events if event.subject == subject}
    rows: Any = model._base_manager.filter(pk__in=keys)
    return {row.pk: str(row) for row in (rows.select_related(*related) if related else rows)}


def _told_with_place(event: Event, names: Mapping[int, str], studio: Studio) -> Told:
    told = _told(event, names, studio)
    if event.subject in NAMED and event.subject != "operation":
        told = _after_verb(told, names.get(event.subject_id, f"{told.subject} {event.subject_id}"))
    thing = event.panel or event.job
    if thing is None:
        return told
    return replace(told, where=str(thing), address=thing.get_absolute_url())


def _after_verb(told: Told, name: str) -> Told:
    """The verb with the name in its place: “changed hours of Mara”, but “Mara added”."""
    if told.verb.rsplit(" ", 1)[-1] in ("of", "to", "from", "account"):
        return replace(told, subject="", verb=f"{told.verb[:1].upper()}{told.verb[1:]} {name}")
    return replace(told, subject=name)


def _told(event: Event, names: Mapping[int, str], studio: Studio) -> Told:
    account = event.account
    if event.person is not None:
        who = event.person.name
    else:
        who = (
            (account.get_full_name() or account.username) if account else event.after.get("by", "the studio")
        )
    return Told(event.at, who, _subject(event, names), event.verb, tuple(_changes(event, studio)), event.why)


def _subject(event: Event, names: Mapping[int, str]) -> str:
    of = f" of {event.panel.name}" if event.panel else ""
    match event.subject:
        case "operation":
            return names.get(event.subject_id, "Work") + of
        case "panel":
            return event.panel.name if event.panel else str(event.before.get("name", "Panel"))
        case "gate":
            return str(event.after.get("gate") or event.before.get("gate") or "Gate").capitalize()
        case "timeentry":
            return "Hours" + of
        case "drawingapproval":
            return "Drawing" + of
        case "daychange":
            return str(event.after.get("change") or event.before.get("change")).capitalize()
        case "customerlink":
            return "Link of the customer's page"
    return _called(event.subject).capitalize() + of


def _called(subject: str) -> str:
    """What a kind of row is called; of one that there is no more, as it was."""
    try:
        return str(apps.get_model("jobs", subject)._meta.verbose_name)
    except LookupError:
        return subject


def _changes(event: Event, studio: Studio) -> Iterable[Change]:
    for key in dict.fromkeys([*event.before, *event.after]):
        if key in UNTOLD or (event.after.get(key) is None and key not in event.before):
            continue
        if key == "pieces" and not event.before.get(key) and not event.after.get(key):
            continue  # Work that is not counted by the piece.
        before = _shown(key, event.before[key], studio) if key in event.before else ""
        after = _shown(key, event.after[key], studio) if key in event.after else ""
        if before != after:
            yield Change(WORDS.get(key, key.replace("_", " ")), before, after)


def _shown(key: str, value: Any, studio: Studio) -> str:
    match value:
        case None | "" | []:
            return "none"
        case bool():
            return "yes" if value else "no"
        case int() if key in MINUTES:
            return format_hours(value, studio.hours)
        case str() | float() if key in SHARES:
            return percent(float(value))
        case list():
            return ", ".join(str(item) for item in value)
        case str() if key.endswith("_mm"):
            try:
                return format_length(Decimal(value), studio.units)
            except InvalidOperation:
                return value
        case str() if len(value) >= 10 and value[4:5] == "-":
            return _time(value)
        case str() if key == "what":
            return in_units(value, studio.units)
    return str(value)


def _time(value: str) -> str:
    try:
        if len(value) == 10:
            return day(date.fromisoformat(value))
        moment = timezone.localtime(datetime.fromisoformat(value))
    except ValueError:
        return value
    return f"{day(moment)}, {clock(moment)}"
