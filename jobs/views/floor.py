"""The floor: what needs somebody now, and how every station stands."""

from django.core.cache import cache
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_safe

from jobs.actions.plan import dates_for_reader
from jobs.models import Event, PlanState, Role
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
    part = _part(request, plan)
    if request.htmx and not request.htmx.history_restore_request:
        response = HttpResponse(part)
    else:
        response = render(request, "floor.html", {"part": part})
    patch_vary_headers(response, ["HX-Request"])
    return response


def _part(request: StudioRequest, plan: PlanState) -> str:
    """What every screen that shows the floor shows alike, drawn once a minute and whenever anything has changed.

    Every change writes an Event and every plan its time, so the two tell whether anything has; the minute is for what
    changes by itself, such as a timer that is left on.
    """
    minute = int(request.now.timestamp()) // 60
    planned = plan.planned_at.timestamp() if plan.planned_at else 0
    key = f"floor:{Event.objects.newest()}:{plan.revision}:{planned}:{minute}:{request.user.role}"
    part = cache.get(key)
    if part is None:
        standing = read_standing(request.now, request.studio)
        shown = {
            "floor": read_floor(standing, plan, request.studio),
            "decisions": read_decisions(standing, plan, request.studio),
            "plan_state": plan,
        }
        part = render_to_string("floor.html#floor", shown, request)
        cache.set(key, part, 60)
    return part
