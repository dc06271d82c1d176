"""The end of the week: hours of each person and day, what stands out, closing it; and the weekly hours sheet."""

from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import Refused, weeks
from jobs.documents.hours import hours_sheet as paper_of_hours
from jobs.models import Person
from jobs.models.scope import scope
from jobs.models.sheets import WEEK, Week, monday_of, read_week
from jobs.views.access import hours_only
from jobs.views.csv_out import csv_file, hours
from jobs.views.hours import day_asked
from jobs.views.middleware import StudioRequest
from jobs.views.papers import paper
from jobs.views.tablet import SeeOther
from jobs.views.workshops import workshop_key

DAY = timedelta(days=1)


@require_safe
@hours_only
def hours_week(request: StudioRequest) -> HttpResponse:
    """The week of everybody, a row a person and a column a day."""
    return _page(request, _asked(request.GET.get("day", ""), request))


@require_POST
@hours_only
def hours_week_close(request: StudioRequest) -> HttpResponse:
    monday = _asked(request.POST.get("day", ""), request)
    try:
        weeks.close_week(monday, by=request.actor, at=request.now)
    except Refused as refusal:
        return _page(request, monday, refusal=refusal.sentence, status=422)
    messages.success(request, "The week is closed. A change needs a reason from now on.")
    return SeeOther(f"{reverse('hours-week')}?{urlencode({'day': monday.isoformat()})}")


@require_safe
@hours_only
def hours_sheet(request: StudioRequest) -> HttpResponse:
    """The weekly hours sheet, of one person or of everybody: as a page, as CSV or as PDF."""
    monday = _asked(request.GET.get("day", ""), request)
    wanted = request.GET.get("person", "")
    own = scope(Person.objects.all(), workshop_key(request))
    person = get_object_or_404(own, pk=int(wanted[:9])) if wanted.isdecimal() else None
    week = _of_own(read_week(monday, request.now, request.studio, person), request)
    if request.GET.get("csv") == "1":
        return _csv(week)
    if request.GET.get("pdf") == "1":
        return sheet_paper(request, week, person)
    context = _around(monday, request) | {
        "week": week,
        "person": person,
        "everybody": scope(Person.objects.filter(active=True), workshop_key(request)),
    }
    return render(request, "hours_sheet.html", context)


def _of_own(week: Week, request: StudioRequest) -> Week:
    """The week of the people whom the reader sees."""
    workshop = workshop_key(request)
    week.people = [row for row in week.people if workshop in (None, row.person.workshop_id)]
    return week


def sheet_paper(request: StudioRequest, week: Week, person: Person | None) -> HttpResponse:
    """The sheet as PDF; `week` holds nobody else where it is for one person."""
    made = paper_of_hours(week, studio=request.studio, at=request.now, person=person)
    return paper(made, "hours", week.monday, person.name if person else "")


def _page(request: StudioRequest, monday: date, *, refusal: str = "", status: int = 200) -> HttpResponse:
    today = request.now.astimezone(request.studio.zone).date()
    context = _around(monday, request) | {
        "week": _of_own(read_week(monday, request.now, request.studio), request),
        "is_over": monday + WEEK <= today,
        "refusal": refusal,
    }
    return render(request, "hours_week.html", context, status=status)


def _around(monday: date, request: StudioRequest) -> dict[str, Any]:
    today = request.now.astimezone(request.studio.zone).date()
    return {
        "today": today,
        "monday": monday,
        "sunday": monday + WEEK - DAY,
        "before": monday - WEEK,
        "after": monday + WEEK if monday + WEEK <= today else None,
    }


def _asked(text: str, request: StudioRequest) -> date:
    """The Monday of the day in the address; of this week where there is none."""
    today = request.now.astimezone(request.studio.zone).date()
    return monday_of(day_asked(text, today))


def _csv(week: Week) -> HttpResponse:
    """A line a person and day: hours as written down, and as the sheet rounds them."""
    rows = [
        (row.person.name, day.day, hours(day.minutes), hours(day.rounded), "yes" if day.confirmed else "no")
        for row in week.people
        for day in row.days
    ]
    head = ("person", "day", "hours", "hours rounded", "confirmed")
    return csv_file(f"hours-{week.monday}", head, rows)
