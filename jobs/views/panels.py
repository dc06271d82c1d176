"""The open panels: each against its operations, or those that wait for one station."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.core.paginator import Page, Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from jobs.actions.plan import dates_for_reader
from jobs.estimating.hours import format_hours
from jobs.forms.panels import PanelFilter
from jobs.models import Job, Panel, State, Station, Studio
from jobs.models.matrix import Cell, Listed, Row, list_panels, read_matrix
from jobs.models.scope import scope
from jobs.models.standing import Standing, Work, panels_drawn, read_standing
from jobs.models.waits import Wait, read_waits
from jobs.templatetags.floor import Outline, cell, mark, outline
from jobs.templatetags.studio import day
from jobs.views.access import office_only
from jobs.views.middleware import StudioRequest
from jobs.views.workshops import workshop_key

PAGE = 100


@require_safe
@office_only
def panels(request: StudioRequest) -> HttpResponse:
    slug = request.GET.get("waits", "")
    workshop = workshop_key(request)
    stations = scope(Station.objects.all(), workshop)
    station = get_object_or_404(stations, slug=slug) if slug else None
    plan = dates_for_reader(request.now)
    standing = read_standing(request.now, request.studio, workshop)
    listed = list_panels(standing)
    form = PanelFilter(
        request.GET, standing.jobs.values(), (panel.where for panel in listed), station is not None
    )
    number = request.GET.get("page", "1")
    part = request.htmx and not request.htmx.history_restore_request
    context = {
        "form": form,
        "station": station,
        "stations": stations.filter(active=True),
        "plan_state": plan,
        "part": part,
    }
    if station is not None:
        context |= _waits(standing, station, form, listed, number)
    else:
        context |= _matrix(standing, request.studio, form, listed, number)
    response = render(request, "panels.html#list" if part else "panels.html", context)
    patch_vary_headers(response, ["HX-Request"])
    return response


def _job_fits(job: Job, typed: dict[str, str]) -> bool:
    return (not typed["job"] or job.number == typed["job"]) and (
        not typed["customer"] or str(job.customer_id) == typed["customer"]
    )


@dataclass(frozen=True, slots=True)
class ShownRow:
    row: Row
    drawing: Outline
    columns: list[SafeString]
    late: bool


def _matrix(
    standing: Standing, studio: Studio, form: PanelFilter, listed: list[Listed], number: str
) -> dict[str, Any]:
    chosen: list[Listed] = []
    if form.is_valid():
        typed = form.cleaned_data
        chosen = [
            panel
            for panel in listed
            if _job_fits(standing.jobs[panel.job_id], typed)
            and (not typed["place"] or panel.where == typed["place"])
            and (panel.is_in(typed["state"]) if typed["state"] else not panel.finished)
        ]
    page = Paginator(chosen, PAGE).get_page(number)
    matrix = read_matrix(standing, list(page))
    return {
        "matrix": matrix,
        "rows": [_shown_row(row, studio, timezone.localtime(standing.at).date()) for row in matrix.rows],
        "key": list(State),
        "page": page,
        "jobs": len({panel.job_id for panel in chosen}),
        "left": sum(work.left for panel in chosen for work in panel.works if work.attended),
    }


def _shown_row(row: Row, studio: Studio, today: date) -> ShownRow:
    columns = [
        # Each cell is escaped by the template that made it.
        mark_safe("".join(_shown_cell(one, studio) for one in cells))  # noqa: S308  # nosec B308 B703  # Cells that are rendered, thus escaped.
        for cells in row.cells
    ]
    late = row.promised and row.due is not None and row.due < today
    return ShownRow(row, outline(row.panel), columns, late)


def _shown_cell(one: Cell, studio: Studio) -> SafeString:
    """The state's mark with the hours left; with those over where it is over, and with the day that something which
    takes no hours of ours is back."""
    work, left, over, back = one.work, "", "", ""
    if work is not None and work.attended:
        if work.left or not work.over:
            left = format_hours(work.left, studio.hours)
        if work.over:
            over = format_hours(work.over, studio.hours)
    elif work is not None and work.state == State.ON_BENCH:
        until = work.finished_at or work.finish
        back = day(until) if until else ""
    return cell(one.name, one.state, left, over, back)


@dataclass(frozen=True, slots=True)
class ShownWait:
    """A row of the list: how many calendar days it has waited, and its drawing where it is a panel."""

    wait: Wait
    place: int
    mark: str
    days: int
    panel: Panel | None
    outline: Outline | None
    before: list["ShownBefore"]


@dataclass(frozen=True, slots=True)
class ShownBefore:
    """What it waits for, and until when that is planned to take."""

    work: Work
    mark: str
    until: datetime | None


def _waits(
    standing: Standing, station: Station, form: PanelFilter, listed: list[Listed], number: str
) -> dict[str, Any]:
    chosen: list[Work] = []
    if form.is_valid():
        typed = form.cleaned_data
        where = {panel.pk: panel.where for panel in listed}
        chosen = [
            work
            for work in standing.at_station(station.pk)
            if _job_fits(work.job, typed)
            and (not typed["place"] or where.get(work.panel_id or 0) == typed["place"])
            and (not typed["state"] or work.state == typed["state"])
        ]
    waits = read_waits(standing, station, chosen)
    page = Paginator(waits.waits, PAGE).get_page(number)
    return {"waits": waits, "page": page, "rows": _shown(page, standing)}


def _shown(page: Page[Wait], standing: Standing) -> list[ShownWait]:
    panels = panels_drawn(wait.work.panel_id for wait in page)
    today = timezone.localtime(standing.at).date()
    rows = []
    for place, wait in enumerate(page, page.start_index()):
        panel = panels.get(wait.work.panel_id or 0)
        rows.append(
            ShownWait(
                wait=wait,
                place=place,
                mark=mark(wait.work.state),
                days=(today - timezone.localtime(wait.since).date()).days,
                panel=panel,
                outline=outline(panel) if panel else None,
                before=[
                    ShownBefore(work, mark(work.state), work.finished_at or work.finish)
                    for work in wait.before
                ],
            )
        )
    return rows
