"""What is bought: the list of one job and that of the whole shop, each thing ordered and received in one tap."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import materials as actions
from jobs.actions import purchases
from jobs.forms.jobs import EmptyForm
from jobs.forms.materials import AddForm, ExpectForm, NeedForm, ShopForm
from jobs.forms.workshops import narrow
from jobs.models import Job, Need, Stage, Studio
from jobs.models.scope import scope
from jobs.views.access import office_only
from jobs.views.job import find_job
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out
from jobs.views.workshops import workshop_key


@dataclass(slots=True)
class Row:
    """One thing to buy. `needed_by`: the start of its work by the present plan."""

    need: Need
    words: str
    today: date
    form: BaseForm | None = None
    edit: str = ""

    @property
    def cost(self) -> Decimal | None:
        return None if self.need.price is None else round(self.need.amount * self.need.price, 2)

    @property
    def state(self) -> str:
        if self.need.arrived:
            return "arrived"
        return "ordered" if self.need.ordered else "open"

    @property
    def is_late(self) -> bool:
        """It has to be ordered by now, or comes after the day it is needed by."""
        need = self.need
        if need.arrived:
            return False
        if need.ordered is None:
            return need.order_by is not None and need.order_by < self.today
        return self.is_overdue or bool(need.expected and need.needed_by and need.expected > need.needed_by)

    @property
    def is_overdue(self) -> bool:
        """It is ordered, and the day it was expected has passed: it may still come before it is needed."""
        expected = self.need.expected
        return self.state == "ordered" and expected is not None and expected < self.today


def needs_of_shop(typed: Mapping[str, Any]) -> Any:
    """What open jobs need, by what was asked for in `ShopForm`."""
    needs = needs_of_jobs().filter(job__stage=Stage.ORDERED)
    if not typed.get("show"):
        needs = needs.open()
    return needs.filter(supplier=typed["supplier"]) if typed.get("supplier") else needs


def rows_of(
    needs: Iterable[Need], request: StudioRequest, edit: str = "", form: BaseForm | None = None
) -> list[Row]:
    """The rows in the order in which they have to be ordered; what nobody knows a day for comes after."""
    today, found = timezone.localdate(request.now), []
    needs = list(needs)
    days = purchases.needed_days(needs, at=request.now)
    for need in needs:
        need.needed_by = days.get(need.pk)
        row = Row(need, str(need.what), today)
        verb, _, number = edit.partition("-")
        if number == str(need.pk):
            row.edit, row.form = verb, form if form is not None else _form(need, verb, request.studio)
        found.append(row)
    return sorted(found, key=lambda row: (row.need.order_by or date.max, row.words, row.need.pk))


def total_of(rows: Iterable[Row]) -> Decimal:
    """What the priced ones cost together."""
    return sum((row.cost or Decimal(0) for row in rows), Decimal(0))


def needs_of_jobs() -> Any:
    rows = Need.objects.select_related("job", "panel", "glass", "came", "material", "supplier")
    return rows.select_related("outside__kind").prefetch_related("material__kinds")


def _form(need: Need, verb: str, studio: Studio, data: Any = None) -> BaseForm | None:
    match verb:
        case "change":
            return NeedForm(data, need=need, studio=studio, auto_id=f"change-{need.pk}-%s")
        case "expect":
            return ExpectForm(data, initial={"expected": need.expected}, auto_id=f"expect-{need.pk}-%s")
        case "order" | "receive" | "take-back" | "remove":
            return EmptyForm(data)
    return None


def _add_form(request: StudioRequest, data: Any = None, job: Job | None = None) -> AddForm:
    form = AddForm(data, studio=request.studio, job=job)
    narrow(form, workshop_key(request))
    return form


@require_safe
@office_only
def materials(request: StudioRequest) -> HttpResponse:
    return _shop_page(request, request.GET.get("edit", ""))


def _shop_page(
    request: StudioRequest,
    edit: str = "",
    form: BaseForm | None = None,
    status: int = 200,
    add: AddForm | None = None,
) -> HttpResponse:
    asked = ShopForm(request.GET if request.method == "GET" else {})
    typed = asked.cleaned_data if asked.is_valid() else {}
    rows = rows_of(scope(needs_of_shop(typed), workshop_key(request)), request, edit, form)
    jobs = list({row.need.job_id: row.need.job for row in rows}.values())
    context = {
        "asked": asked,
        "rows": rows,
        "late": sum(row.is_late for row in rows),
        "here": reverse("materials"),
        "whole_shop": True,
        "add": add or _add_form(request),
        "pooled": actions.pooled_came(jobs) if typed.get("together") else None,
    }
    return render(request, "materials.html", context, status=400 if not asked.is_valid() else status)


@require_safe
@office_only
def job_materials(request: StudioRequest, number: str) -> HttpResponse:
    return _job_page(request, find_job(number), request.GET.get("edit", ""))


def _job_page(
    request: StudioRequest,
    job: Job,
    edit: str = "",
    form: BaseForm | None = None,
    status: int = 200,
    add: AddForm | None = None,
) -> HttpResponse:
    rows = rows_of(needs_of_jobs().filter(job=job), request, edit, form)
    context = {
        "job": job,
        "rows": rows,
        "late": sum(row.is_late for row in rows),
        "total": total_of(rows),
        "reckoned": actions.reckon(job) if not rows else None,
        "here": reverse("job-materials", args=[job.number]),
        "form": form if edit == "reckon" else None,
        "add": add or AddForm(studio=request.studio, job=job),
    }
    return render(request, "job_materials.html", context, status=status)


@require_POST
@office_only
def materials_reckon(request: StudioRequest, number: str) -> HttpResponse:
    job, form = find_job(number), EmptyForm(request.POST)
    problems: list[str] = []
    if not carried_out(
        form, lambda: problems.extend(actions.reckon_needs(job, by=request.actor, at=request.now))
    ):
        return _job_page(request, job, "reckon", form, 422)
    for problem in problems:
        messages.warning(request, problem)
    if not problems:
        messages.success(request, "The list is reckoned from the takeoffs.")
    return HttpResponse(status=303, headers={"Location": reverse("job-materials", args=[job.number])})


@require_POST
@office_only
def need_add(request: StudioRequest) -> HttpResponse:
    """A thing put on a job's list by hand, from that list or from the whole shop's."""
    of_job = request.POST.get("list") == "job"
    job = find_job(request.POST.get("job", "")) if of_job else None
    if job is not None and workshop_key(request) not in (None, job.workshop_id):
        raise Http404
    form = _add_form(request, request.POST, job)
    added: list[Need] = []

    def add() -> None:
        typed = dict(form.cleaned_data)
        needed = purchases.add_need(
            typed.pop("job"), typed.pop("what"), **typed, by=request.actor, at=request.now
        )
        added.append(needed)

    if not carried_out(form, add):
        if job is None:
            return _shop_page(request, status=422, add=form)
        return _job_page(request, job, status=422, add=form)
    messages.success(request, f"{added[0].what} is on the list.")
    where = reverse("materials") if job is None else reverse("job-materials", args=[job.number])
    return HttpResponse(status=303, headers={"Location": f"{where}#need-{added[0].pk}"})


@require_POST
@office_only
def need_do(request: StudioRequest, pk: int, verb: str) -> HttpResponse:
    """One tap on a thing, or what was typed about it; back to the list that it was made on."""
    need = get_object_or_404(Need.objects.select_related("job", "supplier"), pk=pk)
    form = _form(need, verb, request.studio, request.POST)
    if form is None:
        raise Http404
    on_shop = request.POST.get("list") == "shop"
    if not carried_out(form, lambda: _do(request, need, verb, form.cleaned_data)):
        edit = f"{verb}-{need.pk}"
        if on_shop:
            return _shop_page(request, edit, form, 422)
        return _job_page(request, need.job, edit, form, 422)
    where = reverse("materials") if on_shop else reverse("job-materials", args=[need.job.number])
    return HttpResponse(status=303, headers={"Location": f"{where}#need-{need.pk}"})


def _do(request: StudioRequest, need: Need, verb: str, typed: dict[str, Any]) -> None:
    who: dict[str, Any] = {"by": request.actor, "at": request.now}
    match verb:
        case "order":
            purchases.order_need(need, **who)
        case "receive":
            purchases.receive_need(need, **who)
        case "take-back":
            purchases.take_back_need(need, **who)
        case "remove":
            purchases.remove_need(need, **who)
        case "expect":
            purchases.expect_need(need, typed["expected"], **who)
        case _:
            purchases.change_need(need, **typed, **who)
