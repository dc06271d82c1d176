"""Jobs read in from a list, and a list to fill in."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions.imports import (
    LARGEST_BYTES,
    NEEDED,
    OPTIONAL,
    WORKSHOP,
    ImportRefused,
    import_jobs,
    template_list,
)
from jobs.forms.imports import ImportForm
from jobs.models import OperationKind, Route
from jobs.views.access import office_only
from jobs.views.middleware import StudioRequest
from jobs.views.workshops import workshop_of, workshops_of

SHOWN = 200


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def jobs_import(request: StudioRequest) -> HttpResponse:
    form = ImportForm(request.POST, request.FILES) if request.method == "POST" else ImportForm()
    context = {
        "form": form,
        "needed": NEEDED,
        "optional": (*OPTIONAL, WORKSHOP) if len(workshops_of(request)) > 1 else OPTIONAL,
        "routes": Route.objects.filter(active=True),
        "kinds": OperationKind.objects.all(),
    }
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data["file"].read(LARGEST_BYTES + 1)
        try:
            made = import_jobs(data, workshop_of(request), by=request.actor, at=request.now)
        except ImportRefused as refused:
            context |= {
                "sentence": refused.sentence,
                "faults": refused.faults[:SHOWN],
                "left": max(len(refused.faults) - SHOWN, 0),
            }
        else:
            messages.success(request, f"{len(made)} {'job is' if len(made) == 1 else 'jobs are'} entered.")
            context |= {"made": made, "form": ImportForm()}
            return render(request, "import.html", context)
    return render(request, "import.html", context, status=422 if request.method == "POST" else 200)


@require_safe
@office_only
def import_template(request: StudioRequest) -> HttpResponse:  # noqa: ARG001  # Django passes it.
    """A list to fill in. The mark at its start tells spreadsheets that it is UTF-8."""
    response = HttpResponse("\ufeff" + template_list(), content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = 'attachment; filename="jobs.csv"'
    return response
