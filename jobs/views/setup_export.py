"""Set-up: everything as CSV files in one zip."""

from tempfile import TemporaryFile
from typing import cast

from django.conf import settings
from django.http import FileResponse, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from jobs.actions.exports import note_export
from jobs.exports import write
from jobs.exports.tables import tables
from jobs.forms.exports import ExportForm
from jobs.views.access import set_up_only
from jobs.views.middleware import StudioRequest


@require_http_methods(["GET", "POST"])
@set_up_only
def export(request: StudioRequest) -> HttpResponse:
    """The page tells what is in it; its button makes the zip, whole before its first byte leaves."""
    if request.method != "POST":
        return render(
            request, "setup/export.html", {"tables": len(tables(with_pay=True)), "form": ExportForm()}
        )
    form = ExportForm(request.POST)
    with_pay = form.is_valid() and form.cleaned_data["with_pay"]
    file = TemporaryFile(dir=settings.VAR_DIR)  # noqa: SIM115  # The response closes it.
    written = write(file, at=request.now, with_pay=with_pay)
    note_export(rows=written.total, with_pay=with_pay, by=request.actor, at=request.now)
    file.seek(0)
    name = f"studio-{timezone.localdate(request.now):%Y-%m-%d}.zip"
    response = FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")
    response["Cache-Control"] = "no-store, private"
    return cast(HttpResponse, response)  # It can do all that one has to here.
