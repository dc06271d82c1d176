"""Papers for the customer and the road, as PDF; and the letter that gives another day, whose reason is typed first."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.actions import Refused
from jobs.actions.day_letters import ChangedDay, changed_day, checked_reason, reason_for
from jobs.actions.letters import CHECKS
from jobs.forms.letters import NewDayForm
from jobs.models import Quote
from jobs.views.access import office_only
from jobs.views.job import find_job
from jobs.views.middleware import StudioRequest
from jobs.views.quote_paper import paper_of, pdf_response
from jobs.views.refusal import carried_out


@require_safe
@office_only
def quote_paper(request: StudioRequest, number: str, version: int) -> HttpResponse:
    """A version as PDF: byte for byte what was sent, where it was kept."""
    rows = Quote.objects.select_related("job__customer")
    quote = get_object_or_404(rows, job__number=number, version=version)
    try:
        data = paper_of(request, quote)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("quote", number, version)
    return pdf_response(data, f"quote-{number}-{version}")


@require_safe
@office_only
def letter(request: StudioRequest, number: str, paper: str) -> HttpResponse:
    """One of the papers of a job; what it has nothing to say about is said on the job's page."""
    job = find_job(number)
    if paper not in CHECKS:
        raise Http404
    try:
        CHECKS[paper](job)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect(job)
    return pdf_response(_makers()[paper](job, **_dated(request)), f"{paper}-{number}")


def _makers() -> dict[str, Any]:
    # WeasyPrint takes more than half a second to import, which no other page should wait for.
    from jobs.documents.approval import approval_sheet
    from jobs.documents.letters import completion_letter
    from jobs.documents.road import delivery_note, installation_sheet

    return {
        "approval": approval_sheet,
        "delivery": delivery_note,
        "installation": installation_sheet,
        "completion": completion_letter,
    }


def _dated(request: StudioRequest) -> dict[str, Any]:
    return {"studio": request.studio, "day": timezone.localdate(request.now)}


@require_safe
@office_only
def new_day(request: StudioRequest, number: str) -> HttpResponse:
    """The letter of another day: a page to look over the reason, and with `reason` the PDF itself."""
    job = find_job(number)
    try:
        days = changed_day(job)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect(job)
    typed = request.GET if "reason" in request.GET else None
    start = "" if typed is not None else reason_for(job, at=request.now)
    form = NewDayForm(typed, initial={"reason": start})
    if typed is None:
        return _new_day_page(request, job, days, form)
    told: list[str] = []
    if not carried_out(form, lambda: told.append(checked_reason(job, form.cleaned_data["reason"]))):
        return _new_day_page(request, job, days, form, 422)
    from jobs.documents.letters import new_day_letter

    data = new_day_letter(job, days.before, days.now, told[0], **_dated(request))
    return pdf_response(data, f"new-day-{number}")


def _new_day_page(
    request: StudioRequest, job: Any, days: ChangedDay, form: NewDayForm, status: int = 200
) -> HttpResponse:
    return render(request, "new_day.html", {"job": job, "days": days, "form": form}, status=status)
