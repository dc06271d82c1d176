"""A person's own hours at a bench: today's and yesterday's, to look at, to add to and to set right."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.actions import Refused, hours, weeks
from jobs.forms.hours import BenchWrittenForm, ConfirmForm, CorrectForm, TakeBackForm
from jobs.models import Person, Station, TimeEntry
from jobs.models.bench import loggable
from jobs.models.sheets import PersonDay, PersonWeek, monday_of, read_day, read_week
from jobs.views import tablet
from jobs.views.access import at_the_bench
from jobs.views.bench import render_bench
from jobs.views.hours import by_day, correct, day_asked, entries_between, forms_of, refuse, told, write
from jobs.views.middleware import StudioRequest
from jobs.views.tablet import SeeOther
from jobs.views.weeks import sheet_paper

DAY = timedelta(days=1)


@require_http_methods(["GET", "HEAD", "POST"])
@at_the_bench
def bench_hours(request: StudioRequest, slug: str) -> HttpResponse:
    """The person's hours; a post writes some down."""
    station, person = _who(request, slug)
    if person is None:
        return _to_names(request, station)
    if request.GET.get("of", str(person.pk)) != str(person.pk):
        # A link to the hours of whoever was here before.
        return SeeOther(reverse("bench", args=[station.slug]))
    if request.method != "POST":
        return _page(request, station, person)
    form = BenchWrittenForm(request.POST, operations=_works(request, station), auto_id="write-%s")
    if form.is_valid():
        who = told(form, tablet.actor(request, person), request.now)
        try:
            write(form, form.cleaned_data["operation"], person, who)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, _("Written down."))
            if request.htmx:
                return _page(request, station, person)
            return SeeOther(reverse("bench-hours", args=[station.slug]))
    return _page(request, station, person, write_form=form, status=422)


@require_safe
@at_the_bench
def bench_hours_sheet(request: StudioRequest, slug: str) -> HttpResponse:
    """The person's own weekly hours sheet as PDF, of this week or of that with `day`; nobody else's."""
    station, person = _who(request, slug)
    if person is None:
        return _to_names(request, station)
    today = request.now.astimezone(request.studio.zone).date()
    monday = monday_of(day_asked(request.GET.get("day", ""), today))
    response = sheet_paper(request, read_week(monday, request.now, request.studio, person), person)
    response.headers["Cache-Control"] = "no-store"
    return response


@require_POST
@at_the_bench
def bench_hours_correct(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    form = CorrectForm(request.POST, auto_id=f"correct-{pk}-%s")

    def act(entry: TimeEntry, who: dict[str, Any]) -> None:
        correct(form, entry, who)

    return _change(request, slug, pk, form, act, "correct")


@require_POST
@at_the_bench
def bench_hours_take_back(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    form = TakeBackForm(request.POST, auto_id=f"take-back-{pk}-%s")

    def act(entry: TimeEntry, who: dict[str, Any]) -> None:
        hours.take_back(entry, reason=form.cleaned_data["reason"], **who)

    return _change(request, slug, pk, form, act, "take-back")


@require_POST
@at_the_bench
def bench_hours_confirm(request: StudioRequest, slug: str) -> HttpResponse:
    """The person says that a day is right."""
    station, person = _who(request, slug)
    if person is None:
        return _to_names(request, station)
    form = ConfirmForm(request.POST)
    if not form.is_valid():
        return _page(request, station, person, refusal=_("That is no day. Open the page again."), status=422)
    try:
        weeks.confirm_day(
            person, form.cleaned_data["day"], **told(form, tablet.actor(request, person), request.now)
        )
    except Refused as refusal:
        return _page(request, station, person, refusal=refusal.sentence, status=422)
    messages.success(request, _("Thank you: that day is confirmed."))
    return SeeOther(reverse("bench-hours", args=[station.slug]))


def _change(
    request: StudioRequest,
    slug: str,
    pk: int,
    form: Any,
    act: Callable[[TimeEntry, dict[str, Any]], None],
    verb: str,
) -> HttpResponse:
    station, person = _who(request, slug)
    if person is None:
        return _to_names(request, station)
    entry = get_object_or_404(TimeEntry, pk=pk, person=person)
    if form.is_valid():
        try:
            act(entry, told(form, tablet.actor(request, person), request.now))
        except Refused as refusal:
            refuse(form, refusal)
        else:
            return SeeOther(reverse("bench-hours", args=[station.slug]))
    return _page(request, station, person, change=entry, forms={verb: form}, status=422)


def _who(request: StudioRequest, slug: str) -> tuple[Station, Person | None]:
    return get_object_or_404(Station, slug=slug, active=True), tablet.person_of(request)


def _to_names(request: StudioRequest, station: Station) -> HttpResponse:
    messages.warning(request, _("Tap your name first."))
    return SeeOther(reverse("bench", args=[station.slug]))


def _works(request: StudioRequest, station: Station) -> Any:
    return loggable(request.now).filter(kind__station=station)


def _page(
    request: StudioRequest,
    station: Station,
    person: Person,
    *,
    write_form: BenchWrittenForm | None = None,
    change: TimeEntry | None = None,
    forms: dict[str, Any] | None = None,
    refusal: str = "",
    status: int = 200,
) -> HttpResponse:
    today = request.now.astimezone(request.studio.zone).date()
    week = read_week(monday_of(today), request.now, request.studio, person).people[0]
    entries = list(entries_between(today - DAY, today + DAY, request).filter(person=person))
    if change is None and request.GET.get("change", "").isdecimal():
        change = next((entry for entry in entries if entry.pk == int(request.GET["change"][:18])), None)
    empty = BenchWrittenForm(initial={"day": today}, operations=_works(request, station), auto_id="write-%s")
    context = {
        "mode": "hours",
        "hours_shown": True,
        "person": person,
        "days": by_day(entries, request),
        "ends": _ends(week, today, request),
        "week": week,
        "refusal": refusal,
        "today": today,
        "week_before": today - 7 * DAY,
        "write_form": write_form or empty,
        "change": change,
        "forms": forms_of(change, request, forms or {}),
    }
    return render_bench(request, station, context, status)


def _ends(week: PersonWeek, today: date, request: StudioRequest) -> list[PersonDay]:
    """Today and the day before, where the person should have worked or has; on a Monday that is in the week before."""
    number = today.weekday()
    before = (
        week.days[number - 1] if number else read_day(week.person, today - DAY, request.now, request.studio)
    )
    return [day for day in (week.days[number], before) if day.minutes or day.due or day.running]
