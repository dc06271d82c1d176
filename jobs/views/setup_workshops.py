"""Set-up: the workshops under one roof."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from jobs.actions import workshops
from jobs.forms.workshops import NewWorkshopForm, WorkshopForm
from jobs.models import Workshop
from jobs.models.workshops import read_workshops
from jobs.views.access import set_up_only
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out


def _page(
    request: StudioRequest, typed: WorkshopForm | None = None, new: NewWorkshopForm | None = None
) -> HttpResponse:
    """The list; `typed` or `new` is the form that was refused."""
    rows = []
    for workshop in read_workshops():
        auto_id = f"workshop-{workshop.pk}-%s"
        initial = {name: getattr(workshop, name) for name in workshops.FIELDS}
        refused = typed if typed is not None and typed.auto_id == auto_id else None
        rows.append({"workshop": workshop, "form": refused or WorkshopForm(initial=initial, auto_id=auto_id)})
    context: dict[str, Any] = {"rows": rows, "new": new or NewWorkshopForm(auto_id="new-%s")}
    return render(request, "setup/workshops.html", context, status=422 if typed or new else 200)


@require_http_methods(["GET", "POST"])
@set_up_only
def workshop_list(request: StudioRequest) -> HttpResponse:
    if request.method != "POST":
        return _page(request)
    form = NewWorkshopForm(request.POST, auto_id="new-%s")
    if not carried_out(
        form,
        lambda: workshops.add_workshop(form.cleaned_data["name"], by=request.actor, at=request.now),
    ):
        return _page(request, new=form)
    messages.success(request, f"{form.cleaned_data['name']} is a workshop now; give it stations and people.")
    return redirect("set-up-workshops")


@require_POST
@set_up_only
def workshop_change(request: StudioRequest, pk: int) -> HttpResponse:
    workshop = get_object_or_404(Workshop, pk=pk)
    form = WorkshopForm(request.POST, auto_id=f"workshop-{pk}-%s")
    if not carried_out(
        form,
        lambda: workshops.change_workshop(workshop, form.cleaned_data, by=request.actor, at=request.now),
    ):
        return _page(request, typed=form)
    messages.success(request, f"{form.cleaned_data['name']} is saved.")
    return redirect("set-up-workshops")
