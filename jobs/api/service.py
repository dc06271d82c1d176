"""The addresses of the API and their description; loaded with the first request that a token opens."""

from datetime import datetime, time, timedelta
from functools import cache
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.urls import URLPattern, URLResolver, path
from ninja import Field, NinjaAPI, Query, Status
from ninja.security import HttpBearer

from jobs.models import ApiToken, PlanState, Station
from jobs.models.api_tokens import Scope

from . import rows
from . import shapes as s
from .asking import Asked, AskedSince, Day, Id, page

PREFIX = "/api/v1/"
NOT: dict[int, Any] = {401: s.Problem, 404: s.Problem, 422: s.Invalid, 429: s.Problem}


class Bearer(HttpBearer):
    """For the description; who may has been looked at by the door."""

    def authenticate(self, request: HttpRequest, token: str) -> ApiToken | None:
        return getattr(request, "token", None)


class AskedJobs(AskedSince):
    stage: s.StageWord | None = None
    number: str | None = Field(None, max_length=20, description="The job of this number.")


class AskedPanels(AskedSince):
    job: Id | None = Field(None, description="Only those of this job.")


class AskedOperations(AskedSince):
    state: s.StateWord | None = Field(
        None, description="Only those in this state now; but for done, only of jobs that are on the floor."
    )
    job: Id | None = None
    panel: Id | None = None
    station: Id | None = None


class AskedHours(AskedSince):
    person: Id | None = None
    job: Id | None = None
    first: Day | None = Field(None, description="Started on this day of the studio's zone, or later.")
    last: Day | None = Field(None, description="Started on this day or before.")


class AskedPromises(AskedSince):
    job: Id | None = None


class AskedDates(Asked):
    job: Id | None = Field(None, description="Only those of this job and its panels.")


api = NinjaAPI(
    title="The studio's floor",
    version="1",
    description="Reads only. Times are ISO 8601 with offset, days YYYY-MM-DD, work in minutes, lengths in mm. "
    "Lists come in pages in the order of their ids: ask again with `after` = `next` until that is null.",
    openapi_url=None,
    docs_url=None,
    auth=Bearer(),
    urls_namespace="api-v1",
)


def routes() -> list[URLPattern | URLResolver]:
    return [path("openapi.json", describe), *api.urls[0]]


@cache
def description() -> dict[str, Any]:
    """What can be asked and what is answered, as OpenAPI 3.1 has it."""
    return dict(api.get_openapi_schema(path_prefix=PREFIX))


def describe(request: HttpRequest) -> HttpResponse:  # noqa: ARG001
    return JsonResponse(description())


def _one(found: Any) -> Any:
    if found is None:
        raise Http404
    return found


@api.get("jobs", response={200: s.Page[s.JobShape], **NOT}, summary="Jobs")
def jobs(request: Any, asked: Query[AskedJobs]) -> Any:
    found = rows.jobs(asked.events())
    found = found.filter(stage=asked.stage) if asked.stage else found
    return page(found.filter(number=asked.number) if asked.number else found, asked, request)


@api.get("jobs/{job}", response={200: s.JobShape, **NOT}, summary="One job")
def job(request: Any, job: Id) -> Any:  # noqa: ARG001
    return _one(rows.jobs(None).filter(pk=job).first())


@api.get("panels", response={200: s.Page[s.PanelShape], **NOT}, summary="Panels")
def panels(request: Any, asked: Query[AskedPanels]) -> Any:
    found = rows.panels(asked.events())
    return page(found.filter(job=asked.job) if asked.job else found, asked, request)


@api.get("panels/{panel}", response={200: s.PanelShape, **NOT}, summary="One panel")
def panel(request: Any, panel: Id) -> Any:  # noqa: ARG001
    return _one(rows.panels(None).filter(pk=panel).first())


@api.get("operations", response={200: s.Page[s.OperationShape], **NOT}, summary="Work, estimated and actual")
def operations(request: Any, asked: Query[AskedOperations]) -> Any:
    found = rows.operations(request.now, asked.events(), asked.state)
    named = {"job": asked.job, "panel": asked.panel, "kind__station": asked.station}
    return page(found.filter(**{name: key for name, key in named.items() if key}), asked, request)


@api.get("stations", response={200: s.Page[s.StationShape], **NOT}, summary="Stations and what is there")
def stations(request: Any, asked: Query[Asked]) -> Any:
    found, counts = page(Station.objects.all(), asked, request), rows.counts(request.now)
    for station in found["items"]:
        station.counts = counts.get(station.pk, {})
    return found


@api.get("stations/{station}/queue", response={200: s.QueueShape, **NOT}, summary="The queue of a station")
def queue(request: Any, station: Id) -> Any:
    return rows.queue(_one(Station.objects.filter(pk=station).first()), request.now, request.studio)


@api.get("people", response={200: s.Page[s.PersonShape], **NOT}, summary="People and what they can do")
def people(request: Any, asked: Query[AskedSince]) -> Any:
    return page(rows.people(asked.events()), asked, request)


@api.get("hours", response={200: s.Page[s.HoursShape], **NOT}, summary="Hours as they were logged")
def hours(request: Any, asked: Query[AskedHours]) -> Any:
    found, zone = rows.hours(asked.events()), request.studio.zone
    if asked.person:
        found = found.filter(person=asked.person)
    if asked.job:
        found = found.filter(operation__job=asked.job)
    if asked.first:
        found = found.filter(started_at__gte=datetime.combine(asked.first, time(), zone))
    if asked.last:
        found = found.filter(started_at__lt=datetime.combine(asked.last + timedelta(days=1), time(), zone))
    return page(found, asked, request)


@api.get("promises", response={200: s.Page[s.PromiseShape], **NOT}, summary="Dates given to customers")
def promises(request: Any, asked: Query[AskedPromises]) -> Any:
    found = rows.promises(asked.events())
    return page(found.filter(job=asked.job) if asked.job else found, asked, request)


@api.get("dates", response={200: s.DatesPage, **NOT}, summary="Dates with a chance of 50, 80 and 95 %")
def dates(request: Any, asked: Query[AskedDates]) -> Any:
    plan = PlanState.current()
    return page(rows.dates(asked.job), asked, request) | {
        "planned_at": plan.planned_at,
        "out_of_date": plan.out_of_date,
    }


@api.get("customers", response={200: s.Page[s.CustomerShape], 403: s.Problem, **NOT}, summary="Customers")
def customers(request: Any, asked: Query[AskedSince]) -> Any:
    if request.token.scope != Scope.OFFICE:
        return Status(403, {"detail": "This token may not read customers."})
    return page(rows.customers(asked.events()), asked, request)
