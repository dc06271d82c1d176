"""The floor: what needs somebody now, and how every station stands."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_safe

from jobs.actions.plan import dates_for_reader
from jobs.models import Role
from jobs.models.decisions import read_decisions
from jobs.models.floor import read_floor
from jobs.models.standing import read_standing
from jobs.views.access import anyone_signed_in
from jobs.views.middleware import StudioRequest


@require_safe
@anyone_signed_in
def floor(request: StudioRequest) -> HttpResponse:
    if request.user.role == Role.BENCH:
        return redirect("bench-choose")
    plan = dates_for_reader(request.now)
    standing = read_standing(request.now, request.studio)
    part = request.htmx and not request.htmx.history_restore_request
    response = render(
        request,
        "floor.html#floor" if part else "floor.html",
        {
            "floor": read_floor(standing, plan, request.studio),
            "decisions": read_decisions(standing, plan, request.studio),
            "plan_state": plan,
        },
    )
    patch_vary_headers(response, ["HX-Request"])
    return response
