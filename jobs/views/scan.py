"""Where the codes on papers lead: whoever scans one lands on the panel, at the bench it was scanned at."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_safe

from jobs.models import May, Panel, Station
from jobs.views.access import anyone_signed_in
from jobs.views.middleware import StudioRequest


@require_safe
@anyone_signed_in
def scan_panel(request: StudioRequest, pk: int) -> HttpResponse:
    """The panel's page; a tablet, which has none, goes to the panel at its own bench."""
    panel = get_object_or_404(Panel.objects.select_related("job"), pk=pk)
    if request.user.is_office:
        return redirect(panel)
    station = request.user.station
    if station is None:
        return redirect(reverse("bench-choose", query={"panel": panel.pk}))
    return redirect(bench_address(station, panel))


@require_safe
@anyone_signed_in
def scan_work(request: StudioRequest, pk: int, slug: str) -> HttpResponse:
    """The panel's work at one bench; who has no bench page sees the panel."""
    panel = get_object_or_404(Panel.objects.select_related("job"), pk=pk)
    station = get_object_or_404(Station, slug=slug, active=True)
    return redirect(bench_address(station, panel) if request.user.may(May.WORK_AT_BENCH) else panel)


def bench_address(station: Station, panel: Panel) -> str:
    """The station's page with what there is to do on the panel there at its top."""
    return reverse("bench", args=[station.slug], query={"panel": panel.pk}, fragment="scanned")
