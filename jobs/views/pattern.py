"""The pattern of a panel: a drawing uploaded, asked about, given its glass and accepted; and the takeoff."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import Refused, estimates, patterns, takeoffs
from jobs.actions.pattern_glass import thickness_to_come
from jobs.documents.pieces_shown import piece_rows
from jobs.estimating.linework import MOST_BYTES
from jobs.estimating.takeoff import Takeoff
from jobs.forms.jobs import EmptyForm
from jobs.forms.pattern import AcceptForm, AnswersForm, GlassesForm, TakeoffForm, UploadForm
from jobs.models import Operation, OperationKind, Panel, Pattern, QuoteSettings
from jobs.views.access import office_only
from jobs.views.middleware import StudioRequest
from jobs.views.panel import find_panel
from jobs.views.pattern_picture import picture_of, sizes_of
from jobs.views.refusal import carried_out
from jobs.views.takeoff_words import takeoff_words

Forms = dict[str, BaseForm]


@require_safe
@office_only
def pattern(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    row = find_panel(number, panel)
    asked = request.GET.get("version", "")
    return page(
        request, row, _version(row, int(asked)) if asked.isdecimal() and len(asked) < 7 else _last(row)
    )


def _last(panel: Panel) -> Pattern | None:
    return panel.patterns.select_related("came", "border", "uploaded_by", "accepted_by").last()


def _version(panel: Panel, version: int) -> Pattern:
    rows = panel.patterns.select_related("came", "border", "uploaded_by", "accepted_by")
    return get_object_or_404(rows, version=version)


def page(
    request: StudioRequest,
    panel: Panel,
    shown: Pattern | None,
    *,
    forms: Forms | None = None,
    status: int = 200,
) -> HttpResponse:
    """The whole page about one pattern of the panel, with the forms that were refused as they were typed."""
    all_versions = list(panel.patterns.defer("lines", "drawing", "measured", "faults"))
    context: dict[str, Any] = {
        "panel": panel,
        "job": panel.job,
        "versions": all_versions,
        "shown": shown,
        "forms": {"upload": UploadForm(), **_takeoff_form(request, panel)} | (forms or {}),
        "open_takeoff": bool(forms and "takeoff" in forms),
        **_takeoff(request, panel),
    }
    if shown is not None:
        shown.panel = panel
        last = shown.version == max(row.version for row in all_versions)
        context["changeable"] = last and shown.accepted_at is None
        to_come = thickness_to_come(shown) if context["changeable"] else None
        context["thickness"] = to_come if to_come != panel.thickness_mm else None
        context["forms"] = _pattern_forms(request, shown) | context["forms"]
        context |= {"picture": picture_of(shown, request.studio), "sizes": sizes_of(shown, request.studio)}
        context |= piece_rows(shown, request.studio, whole=request.GET.get("pieces") == "all")
    return render(request, "pattern.html", context, status=status)


def _pattern_forms(request: StudioRequest, shown: Pattern) -> Forms:
    return {
        "answer": AnswersForm(pattern=shown, sizes=sizes_of(shown, request.studio), studio=request.studio),
        "glass": GlassesForm(pattern=shown, studio=request.studio),
        "accept": AcceptForm(),
    }


def _takeoff_form(request: StudioRequest, panel: Panel, data: Any = None) -> Forms:
    return {"takeoff": TakeoffForm(data, panel=panel, start=_start(panel), studio=request.studio)}


def _start(panel: Panel) -> Takeoff | None:
    """What holds, else what is proposed; nothing where the studio has no came to propose with."""
    try:
        return takeoffs.current_takeoff(panel) or takeoffs.proposed_takeoff(panel)
    except Refused:
        return None


def _takeoff(request: StudioRequest, panel: Panel) -> dict[str, Any]:
    row = panel.takeoffs.select_related("pattern", "by").last()
    if row is None:
        return {"takeoff": None}
    numbers = Takeoff.from_json(row.numbers)
    limit = float(QuoteSettings.current().bars_above_m2) * 1e6
    return {
        "takeoff": row,
        "takeoff_words": takeoff_words(numbers, request.studio),
        "needs_bars": numbers.exceeds(limit),
        "estimated": _hours(request, panel, numbers),
    }


def _hours(request: StudioRequest, panel: Panel, takeoff: Takeoff) -> list[dict[str, Any]]:
    """The hours that each kind of work has now, and those that follow from the takeoff."""
    rows = panel.operations.filter(skipped=False, breakage=None).order_by("place", "pk")
    now: dict[OperationKind, int] = {}
    for operation in rows.select_related("kind"):
        now[operation.kind] = now.get(operation.kind, 0) + operation.estimate
    then = estimates.estimate_panel(panel, takeoff, on=timezone.localdate(request.now), kinds=now)
    return [
        {"kind": kind, "now": minutes, "then": then[kind.slug], "differs": minutes != then[kind.slug]}
        for kind, minutes in now.items()
        if then.get(kind.slug)
    ]


@require_POST
@office_only
def pattern_upload(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    row = find_panel(number, panel)
    form = UploadForm(request.POST, request.FILES)

    def upload() -> None:
        file = form.cleaned_data["file"]
        # One byte more than is read tells the action that the file is too large, without reading all of it.
        data = file.read(MOST_BYTES + 1)
        patterns.upload_pattern(row, file.name, data, by=request.actor, at=request.now)

    if not carried_out(form, upload):
        return page(request, row, _last(row), forms={"upload": form}, status=422)
    return _to_page(row, "")


@require_POST
@office_only
def pattern_do(request: StudioRequest, number: str, panel: int, version: int, verb: str) -> HttpResponse:
    """Answer its questions, tell its glass, accept it, or take it back."""
    row = find_panel(number, panel)
    shown = _version(row, version)
    shown.panel = row
    form = _form(request, shown, verb)
    if not carried_out(form, _action(request, shown, verb, form)):
        # What was refused because the pattern is gone is shown on the page of the one that is left.
        kept = _last(row) if not Pattern.objects.filter(pk=shown.pk).exists() else _version(row, version)
        return page(request, row, kept, forms={verb.replace("-", "_"): form}, status=422)
    if verb == "accept":
        messages.success(
            request, f"Pattern {version} is accepted: it is the panel’s drawing and takeoff now."
        )
    elif verb == "take-back":
        messages.success(request, f"Pattern {version} is taken back.")
    return _to_page(row, {"answer": "#questions", "glass": "#glass"}.get(verb, ""))


def _form(request: StudioRequest, shown: Pattern, verb: str) -> BaseForm:
    match verb:
        case "answer":
            sizes = sizes_of(shown, request.studio)
            return AnswersForm(request.POST, pattern=shown, sizes=sizes, studio=request.studio)
        case "glass":
            return GlassesForm(request.POST, pattern=shown, studio=request.studio)
        case "accept" | "take-back":
            return AcceptForm(request.POST)
    raise Http404


def _action(request: StudioRequest, shown: Pattern, verb: str, form: Any) -> Callable[[], object]:
    by, at = request.actor, request.now
    match verb:
        case "answer":
            return lambda: patterns.answer_pattern(shown, form.answers(), by=by, at=at)
        case "glass":
            return lambda: patterns.map_fills(shown, form.fills(), by=by, at=at)
        case "accept":
            return lambda: patterns.accept_pattern(shown, **form.cleaned_data, by=by, at=at)
    return lambda: patterns.take_back(shown, by=by, at=at)


@require_POST
@office_only
def takeoff_write(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    row = find_panel(number, panel)
    forms = _takeoff_form(request, row, request.POST)
    form: Any = forms["takeoff"]

    def write() -> None:
        takeoffs.set_takeoff(row, form.quantities(), by=request.actor, at=request.now)

    if not carried_out(form, write):
        return page(request, row, _last(row), forms=forms, status=422)
    messages.success(request, "The takeoff is saved.")
    return _to_page(row, "#takeoff")


@require_POST
@office_only
def takeoff_apply(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    """Give the panel's work the hours of its takeoff."""
    row = find_panel(number, panel)
    form = EmptyForm(request.POST)
    changed: list[Operation] = []

    def apply() -> None:
        changed.extend(estimates.apply_estimates(row, by=request.actor, at=request.now))

    if not carried_out(form, apply):
        return page(request, row, _last(row), forms={"apply": form}, status=422)
    told = ", ".join(str(operation) for operation in changed)
    messages.success(
        request,
        f"Estimated by the takeoff: {told}." if changed else "Nothing that has not begun had other hours.",
    )
    return _to_page(row, "#takeoff")


def _to_page(panel: Panel, anchor: str) -> HttpResponse:
    address = reverse("pattern", args=[panel.job.number, panel.number])
    return HttpResponse(status=303, headers={"Location": address + anchor})
