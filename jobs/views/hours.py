"""The lead's page of hours: timers left on, hours by day and person, and hours written down or set right."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import Actor, Refused, hours
from jobs.forms.bench import AnswerForm
from jobs.forms.hours import CorrectForm, LeadWrittenForm, TakeBackForm, WrittenForm, moment
from jobs.forms.workshops import narrow
from jobs.models import Operation, Person, TimeEntry
from jobs.models.bench import loggable_names, read_timers
from jobs.models.scope import scope
from jobs.models.sheets import WEEK, monday_of
from jobs.models.working import LONGEST
from jobs.views.access import hours_only
from jobs.views.middleware import StudioRequest
from jobs.views.tablet import SeeOther
from jobs.views.workshops import workshop_key

MOST_NAMES = 600


@dataclass(slots=True)
class PersonDay:
    """What one person has written down on one day."""

    person: Person
    entries: list[TimeEntry] = field(default_factory=list)

    @property
    def minutes(self) -> int:
        return sum(entry.minutes or 0 for entry in self.entries if counts(entry))


@dataclass(slots=True)
class Day:
    day: date
    people: list[PersonDay] = field(default_factory=list)


def counts(entry: TimeEntry) -> bool:
    return entry.voided_at is None and not entry.questioned


@require_safe
@hours_only
def hours_page(request: StudioRequest) -> HttpResponse:
    return _page(request)


@require_POST
@hours_only
def hours_write(request: StudioRequest) -> HttpResponse:
    """Write hours down for somebody."""
    form = _for_own(LeadWrittenForm(request.POST, auto_id="write-%s"), request)
    if form.is_valid():
        who = told(form, request.actor, request.now)
        try:
            entry = write(form, form.cleaned_data["work"], form.cleaned_data["person"], who)
        except Refused as refusal:
            refuse(form, refusal, {"operation": "work"})
        else:
            messages.success(request, f"Written down for {entry.person}.")
            return _back(request, entry)
    return _page(request, write_form=form, status=422)


@require_POST
@hours_only
def hours_answer(request: StudioRequest, pk: int) -> HttpResponse:
    """Answer for somebody who left a timer on."""
    entry = get_object_or_404(TimeEntry, pk=pk)
    form = AnswerForm(request.POST, auto_id=f"answer-{pk}-%s")

    def act(who: dict[str, Any]) -> TimeEntry:
        return hours.answer(entry, answered(form, entry, request.now), **who)

    return _change(request, entry, form, act, "answer")


@require_POST
@hours_only
def hours_correct(request: StudioRequest, pk: int) -> HttpResponse:
    entry = get_object_or_404(TimeEntry, pk=pk)
    form = CorrectForm(request.POST, auto_id=f"correct-{pk}-%s")
    return _change(request, entry, form, lambda who: correct(form, entry, who), "correct")


@require_POST
@hours_only
def hours_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    entry = get_object_or_404(TimeEntry, pk=pk)
    form = TakeBackForm(request.POST, auto_id=f"take-back-{pk}-%s")
    return _change(
        request,
        entry,
        form,
        lambda who: hours.take_back(entry, reason=form.cleaned_data["reason"], **who),
        "take-back",
    )


def _change(
    request: StudioRequest,
    entry: TimeEntry,
    form: Any,
    act: Callable[[dict[str, Any]], TimeEntry],
    verb: str,
) -> HttpResponse:
    if form.is_valid():
        try:
            return _back(request, act(told(form, request.actor, request.now)))
        except Refused as refusal:
            refuse(form, refusal)
    return _page(request, change=entry, forms={verb: form}, status=422)


def _back(request: StudioRequest, entry: TimeEntry) -> HttpResponse:
    asked = {"day": entry.started_at.astimezone(request.studio.zone).date().isoformat()}
    if request.GET.get("person", "").isdecimal():
        asked["person"] = request.GET["person"]
    return SeeOther(f"{reverse('hours')}?{urlencode(asked)}")


def _page(
    request: StudioRequest,
    *,
    write_form: Form | None = None,
    change: TimeEntry | None = None,
    forms: dict[str, Any] | None = None,
    status: int = 200,
) -> HttpResponse:
    """The week that is asked for, with one entry's forms open where that was asked for."""
    today = request.now.astimezone(request.studio.zone).date()
    chosen = change.started_at.astimezone(request.studio.zone).date() if change else None
    monday = monday_of(chosen or day_asked(request.GET.get("day"), today))
    workshop = workshop_key(request)
    person = request.GET.get("person", "")
    rows = entries_between(monday, monday + WEEK, request)
    if person.isdecimal():
        rows = rows.filter(person=int(person[:9]))
    entries = list(rows)
    if change is None and request.GET.get("change", "").isdecimal():
        change = next((entry for entry in entries if entry.pk == int(request.GET["change"][:18])), None)
    asked = f"&person={person}" if person.isdecimal() else ""
    context = {
        "days": by_day(entries, request),
        "totals": _totals(entries),
        "monday": monday,
        "sunday": monday + WEEK - timedelta(days=1),
        "before": f"?day={monday - WEEK}{asked}",
        "after": f"?day={monday + WEEK}{asked}" if monday + WEEK <= today else "",
        "keeps": f"day={monday}{asked}",
        "people": scope(Person.objects.filter(active=True), workshop),
        "chosen": int(person[:9]) if person.isdecimal() else None,
        "left_on": _left_on(request, change, forms or {}),
        "write_form": write_form
        or _for_own(LeadWrittenForm(initial={"day": today}, auto_id="write-%s"), request),
        "works": loggable_names(request.now, MOST_NAMES, workshop),
        "change": change,
        "forms": forms_of(change, request, forms or {}),
    }
    return render(request, "hours.html", context, status=status)


def _for_own(form: LeadWrittenForm, request: StudioRequest) -> LeadWrittenForm:
    narrow(form, workshop_key(request))
    return form


def _left_on(request: StudioRequest, change: TimeEntry | None, forms: dict[str, Any]) -> list[dict[str, Any]]:
    """The timers that nobody has answered for: the entry, when it should have stopped, and a form to say so."""
    workshop = workshop_key(request)
    running = [
        timer
        for timer in read_timers(request.now, request.studio)
        if timer.left_on_since and workshop in (None, timer.entry.person.workshop_id)
    ]
    found = [(timer.entry, timer.left_on_since) for timer in running]
    questioned = scope(TimeEntry.objects.valid().filter(questioned=True), workshop)
    rows = questioned.select_related("person", "operation__kind", "operation__panel__job", "operation__job")
    found += [(entry, entry.stopped_at) for entry in rows.defer("operation__panel__drawing")]
    lines = []
    for entry, stop in found:
        assert stop is not None
        local = stop.astimezone(request.studio.zone)
        typed = forms.get("answer") if change and change.pk == entry.pk else None
        empty = AnswerForm(
            initial={"day": local.date(), "time": local.time()}, auto_id=f"answer-{entry.pk}-%s"
        )
        ends = stop - entry.started_at < LONGEST
        lines.append({"entry": entry, "stop": stop if ends else None, "form": typed or empty})
    return lines


def entries_between(first: date, last: date, request: StudioRequest) -> Any:
    """The entries that started from one local day up to another, without it, corrected ones too."""
    zone = request.studio.zone
    start, stop = (datetime.combine(day, time(), zone) for day in (first, last))
    # Naming the people lets the index of a person's entries serve it, whatever the history.
    people = list(scope(Person.objects.all(), workshop_key(request)).values_list("pk", flat=True))
    return (
        TimeEntry.objects.filter(person__in=people, started_at__gte=start, started_at__lt=stop)
        .select_related(
            "person", "operation__kind__station", "operation__panel__job", "operation__job", "corrects"
        )
        .defer("operation__panel__drawing")
        .order_by("started_at", "pk")
    )


def by_day(entries: Iterable[TimeEntry], request: StudioRequest) -> list[Day]:
    """Entries by day, the last day first, and by person within it."""
    found: dict[date, dict[int, PersonDay]] = {}
    for entry in entries:
        people = found.setdefault(entry.started_at.astimezone(request.studio.zone).date(), {})
        people.setdefault(entry.person_id, PersonDay(entry.person)).entries.append(entry)
    return [
        Day(day, sorted(people.values(), key=lambda row: row.person.name))
        for day, people in sorted(found.items(), reverse=True)
    ]


def _totals(entries: Iterable[TimeEntry]) -> list[PersonDay]:
    people: dict[int, PersonDay] = {}
    for entry in entries:
        people.setdefault(entry.person_id, PersonDay(entry.person)).entries.append(entry)
    return sorted(people.values(), key=lambda row: row.person.name)


def day_asked(text: str | None, today: date) -> date:
    """The day that an address asks for; today where it is none, or far away."""
    try:
        day = date.fromisoformat(text or "")
    except ValueError:
        return today
    return day if date(1990, 1, 1) <= day <= date(2200, 1, 1) else today


def told(form: Form, by: Actor, at: datetime) -> dict[str, Any]:
    """What every action is told of a form: who, when, and the tap's own id."""
    return {"by": by, "at": at, "client_id": form.cleaned_data["client_id"]}


def refuse(form: Form, refusal: Refused, names: dict[str, str] | None = None) -> None:
    """Put a refusal beside the field that it is about, where the form has that one."""
    name = (names or {}).get(refusal.field or "", refusal.field)
    form.add_error(name if name in form.fields else None, refusal.sentence)


def write(form: WrittenForm, operation: Operation, person: Person, who: dict[str, Any]) -> TimeEntry:
    """Hours as they were typed: from one time to another, or an amount on a day."""
    typed = form.cleaned_data
    rest = {name: typed[name] for name in ("note", "allow", "reason") if name in typed} | who
    if "start_at" in typed:
        return hours.log_span(operation, person, typed["start_at"], typed["stop_at"], **rest)
    return hours.log_hours(operation, person, typed["day"], typed["hours"], **rest)


def correct(form: CorrectForm, entry: TimeEntry, who: dict[str, Any]) -> TimeEntry:
    typed = form.cleaned_data
    return hours.correct(entry, typed["start_at"], typed["stop_at"], reason=typed["reason"], **who)


def answered(form: Form, entry: TimeEntry, at: datetime) -> datetime:
    """The time that an answer given at `at` stands for."""
    if form.cleaned_data["when"] == AnswerForm.NOW:
        return at
    if form.cleaned_data["when"] == AnswerForm.END:
        return hours.proposed_stop(entry, at)
    try:
        return moment(form.cleaned_data["day"], form.cleaned_data["time"])
    except ValidationError as error:
        raise Refused("Clocks change at that time: type another one.", "time") from error


def forms_of(entry: TimeEntry | None, request: StudioRequest, typed: dict[str, Any]) -> dict[str, Any]:
    """The forms that change an entry: as they were typed, or as it is."""
    if entry is None:
        return {}
    zone = request.studio.zone
    start = entry.started_at.astimezone(zone)
    stop = entry.stopped_at.astimezone(zone).time() if entry.stopped_at else None
    initial = {"day": start.date(), "start": start.time(), "stop": stop}
    return {
        "correct": typed.get("correct") or CorrectForm(initial=initial, auto_id=f"correct-{entry.pk}-%s"),
        "take_back": typed.get("take-back") or TakeBackForm(auto_id=f"take-back-{entry.pk}-%s"),
    }
