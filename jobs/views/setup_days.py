"""Set-up: the days on which the studio is closed."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from jobs.actions import Refused, closed_days
from jobs.forms.setup import ClosedDayForm, HolidaysForm
from jobs.models import ClosedDay
from jobs.views.access import set_up_only
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out


def _page(request: StudioRequest, form: ClosedDayForm | None = None) -> HttpResponse:
    studio, today = request.studio, request.now.astimezone(request.studio.zone).date()
    country = closed_days.countries().get(studio.country, "")
    context: dict[str, Any] = {
        "days": ClosedDay.objects.filter(day__year__gte=today.year),
        "past": ClosedDay.objects.filter(day__year__lt=today.year).order_by("-day"),
        "today": today,
        "form": form or ClosedDayForm(),
        "years": [today.year, today.year + 1],
        "region": f"{country} ({studio.region})" if studio.region else country,
    }
    return render(request, "setup/closed_days.html", context, status=422 if form else 200)


@require_http_methods(["GET", "POST"])
@set_up_only
def closed_day_list(request: StudioRequest) -> HttpResponse:
    if request.method != "POST":
        return _page(request)
    form = ClosedDayForm(request.POST)

    def close() -> None:
        day = form.cleaned_data["day"], form.cleaned_data["name"]
        closed_days.add_closed_days([day], by=request.actor, at=request.now)

    if not carried_out(form, close):
        return _page(request, form)
    messages.success(request, "The studio is closed on that day.")
    return redirect("set-up-closed-days")


@require_POST
@set_up_only
def closed_day_remove(request: StudioRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(ClosedDay, pk=pk)
    try:
        closed_days.remove_closed_day(row, by=request.actor, at=request.now)
    except Refused as refused:
        messages.warning(request, refused.sentence)
    else:
        messages.success(request, "The studio works on that day.")
    return redirect("set-up-closed-days")


@require_http_methods(["GET", "POST"])
@set_up_only
def public_holidays(request: StudioRequest, year: int) -> HttpResponse:
    """The holidays of a year to choose from; those that are closed already are not offered again."""
    studio = request.studio
    try:
        found = closed_days.public_holidays(studio.country, studio.region, year)
    except Refused as refused:
        messages.warning(request, refused.sentence)
        return redirect("set-up-closed-days")
    closed = set(ClosedDay.objects.filter(day__year=year).values_list("day", flat=True))
    form = HolidaysForm(
        request.POST if request.method == "POST" else None,
        found=[row for row in found if row[0] not in closed],
    )

    def close() -> None:
        closed_days.add_closed_days(form.chosen(), by=request.actor, at=request.now)

    if request.method == "POST" and carried_out(form, close):
        messages.success(request, f"Closed on {len(form.chosen())} more days of {year}.")
        return redirect("set-up-closed-days")
    chosen = set(request.POST.getlist("days")) if request.method == "POST" else set(form.found)
    offered = [
        {"key": key, "day": day, "name": name, "ticked": key in chosen}
        for key, (day, name) in form.found.items()
    ]
    context = {
        "form": form,
        "year": year,
        "offered": offered,
        "known": [row for row in found if row[0] in closed],
        "country": closed_days.countries()[studio.country],
    }
    return render(request, "setup/holidays.html", context, status=422 if request.method == "POST" else 200)
