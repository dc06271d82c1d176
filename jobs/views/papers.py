"""The studio's papers as PDF: each address reads the rows that its page reads and hands them to `documents`."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from jobs.documents.traveler import traveler
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
