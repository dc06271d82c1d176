"""Something changed: the six small forms of the lead, which dates each would move, and what holds now."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.actions import Refused
from jobs.actions.day_changes import Moved, confirm, fingerprint, tried
from jobs.actions.taking_back import take_back
from jobs.actions.whatif import Effect
from jobs.forms.day_changes import FORMS, ChangeForm
from jobs.models import ChangeKind, DayChange
from jobs.models.day_changes import read_lasting
from jobs.models.known_away import read_known_away
from jobs.views.access import lead_only
from jobs.views.date_whatif import shown
from jobs.views.middleware import StudioRequest
from jobs.views.workshops import typed_in, workshop_key

# What each is called as the lead would say it, and what it does, in a line.
SAID: dict[ChangeKind, tuple[str, str]] = {
    ChangeKind.ILL: ("Somebody is ill", "Until a day; their timer stops."),
    ChangeKind.MOVED: ("Somebody goes to another bench", "Now, until a day; what they are at is paused."),
    ChangeKind.DOWN: ("A machine is down", "The station has a bench less until a day."),
    ChangeKind.LATE: ("A supplier is late", "Glass, tempering, an approval: it comes on another day."),
    ChangeKind.RUSH: ("A rush job", "It goes first at every station."),
    ChangeKind.SATURDAY: ("Saturday work", "Extra hours on a day for whoever comes."),
}


@require_safe
@lead_only
def changed(request: StudioRequest) -> HttpResponse:
    kinds = [(kind, *words) for kind, words in SAID.items()]
    today = timezone.localdate(request.now)
    workshop = workshop_key(request)
    lasting = read_lasting(today, workshop)
    away = read_known_away(today, lasting, workshop)
    return render(request, "changed.html", {"kinds": kinds, "lasting": lasting, "away": away})


@require_http_methods(["GET", "HEAD", "POST"])
@lead_only
def change_say(request: StudioRequest, kind: str) -> HttpResponse:
    """GET shows the form, and with what was typed the dates it moves; POST of the same writes it down."""
    if kind not in ChangeKind.values:
        raise Http404
    which = ChangeKind(kind)
    form = FORMS[which](request.POST if request.method == "POST" else typed_in(request), at=request.now)
    form.narrow(workshop_key(request))
    context: dict[str, Any] = {"form": form, "kind": which, "title": SAID[which][0], "help": SAID[which][1]}
    wrong = False
    if form.is_bound and form.is_valid():
        try:
            if request.method == "POST" and "seen" in request.POST:
                seen = request.POST["seen"]
                confirm(form.asked(), seen=seen, by=request.actor, at=request.now)
                messages.success(request, "Written down. The dates are made anew.")
                return redirect("floor")
            context |= _dates(form, tried(form.asked(), at=request.now), request)
        except Moved as meanwhile:
            wrong = True
            context |= _dates(form, meanwhile.effect, request) | {"meanwhile": meanwhile.sentence}
        except Refused as refused:
            form.add_error(refused.field if refused.field in form.fields else None, refused.sentence)
    return render(request, "changed_say.html", context, status=422 if form.errors or wrong else 200)


def _dates(form: ChangeForm, effect: Effect, request: StudioRequest) -> dict[str, Any]:
    found = shown(effect, timezone.localdate(request.now))
    rows = found.pop("rows")
    return found | {
        "moves": True,
        "seen": fingerprint(effect),
        "losers": [row for row in rows if not row.wins],
        "winners": [row for row in rows if row.wins],
        "broken": [row for row in rows if row.breaks],
        "typed": [(name, value) for name in form.fields for value in _typed(request, name)],
    }


def _typed(request: StudioRequest, name: str) -> list[str]:
    return (request.POST if request.method == "POST" else request.GET).getlist(name)


@require_POST
@lead_only
def change_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    try:
        take_back(get_object_or_404(DayChange, pk=pk), by=request.actor, at=request.now)
        messages.success(request, "Taken back. The dates are made anew.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("floor")
