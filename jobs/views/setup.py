"""Set-up: the overview, the studio itself, and its stations."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from jobs.actions import closed_days, studios
from jobs.actions import stations as verbs
from jobs.forms.setup import NewStationForm, StationForm, StudioForm
from jobs.forms.workshops import ask_workshop, asked_workshop
from jobs.models import Account, ClosedDay, Customer, OperationKind, Person, Route, Shift, Station, Studio
from jobs.models.scope import scope
from jobs.views.access import set_up_only
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out
from jobs.views.workshops import workshop_key, workshop_of, workshops_of


@require_GET
@set_up_only
def overview(request: StudioRequest) -> HttpResponse:
    today = request.now.astimezone(request.studio.zone).date()
    with_hours = Shift.objects.values("person")
    workshop = workshop_key(request)
    people = scope(Person.objects.filter(active=True), workshop)
    stations = scope(Station.objects.filter(active=True), workshop)
    return render(
        request,
        "setup/overview.html",
        {
            "people": people.count(),
            "without_hours": people.exclude(pk__in=with_hours),
            "without_skills": people.filter(skills__isnull=True),
            "stations": stations.count(),
            "unmanned": stations.exclude(people__active=True),
            "closed": ClosedDay.objects.filter(day__gte=today).count(),
            "next_closed": ClosedDay.objects.filter(day__gte=today).first(),
            "accounts": Account.objects.filter(is_active=True).count(),
            "kinds": OperationKind.objects.count(),
            "routes": Route.objects.filter(active=True).count(),
            "customers": Customer.objects.count(),
        },
    )


@require_http_methods(["GET", "POST"])
@set_up_only
def studio(request: StudioRequest) -> HttpResponse:
    current = Studio.current()
    form = StudioForm(
        request.POST if request.method == "POST" else None,
        instance=current,
        countries=closed_days.countries(),
        regions=closed_days.regions(request.POST.get("country", current.country)),
    )
    if request.method == "POST" and carried_out(
        form, lambda: studios.change_studio(form.cleaned_data, by=request.actor, at=request.now)
    ):
        messages.success(request, "Saved.")
        return redirect("set-up-studio")
    return render(request, "setup/studio.html", {"form": form}, status=422 if form.is_bound else 200)


def _stations_page(
    request: StudioRequest, typed: StationForm | None = None, new: NewStationForm | None = None
) -> HttpResponse:
    """The list; `typed` or `new` is the form that was refused."""
    rows = []
    for station in scope(Station.objects.prefetch_related("people", "kinds"), workshop_key(request)):
        auto_id = f"station-{station.pk}-%s"
        if typed is not None and typed.auto_id == auto_id:
            form = typed
        else:
            form = _form(request, StationForm(initial=_initial(station), auto_id=auto_id))
        people = [person for person in station.people.all() if person.active]
        rows.append({"station": station, "form": form, "people": people})
    context: dict[str, Any] = {"rows": rows, "new": new or _form(request, NewStationForm(auto_id="new-%s"))}
    return render(request, "setup/stations.html", context, status=422 if typed or new else 200)


def _form(request: StudioRequest, form: StationForm | NewStationForm) -> Any:
    ask_workshop(form, workshops_of(request), workshop_of(request))
    return form


def _initial(station: Station) -> dict[str, Any]:
    return {name: getattr(station, "workshop_id" if name == "workshop" else name) for name in verbs.FIELDS}


@require_http_methods(["GET", "POST"])
@set_up_only
def station_list(request: StudioRequest) -> HttpResponse:
    if request.method != "POST":
        return _stations_page(request)
    form = _form(request, NewStationForm(request.POST, auto_id="new-%s"))
    if not carried_out(
        form,
        lambda: verbs.add_station(
            **form.cleaned_data | asked_workshop(form, workshops_of(request)),
            by=request.actor,
            at=request.now,
        ),
    ):
        return _stations_page(request, new=form)
    messages.success(request, f"{form.cleaned_data['name']} is a station now; say which people work there.")
    return redirect("set-up-stations")


@require_POST
@set_up_only
def station_change(request: StudioRequest, pk: int) -> HttpResponse:
    station = get_object_or_404(Station, pk=pk)
    form = _form(request, StationForm(request.POST, initial=_initial(station), auto_id=f"station-{pk}-%s"))
    if not carried_out(
        form, lambda: verbs.change_station(station, form.cleaned_data, by=request.actor, at=request.now)
    ):
        return _stations_page(request, typed=form)
    messages.success(request, f"{form.cleaned_data['name']} is saved.")
    return redirect("set-up-stations")
