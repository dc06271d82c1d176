"""Lists as PDF: a bench's work, the week for the wall, and what is to be bought. Each reads what its page reads."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from jobs.actions.plan import dates_for_reader
from jobs.documents.lists import bench_list, purchase_list, week_plan
from jobs.forms.bench import PersonForm
from jobs.forms.materials import ShopForm
from jobs.models import Station
from jobs.models.bench import read_bench, read_whole_bench
from jobs.models.scope import scope
from jobs.models.wall import read_wall
from jobs.views.access import anyone_signed_in, office_only
from jobs.views.job import find_job
from jobs.views.materials import needs_of_jobs, needs_of_shop, rows_of, total_of
from jobs.views.middleware import StudioRequest
from jobs.views.papers import paper
from jobs.views.workshops import workshop_key

# Two pages: nobody takes up more in a day.
LISTED = 24


@require_safe
@anyone_signed_in
def paper_bench(request: StudioRequest, slug: str) -> HttpResponse:
    """The station's list; with `person` what that one finds on the page of the bench."""
    station = get_object_or_404(Station, slug=slug, active=True)
    asked = PersonForm(request.GET)
    at, studio = request.now, request.studio
    if asked.is_valid():
        bench = read_bench(station, asked.cleaned_data["person"], at, studio, LISTED)
    else:
        bench = read_whole_bench(station, at, studio, LISTED)
    return paper(bench_list(bench, studio=studio, at=at), "bench-list", slug)


@require_safe
@anyone_signed_in
def paper_week(request: StudioRequest) -> HttpResponse:
    plan = dates_for_reader(request.now)
    wall = read_wall(request.now, request.studio, workshop_key(request))
    return paper(week_plan(wall, plan, studio=request.studio), "week", wall.days[0].isoformat())


@require_safe
@office_only
def paper_purchases(request: StudioRequest) -> HttpResponse:
    """Of the whole shop, narrowed down as its page is."""
    asked = ShopForm(request.GET)
    needs = needs_of_shop(asked.cleaned_data if asked.is_valid() else {})
    rows = rows_of(scope(needs, workshop_key(request)), request)
    return paper(purchase_list({"rows": rows}, studio=request.studio, at=request.now), "purchase-list")


@require_safe
@office_only
def paper_job_purchases(request: StudioRequest, number: str) -> HttpResponse:
    job = find_job(number)
    rows = rows_of(needs_of_jobs().filter(job=job), request)
    context = {"job": job, "rows": rows, "total": total_of(rows)}
    return paper(purchase_list(context, studio=request.studio, at=request.now), "purchase-list", number)
