"""Everything about one job, changed in place."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import customers, gates, holds
from jobs.actions import jobs as job_actions
from jobs.actions.panels import PanelDraft, add_panel
from jobs.actions.plan import dates_for_reader
from jobs.actions.sites import change_site
from jobs.actions.workshops import move_job
from jobs.estimating.remaining import minutes_left, worked
from jobs.forms.customer import LinkForm
from jobs.forms.jobs import (
    PANEL_START,
    AboutForm,
    CompleteForm,
    CustomerForm,
    EmptyForm,
    GateForm,
    HoldForm,
    NewGateForm,
    PanelForm,
    WhyForm,
    all_conditions,
)
from jobs.forms.letters import SiteForm
from jobs.forms.workshops import MoveForm
from jobs.models import Customer, Job, Nature, Operation, Panel, PlanState, Projection
from jobs.templatetags.floor import LARGE_PX, Outline, outline
from jobs.views.access import office_only
from jobs.views.customer_part import customer_part, link_initial
from jobs.views.history import history_of
from jobs.views.mail_part import mail_part
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out
from jobs.views.work import open_editor, read_rows
from jobs.views.workshops import workshops_of


@dataclass(slots=True)
class PanelRow:
    panel: Panel
    outline: Outline | None = None
    operations: list[Operation] = field(default_factory=list)
    spent: int = 0
    estimate: int = 0
    left: int = 0
    projection: Projection | None = None

    def take(self, operation: Operation) -> None:
        spent = operation.spent  # type: ignore[attr-defined]
        self.spent += spent
        if operation.skipped:
            return
        self.operations.append(operation)
        # Hours of people: what cures or is outside takes nobody's.
        if operation.kind.nature != Nature.ATTENDED:
            return
        self.estimate += operation.estimate
        if operation.state != "done":  # type: ignore[attr-defined]
            beyond: float = operation.beyond  # type: ignore[attr-defined]
            done = worked(operation.quantity, operation.quantity_done, beyond)
            self.left += minutes_left(operation.estimate, spent, operation.quantity, done)


def find_job(number: str) -> Job:
    return get_object_or_404(Job.objects.select_related("customer").with_promise(), number=number)


@require_safe
@office_only
def job(request: StudioRequest, number: str) -> HttpResponse:
    return page(request, find_job(number), edit=request.GET.get("edit", ""))


def page(
    request: StudioRequest,
    job: Job,
    *,
    edit: str = "",
    form: BaseForm | None = None,
    work_forms: Mapping[str, BaseForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    """The whole page, with the group named by `edit` open; htmx takes out of it what has changed."""
    rows = read_rows(job, None, request.now)
    open_editor(rows, edit, request.studio, request.actor, work_forms)
    panels = _panels(request, job)
    told, more = history_of(job.events.all(), job, request.studio, whole=request.GET.get("history") == "all")
    plan = PlanState.current() if request.htmx or status != 200 else dates_for_reader(request.now)
    own = PanelRow(Panel())
    for row in rows:
        own.take(row.operation)
    every = [*panels, own]
    context = {
        "job": job,
        "page_url": job.get_absolute_url(),
        "edit": edit,
        "form": form if form is not None else group_form(request, job, edit),
        "rows": rows,
        "panels": panels,
        "spent": sum(row.spent for row in every),
        "estimate": sum(row.estimate for row in every),
        "left": sum(row.left for row in every),
        "done": _counted(every, True),
        "all": _counted(every, False),
        "gates": list(job.gates.all()),
        "holds": list(job.holds.filter(released_at=None)),
        "customers": Customer.objects.values_list("name", flat=True) if edit == "about" else (),
        "history": told,
        "more_history": more,
        "plan_state": plan,
        **mail_part(job),
        "problems": [each["sentence"] for each in plan.problems if each.get("job") == job.pk],
        **_window(request, job),
        **customer_part(request, job),
    }
    return render(request, "job.html", context, status=status)


def _counted(rows: list[PanelRow], only_done: bool) -> int:
    operations = [operation for row in rows for operation in row.operations]
    return sum(not only_done or operation.state == "done" for operation in operations)  # type: ignore[attr-defined]


def _panels(request: StudioRequest, job: Job) -> list[PanelRow]:
    rows = {panel.pk: PanelRow(panel, outline(panel, px=LARGE_PX)) for panel in job.panels.order_by("number")}
    found = Operation.objects.filter(job=job, panel__isnull=False)
    operations = found.with_state(request.now).with_hours().with_beyond()
    for operation in operations.select_related("kind").order_by("place", "pk"):
        rows[operation.panel_id].take(operation)  # type: ignore[index]
    for projection in Projection.objects.filter(panel__job=job):
        rows[projection.panel_id].projection = projection  # type: ignore[index]
    for row in rows.values():
        row.panel.job = job
    return list(rows.values())


def _window(request: StudioRequest, job: Job) -> dict[str, Any]:
    """The window of the job's date and the axis it stands on."""
    projection = Projection.objects.filter(job=job).first()
    today = timezone.localdate(request.now)
    promised = getattr(job, "promised", None)
    days = [today, *([promised] if promised else [])]
    if projection is not None:
        days += [timezone.localtime(at).date() for at in (projection.p50, projection.p95)]
    first = min(days) - timedelta(days=2)
    return {
        "projection": projection,
        "today": today,
        "promised": promised,
        "first_day": first,
        "last_day": max(max(days) + timedelta(days=4), first + timedelta(days=21)),
    }


def group_form(request: StudioRequest, job: Job, group: str, data: Any = None) -> BaseForm | None:
    match group:
        case "about":
            fields = ("title", "wanted_by", "weight", "notes")
            initial = {name: getattr(job, name) for name in fields} | {"customer": job.customer.name}
            return AboutForm(data, initial=initial)
        case "customer":
            reached = ("contact", "email", "phone", "address", "notes")
            return CustomerForm(data, initial={name: getattr(job.customer, name) for name in reached})
        case "site":
            return SiteForm(data, initial={name: getattr(job, name) for name in SiteForm.base_fields})
        case "hold":
            return HoldForm(data)
        case "workshop" if workshops_of(request):
            return MoveForm(data, rows=workshops_of(request), job=job)
        case "cancel":
            return WhyForm(data)
        case "complete":
            return CompleteForm(data)
        case "order" | "reopen":
            return EmptyForm(data)
        case "link":
            return LinkForm(initial=link_initial(request, job))
        case "new-gate":
            return NewGateForm(data, taken=set(job.gates.values_list("kind", flat=True)))
        case "new-panel":
            start = PANEL_START
            return PanelForm(data, initial=start, studio=request.studio, conditions=all_conditions())
    if group.startswith("gate-"):
        gate = job.gates.filter(kind=group.removeprefix("gate-")).first()
        return GateForm(data, initial={"expected": gate.expected}) if gate else None
    return None


@require_POST
@office_only
def job_change(request: StudioRequest, number: str, group: str) -> HttpResponse:
    row = find_job(number)
    # The link of the customer's page has addresses of its own.
    form = group_form(request, row, group, request.POST) if group != "link" else None
    if form is None:
        raise Http404
    if not carried_out(form, lambda: _change(request, row, group, form.cleaned_data)):
        return page(request, row, edit=group, form=form, status=422)
    messages.success(request, SAID.get(group, "It is saved."))
    return HttpResponse(status=303, headers={"Location": row.get_absolute_url()})


SAID = {
    "cancel": "The job is cancelled.",
    "complete": "The job is complete.",
    "order": "The job is ordered; the floor works on it now.",
    "reopen": "The job is open again.",
    "hold": "The job is held.",
    "workshop": "Another workshop makes it now; the dates follow.",
}


def _change(request: StudioRequest, job: Job, group: str, typed: dict[str, Any]) -> None:
    who: dict[str, Any] = {"by": request.actor, "at": request.now}
    match group:
        case "about":
            job_actions.change_job(job, **typed, **who)
        case "customer":
            customers.change_customer(job.customer, **typed, **who)
        case "site":
            change_site(job, **typed, **who)
        case "hold":
            holds.hold(job, typed["reason"], until=typed["until"], **who)
        case "workshop":
            move_job(job, typed["workshop"], why=typed["why"], **who)
        case "cancel":
            job_actions.cancel_job(job, why=typed["why"], **who)
        case "complete":
            job_actions.complete_job(job, anyway=typed["anyway"], **who)
        case "order":
            job_actions.order_job(job, **who)
        case "reopen":
            job_actions.reopen_job(job, **who)
        case "new-gate":
            gates.set_gate(job, typed["kind"], typed["expected"], **who)
        case "new-panel":
            add_panel(job, draft_of(typed), **who)
        case _:
            gates.set_gate(job, group.removeprefix("gate-"), typed["expected"], **who)


def draft_of(typed: Mapping[str, Any]) -> PanelDraft:
    values = dict(typed)
    return PanelDraft(**values | {"conditions": frozenset(values.get("conditions", ()))})


GATE_VERBS = {"clear": gates.clear_gate, "reopen": gates.reopen_gate, "remove": gates.remove_gate}


@require_POST
@office_only
def gate_do(request: StudioRequest, number: str, kind: str, verb: str) -> HttpResponse:
    """One tap on a gate: it came today, it did not after all, or it is not needed."""
    row = find_job(number)
    if verb not in GATE_VERBS:
        raise Http404
    form = EmptyForm(request.POST)
    act = GATE_VERBS[verb]
    if not carried_out(form, lambda: act(row, kind, by=request.actor, at=request.now)):
        return page(request, row, edit=f"refused-{kind}", form=form, status=422)
    messages.success(
        request, {"clear": "It is cleared.", "reopen": "It is open again."}.get(verb, "It is saved.")
    )
    return HttpResponse(status=303, headers={"Location": row.get_absolute_url()})
