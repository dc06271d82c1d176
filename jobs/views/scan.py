"""Where the codes on papers lead: whoever scans one lands on the panel, at the bench it was scanned at."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_safe

from jobs.models import Operation, Panel, Role, Station
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
    return _at_bench(panel, station) if station else redirect("bench-choose")


@require_safe
@anyone_signed_in
def scan_work(request: StudioRequest, pk: int, slug: str) -> HttpResponse:
    """The panel's work at one bench; who has no bench page sees the panel."""
    panel = get_object_or_404(Panel.objects.select_related("job"), pk=pk)
    station = get_object_or_404(Station, slug=slug, active=True)
    return _at_bench(panel, station) if request.user.role != Role.OFFICE else redirect(panel)


def _at_bench(panel: Panel, station: Station) -> HttpResponse:
    """The station's page, at the panel's first work there that is not done."""
    rows = Operation.objects.filter(panel=panel, kind__station=station, skipped=False)
    work = rows.filter(finished_at=None).order_by("place", "pk").first()
    anchor = f"?panel={panel.pk}#work-{work.pk}" if work else f"?panel={panel.pk}"
    return redirect(reverse("bench", args=[station.slug]) + anchor)
