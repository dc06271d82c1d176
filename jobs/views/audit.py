"""All that was written down: who changed what, when, from what to what, and why. On a page, and as CSV."""

import csv
import json
from collections.abc import Iterator
from datetime import datetime, time, timedelta
from typing import Any, cast
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.apps import apps
from django.db.models import Q, QuerySet
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.exports.cells import guarded, without_addresses
from jobs.forms.history import HistoryForm
from jobs.models import Event
from jobs.views.access import set_up_only
from jobs.views.history import told_everywhere
from jobs.views.middleware import StudioRequest

SHOWN, AT_ONCE = 50, 2000
HEAD = (
    "id", "at", "account", "person", "done", "table", "number", "job", "panel", "before", "after", "why"
)  # fmt: skip


@require_safe
@set_up_only
def history(request: StudioRequest) -> HttpResponse:
    """The newest first, a page at a time."""
    form = _form(request)
    rows = _found(form, request.studio.zone)
    before = request.GET.get("before", "")
    if before.isdecimal() and len(before) < 19:
        rows = rows.filter(pk__lt=int(before))
    events = list(rows[: SHOWN + 1]) if form.is_valid() else []
    asked = {name: value for name, value in request.GET.items() if name in form.fields and value}
    context = {
        "form": form,
        "told": told_everywhere(events[:SHOWN], request.studio),
        "asked": urlencode(asked),
        "older": urlencode(asked | {"before": events[SHOWN - 1].pk}) if len(events) > SHOWN else "",
        "newest": "before" not in request.GET,
    }
    return render(request, "history.html", context, status=200 if form.is_valid() else 422)


@require_safe
@set_up_only
def history_csv(request: StudioRequest) -> HttpResponse:
    """What was looked for, all of it, the oldest first; sent while it is read, so that it needs little memory."""
    form = _form(request)
    if not form.is_valid():
        return history(request)
    rows = _found(form, request.studio.zone).order_by("pk")
    lines = _lines(rows, request.studio.zone)
    response = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    day = timezone.localdate(request.now)
    response["Content-Disposition"] = f'attachment; filename="history-{day:%Y-%m-%d}.csv"'
    response["Cache-Control"] = "no-store, private"
    return cast(HttpResponse, response)  # It can do all that one has to here.


def _form(request: StudioRequest) -> HistoryForm:
    return HistoryForm(request.GET, subjects=_subjects())


def _subjects() -> list[tuple[str, str]]:
    models = apps.get_app_config("jobs").get_models()
    found = [(str(model._meta.model_name), str(model._meta.verbose_name)) for model in models]
    return sorted([*found, ("group", "group")], key=lambda each: each[1])


def _found(form: HistoryForm, zone: ZoneInfo) -> QuerySet[Event]:
    """The events that were looked for, in the order in which they were written; none for what is typed wrong."""
    if not form.is_valid():
        return Event.objects.none()
    typed, rows = form.cleaned_data, Event.objects.order_by("-pk")
    named = {
        "job__number": typed["job"],
        "panel__number": typed["panel"],
        "subject": typed["subject"],
        "subject_id": typed["number"],
        "account": typed["account"],
    }
    rows = rows.filter(**{name: value for name, value in named.items() if value})
    if person := typed["person"]:
        rows = rows.filter(Q(person=person) | Q(subject="person", subject_id=person.pk))
    if typed["first"]:
        rows = rows.filter(at__gte=datetime.combine(typed["first"], time(), zone))
    if typed["last"]:
        rows = rows.filter(at__lt=datetime.combine(typed["last"] + timedelta(days=1), time(), zone))
    return rows.select_related("account", "person", "job", "panel__job").defer("panel__drawing")


class _Line:
    """What a csv.writer writes to: it gives the line back."""

    def write(self, line: str) -> str:
        return line


def _lines(rows: QuerySet[Event], zone: ZoneInfo) -> Iterator[str]:
    writer = csv.writer(_Line())
    yield "\ufeff" + writer.writerow(HEAD)
    for event in rows.iterator(chunk_size=AT_ONCE):
        yield writer.writerow([guarded(cell) for cell in _cells(event, zone)])


def _cells(event: Event, zone: ZoneInfo) -> list[str]:
    account = event.account
    return [
        str(event.pk),
        event.at.astimezone(zone).isoformat(),
        account.username if account else "",
        event.person.name if event.person else "",
        event.verb,
        event.subject,
        str(event.subject_id),
        event.job.number if event.job else "",
        event.panel.code if event.panel else "",
        _json(event.before),
        _json(event.after),
        event.why,
    ]


def _json(values: Any) -> str:
    return without_addresses(json.dumps(values, ensure_ascii=False)) if values else ""
