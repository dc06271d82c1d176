"""The floor: what needs somebody now, and how every station stands."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_safe

from jobs.actions.plan import dates_for_reader
from jobs.models.day_changes import read_lasting
from jobs.models.decisions import read_decisions
from jobs.models.floor import read_floor
from jobs.models.known_away import read_known_away
from jobs.models.standing import read_standing
from jobs.views.access import anyone_signed_in
from jobs.views.kept import kept_part
from jobs.views.middleware import StudioRequest
from jobs.views.workshops import workshop_key


@require_safe
@anyone_signed_in
def floor(request: StudioRequest) -> HttpResponse:
    if not request.user.is_office:
        return redirect("bench-choose")
    plan = dates_for_reader(request.now)
    workshop = workshop_key(request)

    def read() -> dict[str, Any]:
        standing = read_standing(request.now, request.studio, workshop)
        today = timezone.localdate(request.now)
        lasting = read_lasting(today, workshop)
        return {
            "floor": read_floor(standing, plan, request.studio),
            "lasting": lasting,
            "away": read_known_away(today, lasting, workshop),
            "decisions": read_decisions(standing, plan, request.studio),
            "plan_state": plan,
        }

    part = kept_part(request, "floor.html#floor", (), plan, read)
    if request.htmx and not request.htmx.history_restore_request:
        response = HttpResponse(part)
    else:
        response = render(request, "floor.html", {"part": part})
    patch_vary_headers(response, ["HX-Request"])
    return response
