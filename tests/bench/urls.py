"""The application's addresses and two of the measurements' own: an empty signed-in page, and one bare insert."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import include, path
from django.views.decorators.http import require_POST

from jobs.models import Event


@login_required
def empty(request: HttpRequest) -> HttpResponse:
    return render(request, "base.html")


@login_required
@require_POST
def insert(request: HttpRequest) -> HttpResponse:
    Event.objects.create(
        at=request.now, account=request.user, verb="measured", subject="nothing", subject_id=0
    )
    return HttpResponse(status=204)


urlpatterns = [
    path("bench-of-speed/empty/", empty),
    path("bench-of-speed/insert/", insert),
    path("", include("studio.urls")),
]
