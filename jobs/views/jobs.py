"""The list of jobs, and new ones: from routes, or by copying an earlier one."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery, Sum
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions.jobs import copy_job, create_job, next_number
from jobs.actions.plan import dates_for_reader
from jobs.forms.jobs import (
    ANY,
    MOST_PANELS,
    PANEL_START,
    CopyForm,
    JobFilter,
    NewJobForm,
    PanelSet,
    all_conditions,
)
from jobs.forms.workshops import ask_workshop, asked_workshop
from jobs.models import Customer, Job, Operation, Panel, Projection, Stage, TimeEntry
from jobs.models.scope import scope
from jobs.templatetags.floor import Outline, outline
from jobs.views.access import office_only
from jobs.views.job import draft_of
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out
from jobs.views.workshops import workshop_key, workshop_of, workshops_of

PAGE = 40


@dataclass(slots=True)
class Listed:
    """A job of the list: its first panel's outline, counts of panels and work, minutes spent and estimated."""

    job: Job
    outline: Outline | None = None
    panels: int = 0
    operations: int = 0
    done: int = 0
    spent: int = 0
    estimate: int = 0
    projection: Projection | None = None


@require_safe
@office_only
def jobs(request: StudioRequest) -> HttpResponse:
    form = JobFilter(request.GET)
    found = scope(_filtered(form), workshop_key(request))
    pages = Paginator(found, PAGE).get_page(request.GET.get("page"))
    query = request.GET.copy()
    query.pop("page", None)
    context = {
        "form": form,
        "page": pages,
        "rows": _listed(list(pages)),
        "query": query.urlencode(),
        "plan_state": dates_for_reader(request.now),
        "filtered": bool(query.urlencode()),
    }
    part = request.htmx and not request.htmx.history_restore_request
    response = render(request, "jobs.html#list" if part else "jobs.html", context)
    response.headers["Vary"] = "HX-Request, Cookie"
    return response


def _filtered(form: JobFilter) -> QuerySet[Job]:
    typed = form.cleaned_data if form.is_valid() else {}
    found = Job.objects.select_related("customer").with_promise()
    stage = typed.get("stage") or Stage.ORDERED
    if stage != ANY:
        found = found.filter(stage=stage)
    if typed.get("customer"):
        found = found.filter(customer=typed["customer"])
    for word in typed.get("q", "").split():
        panels = Panel.objects.filter(job=OuterRef("pk"), name__icontains=word)
        found = found.filter(
            Q(number__icontains=word)
            | Q(title__icontains=word)
            | Q(customer__name__icontains=word)
            | Exists(panels)
        )
    return found.order_by("-entered_at", "-pk")


def _listed(found: list[Job]) -> list[Listed]:
    """What the rows of one page show, in six queries however many jobs there are."""
    rows = {job.pk: Listed(job) for job in found}
    panels = Panel.objects.filter(job__in=rows)
    for has in panels.order_by().values("job").annotate(n=Count("pk")):
        rows[has["job"]].panels = has["n"]
    first = Panel.objects.filter(job=OuterRef("job")).order_by("number").values("pk")[:1]
    for panel in panels.filter(pk=Subquery(first)):
        rows[panel.job_id].outline = outline(panel)
    work = Operation.objects.filter(job__in=rows, skipped=False).order_by().values("job")
    for counted in work.annotate(n=Count("pk"), done=Count("finished_at"), minutes=Sum("estimate")):
        row = rows[counted["job"]]
        row.operations, row.done, row.estimate = counted["n"], counted["done"], counted["minutes"]
    spent = TimeEntry.objects.counted().filter(operation__job__in=rows).order_by().values("operation__job")
    for logged in spent.annotate(minutes=Sum("minutes")):
        rows[logged["operation__job"]].spent = logged["minutes"]
    for projection in Projection.objects.filter(job__in=rows):
        rows[projection.job_id].projection = projection  # type: ignore[index]
    return list(rows.values())


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def job_new(request: StudioRequest) -> HttpResponse:
    source = request.GET.get("copy", "").strip()
    if source:
        return _copy(request, source)
    options = {"studio": request.studio, "conditions": all_conditions()}
    if request.method != "POST":
        start = [dict(PANEL_START)]
        panels = PanelSet(initial=start, prefix="panel", form_kwargs=options)
        return _show_new(request, _new_form(request), panels)
    if "more" in request.POST:
        form = _new_form(request, initial=_as_typed(request.POST))
        panels = PanelSet(initial=_one_more(request.POST), prefix="panel", form_kwargs=options)
        return _show_new(request, form, panels)
    form = _new_form(request, request.POST)
    panels = PanelSet(request.POST, initial=_starts(request.POST), prefix="panel", form_kwargs=options)
    made: list[Job] = []
    if panels.is_valid() and carried_out(form, lambda: made.append(_create(request, form, panels))):
        messages.success(request, f"Job {made[0].number} is entered.")
        return HttpResponse(status=303, headers={"Location": made[0].get_absolute_url()})
    return _show_new(request, form, panels, status=422)


def _new_form(request: StudioRequest, *data: Any, **options: Any) -> NewJobForm:
    form = NewJobForm(*data, **options)
    ask_workshop(form, workshops_of(request), workshop_of(request))
    return form


def _create(request: StudioRequest, form: NewJobForm, panels: Any) -> Job:
    typed = form.cleaned_data | asked_workshop(form, workshops_of(request))
    return create_job(
        **typed | {"gates": dict.fromkeys(typed["gates"])},
        panels=[draft_of(row) for row in panels.typed()],
        by=request.actor,
        at=request.now,
    )


def _show_new(request: StudioRequest, form: NewJobForm, panels: Any, status: int = 200) -> HttpResponse:
    own = scope(Job.objects.all(), workshop_key(request))
    context = {
        "form": form,
        "panels": panels,
        "next_number": next_number(),
        "customers": Customer.objects.values_list("name", flat=True),
        "numbers": own.order_by("-entered_at").values_list("number", "title")[:200],
        "full": panels.total_form_count() >= MOST_PANELS,
    }
    return render(request, "job_new.html", context, status=status)


_LISTS = ("gates", "conditions")


def _as_typed(data: QueryDict, prefix: str = "") -> dict[str, Any]:
    """What was typed, without judging it, to be shown again."""
    names = {key.removeprefix(prefix) for key in data if key.startswith(prefix)}
    return {n: data.getlist(prefix + n) if n in _LISTS else data.get(prefix + n, "") for n in names}


def _rows_sent(data: QueryDict) -> int:
    sent = data.get("panel-TOTAL_FORMS", "")
    return min(int(sent), MOST_PANELS) if sent.isascii() and sent.isdigit() and len(sent) < 4 else 1


def _starts(data: QueryDict) -> list[dict[str, Any]]:
    """So that a row in which nobody changed what it started with counts as empty."""
    return [dict(PANEL_START) for _ in range(_rows_sent(data))]


def _one_more(data: QueryDict) -> list[dict[str, Any]]:
    rows = [_as_typed(data, f"panel-{number}-") for number in range(_rows_sent(data))]
    last = rows[-1] if rows else {}
    # The next panel is most often like the one before it, of another size.
    again = {key: last[key] for key in ("route", "thickness_mm", "conditions") if key in last}
    return [*rows, PANEL_START | again][:MOST_PANELS]


def _copy(request: StudioRequest, number: str) -> HttpResponse:
    own = scope(Job.objects.select_related("customer"), workshop_key(request))
    source = get_object_or_404(own, number__iexact=number)
    form = CopyForm(request.POST if request.method == "POST" else None, source=source)
    made: list[Job] = []

    def copy() -> None:
        made.append(copy_job(source, **form.cleaned_data, by=request.actor, at=request.now))

    if request.method == "POST" and carried_out(form, copy):
        messages.success(request, f"Job {made[0].number} is entered.")
        return HttpResponse(status=303, headers={"Location": made[0].get_absolute_url()})
    context = {
        "form": form,
        "source": source,
        "next_number": next_number(),
        "customers": Customer.objects.values_list("name", flat=True),
    }
    return render(request, "job_copy.html", context, status=422 if request.method == "POST" else 200)
