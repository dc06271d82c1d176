"""Whether anything has changed: what screens ask every two seconds, and are answered in a few bytes.

Polling with an ETag was chosen over a stream held open for each screen: a stream takes one of the server's few threads
for as long as the screen is on, so that twenty screens would want twenty of them and a way to wake them across
processes; a question takes one for 1.6 ms of processor time and outlives any break of the line. So measured
(`make bench`), one core answers some 600 a second; twenty screens, ten questions a second, take 1.6 % of it.
"""

from django.http import HttpResponse, HttpResponseNotModified
from django.views.decorators.http import require_GET

from jobs.models import Event, PlanState
from jobs.views.access import anyone_signed_in
from jobs.views.middleware import StudioRequest


@require_GET
@anyone_signed_in
def pulse(request: StudioRequest) -> HttpResponse:
    """The mark of what all pages show, as text and as ETag; 304 where it is the one that the screen has already."""
    plan = PlanState.current()
    planned = int(plan.planned_at.timestamp()) if plan.planned_at else 0
    mark = f"{Event.objects.newest()}-{plan.revision}-{planned}"
    etag = f'"{mark}"'
    if request.headers.get("If-None-Match") == etag:
        response: HttpResponse = HttpResponseNotModified()
    else:
        response = HttpResponse(mark, content_type="text/plain")
    response.headers["ETag"], response.headers["Cache-Control"] = etag, "no-store"
    return response
