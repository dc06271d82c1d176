"""The bench: names, what the one who tapped theirs does next, and every tap on it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from jobs.actions import Refused, hours, pins
from jobs.actions.timers import unanswered
from jobs.forms.bench import AnswerForm, BreakForm, HoldForm, PersonForm, PiecesForm, ScannedForm
from jobs.forms.photos import BenchPhotoForm
from jobs.forms.workshops import narrow
from jobs.models import Panel, Person, PlanState, Station, TimeEntry
from jobs.models.bench import read_bench, read_names, read_timers
from jobs.models.prepared import Prepared
from jobs.models.scope import scope
from jobs.models.working import LONGEST
from jobs.views import tablet
from jobs.views.access import at_the_bench
from jobs.views.bench_taps import VERBS, Tapped, first_error
from jobs.views.kept import kept_part
from jobs.views.middleware import StudioRequest
from jobs.views.scan import bench_address
from jobs.views.tablet import SeeOther
from jobs.views.workshops import workshop_key

FORMS = {"pieces": PiecesForm, "break": BreakForm, "hold": HoldForm, "photo": BenchPhotoForm}


@dataclass(frozen=True, slots=True)
class Wrong:
    """A tap that was refused: which, on what, why, and what was typed with it."""

    verb: str
    pk: int
    sentence: str
    form: Form | None = None


type Show = Callable[[StudioRequest, Station, Wrong | None], HttpResponse]
type After = Callable[[StudioRequest, Station], HttpResponse]


@require_GET
@at_the_bench
def bench_choose(request: StudioRequest) -> HttpResponse:
    """A tablet goes to its own station; whoever has none chooses."""
    account = request.user
    if not account.is_lead and account.station is not None and "all" not in request.GET:
        return redirect("bench", account.station.slug)
    stations = scope(Station.objects.filter(active=True), workshop_key(request))
    timers = read_timers(request.now, request.studio)
    at_work: dict[int, list[Person]] = {}
    for timer in timers:
        if timer.left_on_since is None and timer.entry.operation.kind.station_id:
            at_work.setdefault(timer.entry.operation.kind.station_id, []).append(timer.entry.person)
    rows = [(station, at_work.get(station.pk, [])) for station in stations]
    return render(request, "bench_choose.html", {"rows": rows, "scanned": _scanned(request)})


@require_GET
@at_the_bench
def bench_page(request: StudioRequest, slug: str) -> HttpResponse:
    station = find_station(slug)
    asked = PersonForm({"person": request.GET.get("pin")})
    narrow(asked, station.workshop_id)
    if tablet.person_of(request) is None and "pin" in request.GET and asked.is_valid():
        return _pin(request, station, asked.cleaned_data["person"], form=PersonForm())
    return _show(request, station)


@require_POST
@at_the_bench
def bench_person(request: StudioRequest, slug: str) -> HttpResponse:
    """A name was tapped; where the studio asks for a PIN, that comes first."""
    station = find_station(slug)
    form = PersonForm(request.POST)
    narrow(form, station.workshop_id)
    if not form.is_valid():
        return show_names(request, station, status=422)
    person, pin = form.cleaned_data["person"], form.cleaned_data["pin"]
    if pins.asked_of(person, request.studio) and not pin:
        if request.htmx:
            return _pin(request, station, person, form=PersonForm())
        # A page of its own, so that going back to it sends nothing again.
        panel = _scanned(request)
        also = {"panel": panel.pk} if panel else {}
        return SeeOther(reverse("bench", args=[station.slug], query={"pin": person.pk, **also}))
    try:
        pins.check_pin(person, pin, by=tablet.actor(request, person), at=request.now)
    except Refused as refusal:
        form.add_error("pin", refusal.sentence)
        return _pin(request, station, person, form=form, status=422)
    # The session keeps its key: the answer to a screen that asks for news with the old one would sign it out.
    tablet.remember(request, person)
    return _after(request, station)


@require_POST
@at_the_bench
def bench_leave(request: StudioRequest, slug: str) -> HttpResponse:
    """Back to the names."""
    tablet.forget(request)
    return _after(request, find_station(slug))


@require_POST
@at_the_bench
def bench_start(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    return tapped(request, slug, pk, "start")


@require_POST
@at_the_bench
def bench_pause(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    return tapped(request, slug, pk, "pause")


@require_POST
@at_the_bench
def bench_put_back(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    return tapped(request, slug, pk, "put-back")


@require_POST
@at_the_bench
def bench_pieces(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    return tapped(request, slug, pk, "pieces")


@require_POST
@at_the_bench
def bench_finish(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    return tapped(request, slug, pk, "finish")


@require_POST
@at_the_bench
def bench_reopen(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    return tapped(request, slug, pk, "reopen")


@require_POST
@at_the_bench
def bench_hold(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    return tapped(request, slug, pk, "hold")


@require_POST
@at_the_bench
def bench_break(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    return tapped(request, slug, pk, "break")


@require_POST
@at_the_bench
def bench_photo(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    return tapped(request, slug, pk, "photo")


@require_POST
@at_the_bench
def bench_release(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    """The hold with this key is over."""
    return tapped(request, slug, pk, "release")


@require_POST
@at_the_bench
def bench_answer(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    """When the timer that was left on really stopped."""
    return tapped(request, slug, pk, "answer")


def find_station(slug: str) -> Station:
    station: Station | None = _STATION.first(slug)
    if station is None:
        raise Http404
    return station


_STATION = Prepared(lambda slug: Station.objects.filter(slug=slug, active=True))


def _scanned(request: StudioRequest) -> Panel | None:
    """The panel whose code was scanned. It goes along through name and PIN, and until something else is tapped."""
    sent = request.POST if request.method == "POST" else request.GET
    form = ScannedForm(sent)
    narrow(form, workshop_key(request))
    return form.cleaned_data["panel"] if sent.get("panel") and form.is_valid() else None


def tapped(
    request: StudioRequest,
    slug: str,
    pk: int,
    name: str,
    show: Show | None = None,
    after: After | None = None,
) -> HttpResponse:
    """What every tap has in common: who, on what, by which form; then the action, or its refusal beside the form.

    `show` and `after` draw the page on which it was tapped, with what was refused and anew.
    """
    show, after = show or _show, after or _after
    station = find_station(slug)
    person = tablet.person_of(request)
    if person is None:
        messages.warning(request, _("Tap your name first."))
        return after(request, station)
    verb = VERBS[name]
    row = verb.row.find(pk, person.pk, station.pk)
    if row is None:
        raise Http404
    form = verb.form(request.POST, request.FILES, auto_id=f"{name}-{pk}-%s")
    if not form.is_valid():
        return show(request, station, Wrong(name, pk, first_error(form), form))
    try:
        said = verb.act(Tapped(row, person, form, by=tablet.actor(request, person), at=request.now))
    except Refused as refusal:
        field = refusal.field if refusal.field in form.fields else None
        form.add_error(field, refusal.sentence)
        return show(request, station, Wrong(name, pk, refusal.sentence, form))
    if said:
        messages.success(request, said)
    return after(request, station)


def _after(request: StudioRequest, station: Station) -> HttpResponse:
    """The page anew; in place where only a part of it was asked for."""
    if request.htmx:
        return _show(request, station)
    panel = _scanned(request)
    return SeeOther(bench_address(station, panel) if panel else reverse("bench", args=[station.slug]))


def _show(request: StudioRequest, station: Station, wrong: Wrong | None = None) -> HttpResponse:
    """The page of a station: names, the question about a timer left on, or the work."""
    person = tablet.person_of(request)
    status = 422 if wrong else 200
    if person is None:
        return show_names(request, station, status)
    entry = unanswered(person, request.now)
    if entry is not None:
        return _question(request, station, person, entry, wrong)

    panel = _scanned(request)

    def read() -> dict[str, Any]:
        page = read_bench(station, person, request.now, request.studio, scanned=panel)
        return {"page": page, "forms": FORMS, "wrong": wrong, "person": person, "station": station}

    if wrong:
        return render_bench(request, station, {"mode": "work", **read()}, status)
    about = (station.pk, person.pk, panel.pk if panel else 0)
    part = kept_part(request, "bench/work.html", about, PlanState.current(), read)
    return render_bench(request, station, {"mode": "work", "part": part, "person": person}, status)


def show_names(request: StudioRequest, station: Station, status: int = 200) -> HttpResponse:
    timers = {timer.entry.person_id: timer for timer in read_timers(request.now, request.studio)}
    people = [
        (person, timers.get(person.pk), pins.asked_of(person, request.studio))
        for person in read_names(station)
    ]
    return render_bench(request, station, {"mode": "names", "people": people}, status)


def _pin(
    request: StudioRequest, station: Station, person: Person, form: Form, status: int = 200
) -> HttpResponse:
    return render_bench(request, station, {"mode": "pin", "asked": person, "form": form}, status)


def _question(
    request: StudioRequest, station: Station, person: Person, entry: TimeEntry, wrong: Wrong | None
) -> HttpResponse:
    stop = hours.proposed_stop(entry, request.now)
    typed = wrong.form if wrong and wrong.verb == "answer" else None
    local = stop.astimezone(request.studio.zone)
    context = {
        "mode": "question",
        "person": person,
        "entry": entry,
        "stop": stop if stop - entry.started_at < LONGEST else None,
        "until_now": entry.is_running and request.now - entry.started_at <= LONGEST,
        "form": typed or AnswerForm(initial={"day": local.date(), "time": local.time()}),
        "wrong": wrong,
    }
    return render_bench(request, station, context, 422 if wrong else 200)


def render_bench(
    request: StudioRequest, station: Station, context: dict[str, Any], status: int
) -> HttpResponse:
    """The bench's page in one of its modes, or only what changes of it."""
    template = "bench.html#body" if request.htmx else "bench.html"
    who_mark = tablet.mark_of(request, context.get("person"))
    panel = _scanned(request)
    always = {"station": station, "idle": tablet.IDLE_SECONDS, "who_mark": who_mark, "scanned": panel}
    if panel and context["mode"] != "work":
        # Of the work only the forms that are about the panel take it along.
        always["scanned_panel"] = panel.pk
    response = render(request, template, context | always, status=status)
    response.headers["Cache-Control"] = "no-store"
    return response
