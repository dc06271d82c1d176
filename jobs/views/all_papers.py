"""All papers of a job's work in one PDF. Where they are many they are made beside the requests, and a page counts them:
it asks again by itself, with scripts and without, and opens the PDF when there is one."""

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.documents import together
from jobs.documents.approval import approval_pages
from jobs.documents.cut_list import cut_list_pages
from jobs.documents.pattern_sheets import pattern_pages, sheets_of
from jobs.documents.road import delivery_pages, installation_pages
from jobs.documents.together import Bundle, Paper, Progress
from jobs.documents.traveler import cautions_of, traveler_pages
from jobs.estimating.tiling import MOST_SHEETS
from jobs.models import Job, Operation, Panel, Pattern, Studio
from jobs.views.access import office_only
from jobs.views.loads import of_a_load
from jobs.views.middleware import StudioRequest
from jobs.views.papers import accepted_pattern, cut_pieces, paper, public
from jobs.views.work import read_rows

# More papers than these are counted while somebody waits.
AT_ONCE = 15
PATTERN = "Full-size pattern"


@require_safe
@office_only
@of_a_load
def paper_all(request: StudioRequest, job: Job) -> HttpResponse:
    """Travelers, cut lists, full-size patterns and approval sheets of every panel, delivery and installation."""
    key = request.GET.get("run", "")
    if not key:
        return _begin(request, job)
    progress = together.find(key, job, request.user.pk, request.now)
    if progress is None:
        return redirect(request.path)
    if progress.bound and "open" in request.GET:
        return _bound(request, job, key)
    return _counted(request, job, progress, key)


def _begin(request: StudioRequest, job: Job) -> HttpResponse:
    bundle, owner, patterns = _bundle(request, job), request.user.pk, request.GET.get("patterns") != "no"
    studio, day = request.studio, timezone.localdate(request.now)
    if len(bundle.papers) <= AT_ONCE:
        asked = Progress(job.pk, owner, len(bundle.papers), patterns)
        made, progress = together.make(bundle, asked, studio=studio, day=day)
        if not progress.failed:
            return paper(made, "papers", job.number)
        key = together.keep(made, progress, request.now)
    else:
        key = together.begin(bundle, owner=owner, patterns=patterns, studio=studio, day=day, at=request.now)
    return redirect(f"{request.path}?{urlencode({'run': key})}")


def _bound(request: StudioRequest, job: Job, key: str) -> HttpResponse:
    if request.htmx:
        # A part of a page cannot be a PDF: the browser goes there.
        return HttpResponse(headers={"HX-Redirect": _address(request, key)})
    return paper(together.bound(key), "papers", job.number)


def _counted(request: StudioRequest, job: Job, progress: Progress, key: str) -> HttpResponse:
    stopped = progress.stopped(request.now)
    context = {
        "job": job,
        "progress": progress,
        "stopped": stopped,
        # Nobody is taken past what is missing.
        "asks": not stopped and not (progress.bound and progress.failed),
        "here": f"{request.path}?{urlencode({'run': key})}",
        "address": _address(request, key),
    }
    return render(request, "papers_made.html#making" if request.htmx else "papers_made.html", context)


def _address(request: HttpRequest, key: str) -> str:
    return f"{request.path}?{urlencode({'run': key, 'open': 'now'})}"


def _bundle(request: StudioRequest, job: Job) -> Bundle:
    papers: list[Paper] = []
    left_out: list[str] = []
    for panel in job.panels.select_related("route").order_by("number"):
        panel.job = job
        work = [row.operation for row in read_rows(job, panel, request.now)]
        papers += _of_panel(request, panel, work, left_out)
    day, studio = timezone.localdate(request.now), request.studio
    papers += [
        Paper(f"Delivery note {job.number}", lambda: delivery_pages(job, studio=studio, day=day)),
        Paper(f"Installation {job.number}", lambda: installation_pages(job, studio=studio, day=day)),
    ]
    return Bundle(job, papers, left_out)


def _of_panel(
    request: StudioRequest, panel: Panel, work: list[Operation], left_out: list[str]
) -> Iterator[Paper]:
    """The papers of one panel; what there is none of is told in `left_out`."""
    studio, day, address = request.studio, timezone.localdate(request.now), public(request)
    name = f"{panel.code} {panel.name}"
    yield Paper(f"Traveler {name}", lambda: traveler_pages(panel, work, studio=studio, address=address))
    shown = accepted_pattern(panel)
    if shown is None:
        left_out.append(f"Cut list and full-size pattern {name}: it has no accepted pattern yet.")
    else:
        yield Paper(f"Cut list {name}", lambda: _cut_list(panel, shown, studio, work))
        count = len(sheets_of(panel, studio)[0])
        if request.GET.get("patterns") == "no":
            left_out.append(f"{PATTERN} {name}: {count} sheets, left out as asked.")
        elif count > MOST_SHEETS:
            left_out.append(f"{PATTERN} {name}: {count} sheets, have it plotted in one piece instead.")
        else:
            yield Paper(f"{PATTERN} {name}", lambda: pattern_pages(panel, shown, studio=studio))
    if panel.drawing:
        yield Paper(
            f"Approval sheet {name}",
            lambda: approval_pages(panel.job, [panel], studio=studio, day=day),
        )
    else:
        left_out.append(f"Approval sheet {name}: it is not drawn yet.")


def _cut_list(panel: Panel, shown: Pattern, studio: Studio, work: list[Operation]) -> Any:
    pieces, cutting = cut_pieces(shown, studio, work)
    return cut_list_pages(panel, shown, pieces, cautions_of(cutting), studio=studio)
