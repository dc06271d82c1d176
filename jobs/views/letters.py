"""Papers for the customer and the road, as PDF; and the letter that gives another day, whose reason is typed first."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.actions import Refused
from jobs.actions.day_letters import changed_day, checked_reason, reason_for
from jobs.actions.letters import CHECKS
from jobs.documents.approval import approval_sheet
from jobs.documents.letters import completion_letter, new_day_letter
from jobs.documents.road import delivery_note, installation_sheet
from jobs.forms.letters import NewDayForm
from jobs.models import Quote
from jobs.models.changed_days import ChangedDay
from jobs.views.access import office_only
from jobs.views.job import find_job
from jobs.views.middleware import StudioRequest
from jobs.views.papers import paper as as_pdf
from jobs.views.quote_paper import paper_of
from jobs.views.refusal import carried_out

MAKERS: dict[str, Callable[..., bytes]] = {
    "approval": approval_sheet,
    "delivery": delivery_note,
    "installation": installation_sheet,
    "completion": completion_letter,
}


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
    return as_pdf(data, "quote", number, version)


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
    return as_pdf(MAKERS[paper](job, **_dated(request)), paper, number)


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
    data = new_day_letter(job, days.before, days.now, told[0], **_dated(request))
    return as_pdf(data, "new-day", number)


def _new_day_page(
    request: StudioRequest, job: Any, days: ChangedDay, form: NewDayForm, status: int = 200
) -> HttpResponse:
    return render(request, "new_day.html", {"job": job, "days": days, "form": form}, status=status)
