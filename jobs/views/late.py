"""The lead settles a tap that came late and did not fit."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from jobs.actions import Refused, late
from jobs.models import LateTap
from jobs.views.access import lead_only
from jobs.views.middleware import StudioRequest


@require_POST
@lead_only
def late_settle(request: StudioRequest, pk: int) -> HttpResponse:
    try:
        late.settle(get_object_or_404(LateTap, pk=pk), by=request.actor, at=request.now)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    return redirect("floor")
