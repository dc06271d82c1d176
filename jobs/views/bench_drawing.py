"""The drawing of a panel at the bench: its pieces are marked on it, or in the list beneath it."""

from typing import Any

from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from jobs.forms.bench_drawing import BrokeForm
from jobs.models import Operation, Person, Station, TimeEntry
from jobs.models.reach import OPERATIONS
from jobs.snapshot.pieces import Key, Pieces, levels, read_left, read_pieces
from jobs.views import tablet
from jobs.views.access import at_the_bench
from jobs.views.bench import Wrong, find_station, render_bench, show_names, tapped
from jobs.views.middleware import StudioRequest
from jobs.views.piece_picture import broken_words, drawn_pieces, elsewhere_words, level_signs, level_words
from jobs.views.tablet import SeeOther


@require_GET
@at_the_bench
def bench_drawing(request: StudioRequest, slug: str, pk: int, copy: int) -> HttpResponse:
    return _show(request, find_station(slug), pk, copy)


@require_GET
@at_the_bench
def bench_drawing_marks(request: StudioRequest, slug: str, pk: int, copy: int) -> HttpResponse:
    """How far the pieces of one copy are, for a drawing that is on the screen already."""
    operation = _operation(pk, find_station(slug), tablet.person_of(request))
    known = _pieces(request, operation, copy)
    marks = _marks(known, copy, levels(operation, known.pattern))
    head = render_to_string("bench/drawing_head.html", _head(request, operation, known, marks), request)
    return JsonResponse(marks | {"head": head}, headers={"Cache-Control": "no-store"})


@require_POST
@at_the_bench
def bench_mark(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    """Some pieces are done at a step, or are not after all."""
    return _tapped(request, slug, pk, "mark")


@require_POST
@at_the_bench
def bench_broke(request: StudioRequest, slug: str, pk: int) -> HttpResponse:
    """These very pieces broke."""
    return _tapped(request, slug, pk, "broke")


def _tapped(request: StudioRequest, slug: str, pk: int, name: str) -> HttpResponse:
    asked = request.POST.get("copy", "")
    copy = int(asked) if asked.isdecimal() and len(asked) < 4 else 1

    def after(_: StudioRequest, station: Station) -> HttpResponse:
        return SeeOther(reverse("bench-drawing", args=[station.slug, pk, copy]))

    def show(_: StudioRequest, station: Station, wrong: Wrong | None) -> HttpResponse:
        return _show(request, station, pk, copy, wrong)

    return tapped(request, slug, pk, name, show, after)


def _operation(pk: int, station: Station, person: Person | None) -> Operation:
    if OPERATIONS.find(pk, person.pk if person else 0, station.pk) is None:
        raise Http404
    rows = Operation.objects.select_related("job", "panel__job", "kind__station", "keeper", "breakage")
    return get_object_or_404(rows, pk=pk)


def _pieces(request: StudioRequest, operation: Operation, copy: int) -> Pieces:
    known = read_pieces(operation, request.now)
    if known is None or operation.panel is None or not 1 <= copy <= operation.panel.copies:
        raise Http404("There is no measured pattern of it.")
    return known


def _show(
    request: StudioRequest, station: Station, pk: int, copy: int, wrong: Wrong | None = None
) -> HttpResponse:
    person = tablet.person_of(request)
    if person is None:
        return show_names(request, station)
    operation = _operation(pk, station, person)
    known = _pieces(request, operation, copy)
    assert operation.panel is not None  # It has pieces.
    level = levels(operation, known.pattern)
    marks = _marks(known, copy, level)
    context = {
        "mode": "drawing",
        "person": person,
        "panel": operation.panel,
        "known": known,
        "copy": copy,
        "copies": range(1, operation.panel.copies + 1),
        "marks": marks,
        "drawing": drawn_pieces(known, operation.panel, copy, level),
        "ticked": wrong.form.cleaned_data.get("numbers", []) if wrong and wrong.form else [],
        "broke": wrong.form if wrong and wrong.verb == "broke" else BrokeForm(auto_id="broke-%s"),
        "step": _step(known, wrong, marks["done"]),
        "wrong": wrong,
        **_head(request, operation, known, marks),
    }
    return render_bench(request, station, context, 422 if wrong else 200)


def _marks(known: Pieces, copy: int, level: dict[Key, int]) -> dict[str, Any]:
    """What the page's script is told of one copy, and how many pieces of all copies each step has done."""
    of_copy = {number: count for (of, number), count in level.items() if of == copy}
    return {
        "levels": of_copy,
        "broken": {n: broken_words(words) for (of, n), words in known.broken.items() if of == copy},
        "elsewhere": {n: elsewhere_words(words) for (of, n), words in known.elsewhere.items() if of == copy},
        "words": level_words(known.steps),
        "signs": level_signs(known.steps),
        "done": [sum(count > place for count in level.values()) for place in range(len(known.steps))],
        "closed": known.operation.finished_at is not None,
    }


def _step(known: Pieces, wrong: Wrong | None, done: list[int]) -> str:
    """The step that is chosen at first: the one that was sent, or the first that is not done for all."""
    typed = wrong.form.data.get("step") if wrong and wrong.form else None
    if typed in known.steps:
        return str(typed)
    open_steps = (
        step for step, count in zip(known.steps, done, strict=True) if count < known.operation.quantity
    )
    return next(open_steps, known.steps[-1])


def _head(
    request: StudioRequest, operation: Operation, known: Pieces, marks: dict[str, Any]
) -> dict[str, Any]:
    """What stands above the drawing and changes with it."""
    person = tablet.person_of(request)
    named = marks["done"][-1]
    return {
        "operation": operation,
        "left": operation.quantity - operation.quantity_done,
        "minutes_left": 0 if operation.finished_at else read_left(operation, request.now),
        "unnamed": operation.quantity_done - named,
        "steps": list(zip(known.steps, marks["done"], strict=True)) if len(known.steps) > 1 else [],
        "timer": TimeEntry.objects.running().filter(operation=operation, person=person).first(),
    }
