"""All papers of a job's work in one PDF. Where they are many they are made beside the requests, and a page counts them:
it asks again by itself, with scripts and without, and opens the PDF when there is one."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.documents import together
from jobs.documents.together import Progress
from jobs.models import Job, PaperBundle
from jobs.tasks import bundles
from jobs.views.access import office_only
from jobs.views.loads import of_a_load
from jobs.views.middleware import StudioRequest
from jobs.views.papers import paper, public

# More papers than these are counted while somebody waits.
AT_ONCE = 15


@require_safe
@office_only
@of_a_load
def paper_all(request: StudioRequest, job: Job) -> HttpResponse:
    """Travelers, cut lists, full-size patterns and approval sheets of every panel, delivery and installation."""
    key = request.GET.get("run", "")
    if not key:
        return _begin(request, job)
    row = bundles.find(key, job, request.user, request.now)
    if row is None:
        return redirect(request.path)
    if row.bound and "open" in request.GET:
        return _bound(request, job, row)
    return _counted(request, job, row)


def _begin(request: StudioRequest, job: Job) -> HttpResponse:
    patterns, studio, at = request.GET.get("patterns") != "no", request.studio, request.now
    address = public(request)("/").rstrip("/")
    bundle = bundles.contents(job, patterns=patterns, studio=studio, at=at, address=address)
    total = len(bundle.papers)
    if total <= AT_ONCE:
        made, progress = together.make(bundle, Progress(), studio=studio, day=timezone.localdate(at))
        if not progress.failed:
            return paper(made, "papers", job.number)
        row = bundles.keep(job, request.user, made, progress, total=total, patterns=patterns, at=at)
    else:
        row = bundles.ask_for(job, request.user, total=total, patterns=patterns, address=address, at=at)
    return redirect(f"{request.path}?{urlencode({'run': row.key})}")


def _bound(request: StudioRequest, job: Job, row: PaperBundle) -> HttpResponse:
    if request.htmx:
        # A part of a page cannot be a PDF: the browser goes there.
        return HttpResponse(headers={"HX-Redirect": _address(request, row.key)})
    try:
        with row.file.open("rb") as made:
            return paper(made.read(), "papers", job.number)
    except OSError:
        # It is lost, and made anew.
        return redirect(request.path)


def _counted(request: StudioRequest, job: Job, row: PaperBundle) -> HttpResponse:
    stopped = bundles.stopped(row, request.now)
    context = {
        "job": job,
        "progress": row,
        "stopped": stopped,
        # Nobody is taken past what is missing.
        "asks": not stopped and not (row.bound and row.failed),
        "here": f"{request.path}?{urlencode({'run': row.key})}",
        "address": _address(request, row.key),
    }
    return render(request, "papers_made.html#making" if request.htmx else "papers_made.html", context)


def _address(request: HttpRequest, key: str) -> str:
    return f"{request.path}?{urlencode({'run': key, 'open': 'now'})}"
