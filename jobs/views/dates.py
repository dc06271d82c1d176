"""Dates: whom must I call? Every open job against its promise, and the promises themselves."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions.better_order import order_in_force
from jobs.actions.plan import dates_for_reader
from jobs.actions.promises import give_promise, proposed_day
from jobs.forms.dates import PromiseForm
from jobs.models import Job, PlanState, Promise, QuoteState
from jobs.views.access import office_only
from jobs.views.date_pages import read_listing
from jobs.views.date_record import kept_promises
from jobs.views.date_rows import read_axis, read_page, read_rows
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out
from jobs.views.workshops import workshop_key


@require_safe
@office_only
def dates(request: StudioRequest) -> HttpResponse:
    state = dates_for_reader(request.now)
    page = read_page(request.now, request.studio, state, workshop_key(request))
    return render(
        request,
        "dates.html",
        {
            "plan_state": state,
            "page": page,
            "listing": read_listing(page, request.GET),
            "in_force": order_in_force() if request.user.is_lead else None,
            "axis": page.axis,
            "today": timezone.localdate(request.now),
            "count": len(page.at_risk) + len(page.kept) + len(page.unpromised),
        },
    )


def _job(number: str) -> Job:
    return get_object_or_404(Job.objects.select_related("customer", "projection"), number=number)


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def promise_give(request: StudioRequest, number: str) -> HttpResponse:
    """The form, within the job's row or as a page of its own; a promise given answers with the row anew."""
    job = _job(number)
    last = job.promises.order_by("-given_at", "-pk").first()
    proposed = proposed_day(job, at=request.now)
    form = PromiseForm(
        request.POST if request.method == "POST" else None,
        proposed=proposed,
        earlier=last.day if last else None,
        told=last.told if last else job.customer.contact,
    )
    if request.method == "POST" and carried_out(form, lambda: _give(request, job, form.cleaned_data)):
        return _given(request, job)
    context = {
        "job": job,
        "form": form,
        "last": last,
        "proposed": proposed,
        "quoted": job.quotes.filter(state=QuoteState.ACCEPTED, ready_day__isnull=False).last(),
        "dates": _projection(job),
        "plan_state": PlanState.current(),
    }
    template = "dates_promise.html#form" if request.htmx else "dates_promise.html"
    response = render(request, template, context, status=422 if form.errors else 200)
    patch_vary_headers(response, ["HX-Request"])
    return response


def _projection(job: Job) -> Any:
    return getattr(job, "projection", None)


def _give(request: StudioRequest, job: Job, typed: dict[str, Any]) -> Promise:
    day: date = typed["day"]
    return give_promise(
        job, day, typed["told"], by=request.actor, at=request.now, reason=typed.get("reason", "")
    )


def _given(request: StudioRequest, job: Job) -> HttpResponse:
    if not request.htmx:
        messages.success(request, f"The promise for {job.number} is written down.")
        return redirect("dates")
    state = PlanState.current()
    (row,) = read_rows(request.now, request.studio, state, jobs=[job.pk])
    context = {
        "row": row,
        "axis": read_axis(request.now),
        "today": timezone.localdate(request.now),
        "just_given": True,
    }
    response = render(request, "dates.html#row", context)
    response["HX-Retarget"] = f"#job-{job.pk}"
    response["HX-Reswap"] = "outerHTML"
    return response


@require_safe
@office_only
def promises(request: StudioRequest, number: str) -> HttpResponse:
    """Every promise that was given for a job, the first one first, and what became of it."""
    job = _job(number)
    given = job.promises.select_related("given_by")
    kept = kept_promises(Job.objects.filter(pk=job.pk))
    template = "dates_promises.html#list" if request.htmx else "dates_promises.html"
    response = render(request, template, {"job": job, "given": given, "kept": kept[0] if kept else None})
    patch_vary_headers(response, ["HX-Request"])
    return response
