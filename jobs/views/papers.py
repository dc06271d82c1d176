"""The studio's papers as PDF: each address reads the rows that its page reads and hands them to `documents`."""

from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from jobs.documents.cut_list import cut_list
from jobs.documents.pattern_sheets import pattern_sheets, sheets_of
from jobs.documents.pieces_shown import accepted_pattern, cut_pieces
from jobs.documents.traveler import cautions_of, traveler
from jobs.estimating.tiling import MOST_SHEETS
from jobs.models import Panel
from jobs.views.access import anyone_signed_in
from jobs.views.middleware import StudioRequest
from jobs.views.panel import find_panel
from jobs.views.work import read_rows


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
def paper_cut_list(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    """The pieces of the accepted pattern with their cut sizes, as the pattern's page shows them."""
    row = find_panel(number, panel)
    shown = accepted_pattern(row)
    if shown is None:
        return _not_drawn(request, row)
    work = [each.operation for each in read_rows(row.job, row, request.now)]
    pieces, cutting = cut_pieces(shown, request.studio, work)
    made = cut_list(row, shown, pieces, cautions_of(cutting), studio=request.studio)
    return paper(made, "cut-list", row.code)


@require_safe
@anyone_signed_in
def paper_pattern(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    """The accepted pattern at full size over sheets."""
    row = find_panel(number, panel)
    shown = accepted_pattern(row)
    if shown is None:
        return _not_drawn(request, row)
    count = len(sheets_of(row, request.studio)[0])
    if count > MOST_SHEETS:
        messages.error(request, f"That would take {count} sheets: have it plotted in one piece instead.")
        return redirect(row)
    return paper(pattern_sheets(row, shown, studio=request.studio), "pattern", row.code)


def _not_drawn(request: StudioRequest, panel: Panel) -> HttpResponse:
    messages.error(request, "This panel has no accepted pattern yet.")
    return redirect(panel)
