"""Everything about one panel, changed in place."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import holds, panels
from jobs.actions.operations import add_operation
from jobs.actions.plan import dates_for_reader
from jobs.estimating.glass import glass_kg
from jobs.forms.jobs import EmptyForm, HoldForm
from jobs.forms.operations import AddOperationForm, choosable_in
from jobs.forms.panels_edit import PanelAboutForm, WhereForm
from jobs.forms.photos import PhotoForm
from jobs.models import Breakage, Hold, Panel, PlanState, Projection, TimeEntry
from jobs.views.access import office_only
from jobs.views.history import history_of
from jobs.views.middleware import StudioRequest
from jobs.views.panel_pieces import pieces_shown
from jobs.views.refusal import carried_out
from jobs.views.work import Row, open_editor, picture, read_rows

# Two-handed lifts, before any multiplier: DHHS (NIOSH) 94-110, 51 lb.
HEAVY_KG = Decimal(23)
ENTRIES = 12


def find_panel(number: str, panel: int) -> Panel:
    return get_object_or_404(
        Panel.objects.select_related("job__customer", "route"), job__number=number, number=panel
    )


@require_safe
@office_only
def panel(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    return page(request, find_panel(number, panel), edit=request.GET.get("edit", ""))


def page(
    request: StudioRequest,
    panel: Panel,
    *,
    edit: str = "",
    form: BaseForm | None = None,
    work_forms: Mapping[str, BaseForm] | None = None,
    photo_form: BaseForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The whole page, with the group named by `edit` open; htmx takes out of it what has changed."""
    rows = read_rows(panel.job, panel, request.now)
    open_editor(rows, edit, request.studio, request.actor, work_forms)
    told, more = history_of(
        panel.events.all(), panel.job, request.studio, whole=request.GET.get("history") == "all"
    )
    plan = PlanState.current() if request.htmx or status != 200 else dates_for_reader(request.now)
    context = {
        "panel": panel,
        "job": panel.job,
        "page_url": panel.get_absolute_url(),
        "edit": edit,
        "form": form if form is not None else group_form(request, panel, edit),
        "rows": rows,
        "picture": picture(rows),
        "spent": sum(row.operation.spent for row in rows),  # type: ignore[attr-defined]
        "estimate": sum(row.operation.estimate for row in rows if row.takes_hours),
        "history": told,
        "more_history": more,
        "plan_state": plan,
        "projection": Projection.objects.filter(panel=panel).first(),
        "holds": Hold.objects.filter(Q(panel=panel) | Q(job=panel.job), released_at=None),
        "breakages": Breakage.objects.filter(operation__panel=panel).select_related(
            "operation__kind", "person"
        ),
        "photos": panel.photos.select_related("person", "account"),
        "photo_form": photo_form or PhotoForm(auto_id="photo-%s"),
        **_pieces(request, panel, rows),
        **_pattern(panel),
        **_weights(panel),
        **_entries(panel, request.GET.get("entries") == "all"),
    }
    return render(request, "panel.html", context, status=status)


def _pieces(request: StudioRequest, panel: Panel, rows: list[Row]) -> dict[str, Any]:
    asked, copy = request.GET.get("work", ""), request.GET.get("copy", "")
    return pieces_shown(panel, [row.operation for row in rows], asked, copy, request.now)


def _pattern(panel: Panel) -> dict[str, Any]:
    """Its last pattern and takeoff, without what is drawn and counted in them."""
    heavy = ("lines", "drawing", "measured", "faults")
    return {
        "pattern": panel.patterns.defer(*heavy).last(),
        "takeoff": panel.takeoffs.defer("numbers").last(),
    }


def _weights(panel: Panel) -> dict[str, Any]:
    each = glass_kg(panel.width_mm, panel.height_mm, panel.thickness_mm)
    return {"kg": each, "kg_all": each * panel.copies, "is_heavy": each > HEAVY_KG, "heavy_kg": HEAVY_KG}


def _entries(panel: Panel, whole: bool) -> dict[str, Any]:
    rows = TimeEntry.objects.filter(operation__panel=panel, voided_at=None).order_by("-started_at")
    most = 500 if whole else ENTRIES
    found = list(rows.select_related("person", "operation__kind")[: most + 1])
    return {"entries": found[:most], "more_entries": len(found) > most}


GROUPS = ("about", "where", "hold", "new-work", "remove")


def group_form(request: StudioRequest, panel: Panel, group: str, data: Any = None) -> BaseForm | None:
    match group:
        case "about":
            return PanelAboutForm(data, panel=panel, studio=request.studio)
        case "where":
            return WhereForm(data, initial={"where": panel.where})
        case "hold":
            return HoldForm(data)
        case "new-work":
            return AddOperationForm(data, choosable=choosable_in(panel), panel=panel)
        case "remove":
            return EmptyForm(data)
    return None


@require_POST
@office_only
def panel_change(request: StudioRequest, number: str, panel: int, group: str) -> HttpResponse:
    row = find_panel(number, panel)
    form = group_form(request, row, group, request.POST)
    if form is None:
        raise Http404
    if not carried_out(form, lambda: _change(request, row, group, form.cleaned_data)):
        return page(request, row, edit=group, form=form, status=422)
    messages.success(request, "It is saved." if group != "remove" else f"{row.name} is taken out.")
    if group == "about" and row.operations.filter(finished_at=None).exists():
        _say_what_the_hours_are_of(request, row, form.cleaned_data)
    where = row.job if group == "remove" else row
    return HttpResponse(status=303, headers={"Location": where.get_absolute_url()})


def _say_what_the_hours_are_of(request: StudioRequest, before: Panel, typed: dict[str, Any]) -> None:
    """Another size or number leaves the estimated hours as they were: said, so that nobody takes them for new ones."""
    sizes = ("width_mm", "height_mm", "thickness_mm")
    counts = () if typed["scale_hours"] else ("pieces", "copies")
    if any(getattr(before, name) != typed[name] for name in (*sizes, *counts)):
        messages.warning(
            request,
            "The estimated hours are still those of before: estimate again from the pattern, "
            "or change them at each work.",
        )


def _change(request: StudioRequest, panel: Panel, group: str, typed: dict[str, Any]) -> None:
    by, at = request.actor, request.now
    match group:
        case "about":
            panels.change_panel(panel, **typed, by=by, at=at)
        case "where":
            panels.set_where(panel, typed["where"], by=by, at=at)
        case "hold":
            holds.hold(panel, typed["reason"], until=typed["until"], by=by, at=at)
        case "new-work":
            add_operation(panel.job, panel, **typed, by=by, at=at)
        case "remove":
            panels.remove_panel(panel, by=by, at=at)
