"""Operations as the pages of a panel and of a job show them: rows in order, a picture of the route, and the verbs."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_POST

from jobs.actions import Actor, bench, holds, operations, turns
from jobs.forms.jobs import EmptyForm, HoldForm, WhyForm
from jobs.forms.operations import EstimateForm, OrderForm, PersonForm, SplitForm, can_be_split
from jobs.models import Hold, Job, Nature, Operation, Panel, State, Studio
from jobs.models.in_order import in_order
from jobs.views.access import office_only
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out

# The picture of a route, in its own units: a pane for each operation, came between them.
CELL, LANE, PANE = 104, 54, 20


@dataclass(slots=True)
class Row:
    """One operation on a page. `after` are the names of what it comes after."""

    operation: Operation
    after: list[str]
    state: str
    holds: list[Hold] = field(default_factory=list)
    # Said at the first open operation of each kind.
    cautions: str = ""
    editor: "dict[str, BaseForm] | None" = None

    @property
    def key(self) -> str:
        return f"work-{self.operation.pk}"

    @property
    def takes_hours(self) -> bool:
        """Whether it takes hours of people: a cure and outside work do not."""
        return not self.operation.skipped and self.operation.kind.nature == Nature.ATTENDED

    @property
    def may_be_first(self) -> bool:
        """Whether it waits for its turn at a station and nobody has put it in front."""
        waits = self.state in (State.READY, State.WAITING) and self.operation.kind.nature == Nature.ATTENDED
        return waits and self.operation.pinned_place is None

    @property
    def is_open(self) -> bool:
        return self.operation.finished_at is None and not self.operation.skipped


def read_rows(job: Job, panel: Panel | None, at: datetime) -> list[Row]:
    """The operations of a panel, or of the whole job, each behind what it comes after. Four queries."""
    found = (
        Operation.objects.filter(job=job, panel=panel)
        .with_state(at)
        .with_hours()
        .with_beyond()
        .select_related("kind__station", "keeper", "pinned_person", "projection__person")
        .prefetch_related("after__kind", "after__panel", "holds")
        .order_by("place", "pk")
    )
    rows: list[Row] = []
    told: set[int] = set()
    for operation in in_order(list(found)):
        operation.job, operation.panel = job, panel
        before = [_name(other, panel) for other in operation.after.all() if not other.skipped]
        shown = operation.state  # type: ignore[attr-defined]
        rest = [hold for hold in operation.holds.all() if hold.released_at is None]
        row = Row(operation, before, shown, rest)
        if row.is_open and operation.kind_id not in told:
            told.add(operation.kind_id)
            row.cautions = operation.kind.cautions
        rows.append(row)
    return rows


def _name(other: Operation, panel: Panel | None) -> str:
    return f"{other} of {other.panel.name}" if other.panel and other.panel != panel else str(other)


@dataclass(frozen=True, slots=True)
class Picture:
    """The route as panes in their came: columns by what comes after what, lanes for what goes side by side."""

    width: int
    height: int
    panes: list[dict[str, Any]]
    lines: list[str]


def picture(rows: list[Row]) -> Picture:
    shown = [row for row in rows if not row.operation.skipped]
    here = {row.operation.pk for row in shown}
    column: dict[int, int] = {}
    place: dict[int, tuple[int, int]] = {}
    lanes: dict[int, int] = {}
    before = {row.operation.pk: [o.pk for o in row.operation.after.all() if o.pk in here] for row in shown}
    for row in shown:
        pk = row.operation.pk
        column[pk] = 1 + max((column.get(other, 0) for other in before[pk]), default=-1)
        lane = lanes.get(column[pk], 0)
        lanes[column[pk]] = lane + 1
        place[pk] = (column[pk] * CELL + CELL // 2, lane * LANE + PANE)
    panes = [
        {"x": place[row.operation.pk][0], "y": place[row.operation.pk][1], "state": row.state}
        | {"name": _short(str(row.operation)), "text_y": place[row.operation.pk][1] + 26}
        for row in shown
    ]
    lines = [
        _line(place[other], place[pk]) for pk, others in before.items() for other in others if other in place
    ]
    return Picture(
        (max(column.values(), default=0) + 1) * CELL, max(lanes.values(), default=1) * LANE, panes, lines
    )


def _line(start: tuple[int, int], stop: tuple[int, int]) -> str:
    (x1, y1), (x2, y2) = start, stop
    return f"M{x1 + 8} {y1}L{x2 - 8} {y2}"


def _short(name: str) -> str:
    return name if len(name) <= 15 else f"{name[:14]}…"


Verb = Callable[[Operation, dict[str, Any], Actor, datetime], object]
_PLAIN = EmptyForm

VERBS: dict[str, tuple[type[BaseForm], Verb, str]] = {
    "estimate": (
        EstimateForm,
        lambda o, d, by, at: operations.change_estimate(o, d["estimate"], why=d["why"], by=by, at=at),
        "The estimate is changed.",
    ),
    "order": (
        OrderForm,
        lambda o, d, by, at: operations.set_order(o, after=d["after"], place=d["place"], by=by, at=at),
        "The order is changed.",
    ),
    "person": (
        PersonForm,
        lambda o, d, by, at: turns.pin_person(o, d["person"], by=by, at=at),
        "Noted whose work it is.",
    ),
    "split": (
        SplitForm,
        lambda o, d, by, at: operations.split_operation(
            o, pieces=d.get("pieces") or 0, minutes=d["minutes"], by=by, at=at
        ),
        "There are two parts now.",
    ),
    "skip": (
        WhyForm,
        lambda o, d, by, at: operations.skip_operation(o, why=d["why"], by=by, at=at),
        "It is skipped.",
    ),
    "early": (
        WhyForm,
        lambda o, d, by, at: turns.allow_early(o, why=d["why"], by=by, at=at),
        "It may start early.",
    ),
    "hold": (
        HoldForm,
        lambda o, d, by, at: holds.hold(o, d["reason"], until=d["until"], by=by, at=at),
        "It is held.",
    ),
    "wait": (_PLAIN, lambda o, d, by, at: turns.make_wait(o, by=by, at=at), "It waits again."),
    "first": (_PLAIN, lambda o, d, by, at: turns.put_first(o, by=by, at=at), "It is first at its station."),
    "by-rule": (_PLAIN, lambda o, d, by, at: turns.unpin(o, by=by, at=at), "It takes its turn by the rule."),
    "take-up": (
        _PLAIN,
        lambda o, d, by, at: operations.unskip_operation(o, by=by, at=at),
        "It is taken up again.",
    ),
    "send-out": (_PLAIN, lambda o, d, by, at: turns.send_out(o, by=by, at=at), "It is out."),
    "not-out": (_PLAIN, lambda o, d, by, at: turns.not_out(o, by=by, at=at), "It is not out."),
    "came-back": (_PLAIN, lambda o, d, by, at: turns.came_back(o, by=by, at=at), "It is back."),
    "reopen": (_PLAIN, lambda o, d, by, at: bench.reopen(o, by=by, at=at), "It is open again."),
}


def make_form(verb: str, operation: Operation, studio: Studio, data: Any = None) -> BaseForm:
    options: dict[str, Any] = {"prefix": verb}
    kind = VERBS[verb][0]
    if kind in (EstimateForm, OrderForm, PersonForm, SplitForm):
        options["operation"] = operation
    if kind is EstimateForm:
        options["studio"] = studio
    return kind(data, **options)


def open_editor(
    rows: list[Row], edit: str, studio: Studio, by: Actor, typed: Mapping[str, BaseForm] | None = None
) -> None:
    """Give the row that is edited the forms of its verbs, with what was typed in the one that was refused."""
    for row in rows:
        if row.key == edit:
            row.editor = {
                verb.replace("-", "_"): (typed or {}).get(verb) or make_form(verb, row.operation, studio)
                for verb in _verbs_of(row, by)
            } | {verb.replace("-", "_"): form for verb, form in (typed or {}).items()}


def _verbs_of(row: Row, by: Actor) -> list[str]:
    """The verbs that make sense for an operation as it is; whether they may be done, the actions say."""
    operation, nature = row.operation, row.operation.kind.nature
    if operation.skipped:
        return ["take-up"]
    if operation.finished_at is not None:
        return ["reopen"] if by.is_lead and nature == Nature.ATTENDED else []
    verbs = ["estimate", "order"]
    if nature == Nature.ATTENDED:
        verbs += ["person", "first"] + (["by-rule"] if operation.pinned_place is not None else [])
    if nature == Nature.OUTSIDE:
        verbs += ["not-out", "came-back"] if operation.started_at else ["send-out"]
    if can_be_split(operation):
        verbs.append("split")
    if by.is_lead:
        verbs.append("wait" if operation.early else "early")
    if row.state != State.HELD:
        verbs.append("hold")
    return [*verbs, "skip"]


@require_POST
@office_only
def operation_do(request: StudioRequest, number: str, pk: int, verb: str) -> HttpResponse:
    """Carry out one verb on an operation, and show its page again, with what was refused beside what was typed."""
    from jobs.views import job as job_view
    from jobs.views import panel as panel_view

    if verb not in VERBS:
        raise Http404
    rows = Operation.objects.select_related("job__customer", "panel", "kind__station", "pinned_person")
    operation = get_object_or_404(rows, pk=pk, job__number=number)
    form = make_form(verb, operation, request.studio, request.POST)
    act, said = VERBS[verb][1:]
    done = carried_out(form, lambda: act(operation, form.cleaned_data, request.actor, request.now))
    if done:
        messages.success(request, f"{operation}: {said[0].lower()}{said[1:]}")
        key = "" if verb in ("skip", "came-back") else f"?edit=work-{pk}#work-{pk}"
        key = "" if verb not in ("first", "by-rule", "early", "wait") else key
        thing = operation.panel or operation.job
        return HttpResponse(status=303, headers={"Location": thing.get_absolute_url() + key})
    edit, typed = f"work-{pk}", {verb: form}
    if operation.panel is None:
        return job_view.page(request, operation.job, edit=edit, work_forms=typed, status=422)
    operation.panel.job = operation.job
    return panel_view.page(request, operation.panel, edit=edit, work_forms=typed, status=422)


@require_POST
@office_only
def hold_release(request: StudioRequest, number: str, pk: int) -> HttpResponse:
    held = get_object_or_404(
        Hold.objects.select_related("operation__panel", "operation__job", "panel"), pk=pk
    )
    thing: Any = held.operation or held.panel or held.job
    owner = thing if isinstance(thing, Job) else thing.job
    if owner.number != number:
        raise Http404
    form = EmptyForm(request.POST)
    if carried_out(form, lambda: holds.release(held, by=request.actor, at=request.now)):
        messages.success(request, "It is released.")
    else:
        messages.error(request, " ".join(map(str, form.non_field_errors())))
    shown = thing.panel or owner if isinstance(thing, Operation) else thing
    return HttpResponse(status=303, headers={"Location": shown.get_absolute_url()})
