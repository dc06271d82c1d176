"""The studio's papers as PDF: each address reads the rows that its page reads and hands them to `documents`."""

from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from jobs.actions import Refused
from jobs.actions.letters import check_load
from jobs.documents.cut_list import cut_list
from jobs.documents.labels import Label, labels
from jobs.documents.pattern_sheets import pattern_sheets, sheets_of
from jobs.documents.together import job_papers
from jobs.documents.traveler import cautions_of, traveler
from jobs.estimating.lengths import format_size
from jobs.estimating.tiling import MOST_SHEETS
from jobs.models import Panel, Pattern, Studio
from jobs.views.access import anyone_signed_in, office_only
from jobs.views.job import find_job
from jobs.views.middleware import StudioRequest
from jobs.views.panel import find_panel
from jobs.views.pattern_picture import piece_rows
from jobs.views.work import read_rows

# More panels than these are waited for: each takes about a quarter of a second.
AT_ONCE = 10


def paper(made: bytes, *name: object) -> HttpResponse:
    """The PDF, opened in the browser, with a file name of the words of `name`: traveler-0412-1.pdf."""
    file_name = "-".join(filter(None, (slugify(str(word).replace("/", "-")) for word in name))) or "paper"
    headers = {
        "Content-Disposition": content_disposition_header(False, f"{file_name}.pdf") or "inline",
        "Cache-Control": "private, no-cache",
    }
    return HttpResponse(made, content_type="application/pdf", headers=headers)


def public(request: HttpRequest) -> Callable[[str], str]:
    """How a path of ours is written on paper: behind BASE_URL, or else behind where the request came to."""
    if settings.BASE_URL:
        return lambda path: f"{settings.BASE_URL}{path}"
    return lambda path: request.build_absolute_uri(path)


@require_safe
@anyone_signed_in
def paper_traveler(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    row = find_panel(number, panel)
    work = [each.operation for each in read_rows(row.job, row, request.now)]
    made = traveler(row, work, studio=request.studio, address=public(request))
    return paper(made, "traveler", row.code)


@require_safe
@anyone_signed_in
def paper_labels(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    """A label for each copy of the panel and, where its pattern is accepted, one for the bag of each glass."""
    row = find_panel(number, panel)
    address = public(request)(reverse("scan-panel", args=[row.pk]))
    found = [*_copies(row, address, request.studio), *_bags(row, address, request.studio)]
    made = labels(found, studio=request.studio, title=f"Labels {row.code} {row.name}")
    return paper(made, "labels", row.code)


@require_safe
@anyone_signed_in
def paper_cut_list(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    """The pieces of the accepted pattern with their cut sizes, as the pattern's page shows them."""
    row = find_panel(number, panel)
    shown = _accepted(row)
    if shown is None:
        return _not_drawn(request, row)
    work = [each.operation for each in read_rows(row.job, row, request.now)]
    cutting = [operation for operation in work if operation.kind.counts_pieces and not operation.skipped]
    pieces = piece_rows(shown, request.studio, whole=True)["pieces"]
    made = cut_list(row, shown, pieces, cautions_of(cutting), studio=request.studio)
    return paper(made, "cut-list", row.code)


@require_safe
@anyone_signed_in
def paper_pattern(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    """The accepted pattern at full size over sheets."""
    row = find_panel(number, panel)
    shown = _accepted(row)
    if shown is None:
        return _not_drawn(request, row)
    count = len(sheets_of(row, request.studio)[0])
    if count > MOST_SHEETS:
        messages.error(request, f"That would take {count} sheets: have it plotted in one piece instead.")
        return redirect(row)
    return paper(pattern_sheets(row, shown, studio=request.studio), "pattern", row.code)


def _accepted(panel: Panel) -> Pattern | None:
    return panel.patterns.filter(accepted_at__isnull=False).last()


def _not_drawn(request: StudioRequest, panel: Panel) -> HttpResponse:
    messages.error(request, "This panel has no accepted pattern yet.")
    return redirect(panel)


@require_safe
@office_only
def paper_all(request: StudioRequest, number: str) -> HttpResponse:
    """All papers that the job's work goes with, in one PDF: a traveler for each panel, delivery and installation.
    Where that takes long, a page that says so goes to it and stays in view until it is made."""
    job = find_job(number)
    try:
        check_load(job)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect(job)
    panels = list(job.panels.order_by("number"))
    if len(panels) > AT_ONCE and "made" not in request.GET:
        address = f"{request.path}?made=now"
        return render(request, "papers_made.html", {"job": job, "panels": len(panels), "address": address})
    found = []
    for panel in panels:
        panel.job = job
        found.append((panel, [row.operation for row in read_rows(job, panel, request.now)]))
    day = timezone.localdate(request.now)
    made = job_papers(job, found, studio=request.studio, day=day, address=public(request))
    return paper(made, "papers", number)


def _copies(panel: Panel, address: str, studio: Studio) -> list[Label]:
    size = format_size(panel.width_mm, panel.height_mm, studio.units)
    words = [panel.name, size, panel.job.title, str(panel.job.customer)]
    return [
        Label(panel.code, [*words, f"copy {copy} of {panel.copies}"] if panel.copies > 1 else words, address)
        for copy in range(1, panel.copies + 1)
    ]


def _bags(panel: Panel, address: str, studio: Studio) -> list[Label]:
    shown = _accepted(panel)
    if shown is None:
        return []
    numbers: dict[str, list[int]] = {}
    for piece in piece_rows(shown, studio, whole=True)["pieces"]:
        numbers.setdefault(piece["glass"], []).append(piece["number"])
    return [
        Label(panel.code, [panel.name, glass, f"{len(found)} pieces: {', '.join(map(str, found))}"], address)
        for glass, found in numbers.items()
    ]
