"""All workshops at one glance, each with the way to its floor."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from jobs.actions.plan import dates_for_reader
from jobs.models.overview import read_overview
from jobs.models.standing import read_standing
from jobs.views.access import office_only
from jobs.views.middleware import StudioRequest
from jobs.views.workshops import workshops_of


@require_safe
@office_only
def workshops(request: StudioRequest) -> HttpResponse:
    """A studio with one workshop has its floor for that."""
    rows = workshops_of(request)
    if not rows:
        return redirect("floor")
    plan = dates_for_reader(request.now)
    standing = read_standing(request.now, request.studio)
    found = read_overview(rows, standing, plan, request.studio)
    return render(request, "workshops.html", {"rows": found, "plan_state": plan})
