"""What all actions share: who acts, how they refuse, and what they leave behind."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import F
from django.utils.translation import gettext, override

from jobs.models import Account, Event, Job, May, Operation, OperationKind, Panel, Person, PlanState, Station
from jobs.models.shipped import named
from jobs.planning.readiness import Reason


class Refused(Exception):
    """A rule of the studio says no. `sentence` tells the person why; `field` is what was typed wrong, if anything.

    The sentence is given in English, with `values` for what it names: %(work)s, say. It is told in the language that
    is spoken where it is read; `in_english` is what is written down. Its own text is English too.
    """

    def __init__(self, sentence: str, field: str | None = None, **values: object) -> None:
        self.words = sentence
        self.values = values
        self.field = field
        super().__init__(self.in_english)

    @property
    def sentence(self) -> str:
        said = gettext(self.words)
        return said % {name: _said(value) for name, value in self.values.items()} if self.values else said

    @property
    def in_english(self) -> str:
        with override("en"):
            return self.sentence


def said_of(reason: str) -> str:
    """A reason of the planner's rule (planning.readiness.Reason), or any other sentence, in the language spoken."""
    if not isinstance(reason, Reason):
        return gettext(reason)
    values = {
        name: _looked_up(value) if isinstance(value, str) else _listed([_looked_up(one) for one in value])
        for name, value in reason.values.items()
    }
    return gettext(reason.words) % values if values else gettext(reason.words)


def _looked_up(name: str) -> str:
    """What a reason names: a work of the route, or a gate or a usual hold, which the catalog has as any text."""
    shown = named(name)
    return gettext(name) if shown == name else shown


def _listed(names: list[str]) -> str:
    if len(names) == 1:
        return names[0]
    return gettext("%(names)s and %(last)s") % {"names": ", ".join(names[:-1]), "last": names[-1]}


def refused_for(reasons: Iterable[str], field: str | None = None) -> Refused:
    """Refused for each of these reasons."""
    return Refused("%(reasons)s", field, reasons=lambda: " ".join(map(said_of, reasons)))


def _said(value: object) -> object:
    """What is named is told as the sentence is: a part of it in its language, a day or a time in its form."""
    if isinstance(value, Operation | OperationKind | Station):
        return named(value)
    return value() if callable(value) else value


@dataclass(frozen=True, slots=True)
class Actor:
    """Who does it: the account that is signed in, and the person at the bench where there is one."""

    account: Account | None = None
    person: Person | None = None

    @property
    def name(self) -> str:
        if self.person is not None:
            return self.person.name
        if self.account is not None:
            return self.account.get_full_name() or self.account.username
        return "the studio"

    def may(self, what: May) -> bool:
        return self.account is not None and self.account.may(what)

    @property
    def is_lead(self) -> bool:
        return self.account is not None and self.account.is_lead

    @property
    def is_office(self) -> bool:
        return self.account is not None and self.account.is_office


SYSTEM = Actor()


def record(
    verb: str,
    subject: models.Model,
    *,
    by: Actor,
    at: datetime,
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
    why: str = "",
) -> Event:
    """Write down a change. To be called in the transaction that makes it, before a deleted row is gone.

    `verb` is in the past tense and reads after the subject's name ("started", "promised", "held").
    """
    job, panel = _whose(subject)
    return Event.objects.create(
        at=at,
        account=by.account,
        person=by.person,
        verb=verb,
        subject=subject._meta.model_name or "",
        subject_id=subject.pk,
        job=job,
        panel=panel,
        before=_plain(before),
        after=_plain(after),
        why=why,
    )


def changes(row: models.Model, values: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """The values of `row` that `values` would change, before and after; both empty where nothing changes."""
    before = {name: getattr(row, name) for name, value in values.items() if getattr(row, name) != value}
    return before, {name: values[name] for name in before}


def put(row: models.Model, values: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Set `values` in the row, not saved yet; what that changes, before and after, both empty where it is nothing."""
    before, after = changes(row, values)
    for name, value in after.items():
        setattr(row, name, value)
    return before, after


def in_words(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B %Y}"


def save_changed(
    row: models.Model,
    values: Mapping[str, Any],
    bounds: Mapping[str, tuple[Any, Any, str]],
    *,
    by: Actor,
    at: datetime,
) -> None:
    """Save and record what `values` change of a locked row; nothing where nothing changes.

    `bounds`: the least and the most of a field, and what is said about anything else. Refused with the field's name.
    """
    before, after = changes(row, values)
    for name, value in after.items():
        low, high, sentence = bounds.get(name, (None, None, ""))
        if low is not None and value is not None and not low <= value <= high:
            raise Refused(sentence, name)
        setattr(row, name, value)
    if after:
        row.save(update_fields=list(after))
        record("changed", row, by=by, at=at, before=before, after=after)


def mark_out_of_date() -> None:
    """Tell that the dates were made from rows that have changed since. One statement, whatever the history."""
    if not PlanState.objects.filter(pk=1).update(revision=F("revision") + 1):
        PlanState.objects.get_or_create(pk=1)


def _whose(subject: models.Model) -> tuple[Job | None, Panel | None]:
    if isinstance(subject, Job):
        return subject, None
    if isinstance(subject, Panel):
        return subject.job, subject
    operation = subject if isinstance(subject, Operation) else getattr(subject, "operation", None)
    if operation is not None:
        return operation.job, operation.panel
    panel = getattr(subject, "panel", None)
    if panel is not None:
        return panel.job, panel
    return getattr(subject, "job", None), None


def _plain(values: Mapping[str, Any] | None) -> dict[str, Any]:
    return {name: _as_json(value) for name, value in (values or {}).items()}


def _as_json(value: Any) -> Any:
    match value:
        case datetime() | date():
            return value.isoformat()
        case Decimal():
            return str(value)
        case models.Model():
            return str(value)
        case None | bool() | int() | float() | str():
            return value
        case list() | tuple():
            return [_as_json(item) for item in value]
        case dict():
            return {str(key): _as_json(item) for key, item in value.items()}
    return str(value)
