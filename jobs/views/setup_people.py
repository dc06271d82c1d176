"""Set-up: the people, their skills and their hours."""

from collections.abc import Callable
from datetime import date
from typing import Any

from django.contrib import messages
from django.db.models import Prefetch, Q, QuerySet
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from jobs.actions import Refused, people
from jobs.forms.setup import (
    DayOffForm,
    ExtraHoursForm,
    NewPersonForm,
    PersonForm,
    PinForm,
    SkillsForm,
    WeekForm,
)
from jobs.forms.workshops import ask_workshop, asked_workshop
from jobs.models import DayOff, ExtraHours, Person, Skill, Station
from jobs.models.scope import scope
from jobs.views.access import set_up_only
from jobs.views.history import history_about
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out
from jobs.views.week import week_picture
from jobs.views.workshops import workshop_key, workshop_of, workshops_of


def _today(request: StudioRequest) -> date:
    return request.now.astimezone(request.studio.zone).date()


@require_http_methods(["GET", "POST"])
@set_up_only
def person_list(request: StudioRequest) -> HttpResponse:
    form = NewPersonForm(request.POST if request.method == "POST" else None)
    ask_workshop(form, workshops_of(request), workshop_of(request))
    made: list[Person] = []
    if request.method == "POST" and carried_out(
        form,
        lambda: made.append(
            people.add_person(
                form.cleaned_data["name"],
                **asked_workshop(form, workshops_of(request)),
                by=request.actor,
                at=request.now,
            )
        ),
    ):
        messages.success(request, f"{made[0].name} is in. Now the hours and the skills.")
        return redirect("set-up-person", made[0].pk)
    coming = DayOff.objects.filter(last__gte=_today(request))
    rows = [
        {"person": person, "week": week_picture(person.shifts.all())}
        for person in rows_of(request).prefetch_related(
            "shifts",
            Prefetch("skills", Skill.objects.select_related("station")),
            Prefetch("days_off", coming, to_attr="coming_off"),
        )
    ]
    context = {"rows": rows, "form": form}
    return render(request, "setup/people.html", context, status=422 if request.method == "POST" else 200)


def rows_of(request: StudioRequest) -> QuerySet[Person]:
    found = scope(Person.objects.order_by("-active", "name"), workshop_key(request))
    return found.select_related("workshop") if workshops_of(request) else found


def _person_form(request: StudioRequest, person: Person, data: Any = None) -> PersonForm:
    form = PersonForm(
        data, initial={"name": person.name, "hourly_cost": person.hourly_cost, "active": person.active}
    )
    rows = workshops_of(request)
    ask_workshop(form, rows, person.workshop if rows else None)
    return form


def _person_page(
    request: StudioRequest, person: Person, name: str = "", form: Form | None = None
) -> HttpResponse:
    """The page of one person; `form` is the one that was refused, and `name` says which of them it is."""
    person = Person.objects.prefetch_related("shifts", "skills__station").get(pk=person.pk)
    today = _today(request)
    forms = {
        "person_form": _person_form(request, person),
        "pin_form": PinForm(auto_id="pin-%s"),
        "skills_form": _skills_form(person, initial=SkillsForm.of(person)),
        "week_form": WeekForm(initial=WeekForm.of(person.shifts.all()), auto_id="week-%s"),
        "day_off_form": DayOffForm(auto_id="off-%s"),
        "extra_form": ExtraHoursForm(auto_id="extra-%s"),
    }
    if form is not None:
        forms[name] = form
    context = forms | {
        "person": person,
        **_history(request, person),
        "week": week_picture(person.shifts.all()),
        "days_off": person.days_off.filter(last__gte=today),
        "past_days_off": person.days_off.filter(last__lt=today).count(),
        "extra_hours": person.extra_hours.filter(day__gte=today),
    }
    return render(request, "setup/person.html", context, status=422 if form is not None else 200)


def _history(request: StudioRequest, person: Person) -> dict[str, Any]:
    address = reverse("set-up-person", args=[person.pk])
    return history_about(person, address, request.studio, whole=request.GET.get("history") == "all")


def _skills_form(person: Person, *args: Any, **kwargs: Any) -> SkillsForm:
    # A skill at a station out of use is shown as well, so that saving the form does not forget it.
    stations = Station.objects.filter(Q(active=True) | Q(skills__person=person)).distinct()
    stations = scope(stations, person.workshop_id)
    return SkillsForm(*args, stations=list(stations), auto_id="skill-%s", **kwargs)


def _change(
    request: StudioRequest, person: Person, name: str, form: Form, action: Callable[[], object], said: str
) -> HttpResponse:
    if not carried_out(form, action):
        return _person_page(request, person, name, form)
    messages.success(request, said)
    return redirect("set-up-person", person.pk)


@require_http_methods(["GET", "POST"])
@set_up_only
def person_page(request: StudioRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk)
    if request.method != "POST":
        return _person_page(request, person)
    form = _person_form(request, person, request.POST)

    def change() -> None:
        people.change_person(person, form.cleaned_data, by=request.actor, at=request.now)

    return _change(request, person, "person_form", form, change, "Saved.")


@require_POST
@set_up_only
def person_pin(request: StudioRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk)
    form = PinForm(request.POST, auto_id="pin-%s")

    def change() -> None:
        people.set_pin(person, form.cleaned_data["pin"], by=request.actor, at=request.now)

    said = "The PIN is set." if request.POST.get("pin") else "No PIN is asked any more."
    return _change(request, person, "pin_form", form, change, said)


@require_POST
@set_up_only
def person_skills(request: StudioRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk)
    form = _skills_form(person, request.POST)

    def change() -> None:
        people.set_skills(person, form.paces(), by=request.actor, at=request.now)

    return _change(request, person, "skills_form", form, change, "The skills are saved.")


@require_POST
@set_up_only
def person_week(request: StudioRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk)
    form = WeekForm(request.POST, auto_id="week-%s")

    def change() -> None:
        people.set_week(person, form.week, by=request.actor, at=request.now)

    return _change(request, person, "week_form", form, change, "The weekly hours are saved.")


@require_POST
@set_up_only
def person_day_off(request: StudioRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk)
    form = DayOffForm(request.POST, auto_id="off-%s")

    def change() -> None:
        people.add_day_off(person, **form.cleaned_data, by=request.actor, at=request.now)

    return _change(request, person, "day_off_form", form, change, "The days off are in.")


@require_POST
@set_up_only
def person_day_off_remove(request: StudioRequest, pk: int, off: int) -> HttpResponse:
    row = get_object_or_404(DayOff.objects.select_related("person"), pk=off, person=pk)
    return _removed(request, pk, lambda: people.remove_day_off(row, by=request.actor, at=request.now))


@require_POST
@set_up_only
def person_extra_hours(request: StudioRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk)
    form = ExtraHoursForm(request.POST, auto_id="extra-%s")

    def change() -> None:
        people.add_extra_hours(person, **form.cleaned_data, by=request.actor, at=request.now)

    return _change(request, person, "extra_form", form, change, "The extra hours are in.")


@require_POST
@set_up_only
def person_extra_hours_remove(request: StudioRequest, pk: int, extra: int) -> HttpResponse:
    row = get_object_or_404(ExtraHours.objects.select_related("person"), pk=extra, person=pk)
    return _removed(request, pk, lambda: people.remove_extra_hours(row, by=request.actor, at=request.now))


def _removed(request: StudioRequest, person: int, action: Callable[[], object]) -> HttpResponse:
    try:
        action()
    except Refused as refused:
        messages.warning(request, refused.sentence)
    else:
        messages.success(request, "Removed.")
    return redirect("set-up-person", person)
