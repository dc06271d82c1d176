"""The rates of each kind of work, what finished work says about them, and the lead's decision."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.actions import rates as verbs
from jobs.actions.learning import ENOUGH, Lesson, read_lessons
from jobs.estimating.learning import Proposal
from jobs.estimating.rates import DRIVERS, KindRates
from jobs.forms.rates import ACCEPT, DecideForm, RateForm, SetupForm
from jobs.models import KindSetup, May, Nature, OperationKind, Rate
from jobs.models.scope import scope
from jobs.planning.student import from_upper_tail
from jobs.snapshot.rates import read_rates
from jobs.views.access import office_only, rates_only
from jobs.views.history import history_about
from jobs.views.middleware import StudioRequest
from jobs.views.rate_picture import draw
from jobs.views.rate_words import a, amount, factor, per
from jobs.views.refusal import carried_out
from jobs.views.workshops import workshop_key

# Fewer finished panels than this say too little to propose anything. Practice, no source.
FEWEST = 5


@dataclass(frozen=True, slots=True)
class Shown:
    """A rate as the page shows it. `seen` is what a form sends back; `doubtful`: outside what is likely."""

    driver: str
    words: str
    now: str
    learned: str
    low: str
    high: str
    panels: int
    seen: str
    doubtful: bool
    left: bool

    @property
    def open(self) -> bool:
        return self.doubtful and not self.left


@dataclass(frozen=True, slots=True)
class Spread:
    """How work of a kind comes out as a multiple of its estimate: the middle, and from where to where eight of ten."""

    middle: float
    low: float
    high: float


def spread_of(lesson: Lesson) -> Spread:
    known = lesson.known
    reach = known.scale * float(from_upper_tail(np.array([0.1]), known.df)[0])
    return Spread(math.exp(known.m), math.exp(known.m - reach), math.exp(known.m + reach))


def _shown(lesson: Lesson, left: dict[tuple[int, str], verbs.Left], units: str) -> list[Shown]:
    rows = []
    for each in lesson.learned.proposals if lesson.learned else ():
        gone = left.get((lesson.kind.pk, each.driver))
        values = (amount(n, each.driver, units) for n in (each.now, each.learned, each.low, each.high))
        now, learned, low, high = values
        rows.append(
            Shown(
                driver=each.driver,
                words=a(each.driver, units),
                now=now,
                learned=learned,
                low=low,
                high=high,
                panels=each.panels,
                seen=f"{each.driver}|{each.learned:.6f}",
                doubtful=_doubtful(each) and now != learned,
                left=gone is not None and gone.covers(each),
            )
        )
    return rows


def _doubtful(each: Proposal) -> bool:
    return each.panels >= FEWEST and not each.low <= each.now <= each.high


def _to_decide(lesson: Lesson, rows: list[Shown]) -> list[Shown]:
    """What the lead is asked about: rates learned as one are accepted or left as one."""
    chosen = [row for row in rows if row.open]
    return rows if chosen and not lesson.by_driver else chosen


@require_safe
@office_only
def rates(request: StudioRequest) -> HttpResponse:
    units, today = request.studio.units, timezone.localdate(request.now)
    left = verbs.left_proposals()
    lines: list[dict[str, Any]] = []
    own = set(scope(OperationKind.objects.all(), workshop_key(request)).values_list("pk", flat=True))
    for lesson in read_lessons(today, request.now):
        if lesson.kind.pk not in own:
            continue
        asked = _to_decide(lesson, _shown(lesson, left, units))
        lines.append({"lesson": lesson, "spread": spread_of(lesson), "asked": asked})
    context = {
        "lines": lines,
        "asked": [line for line in lines if line["asked"]],
        "guessed": any(line["asked"] and not line["lesson"].by_driver for line in lines),
        "enough": ENOUGH,
    }
    return render(request, "rates.html", context)


@require_safe
@office_only
def rate(request: StudioRequest, slug: str) -> HttpResponse:
    return page(request, _kind(slug))


def _history(request: StudioRequest, kind: OperationKind) -> dict[str, Any]:
    address = reverse("rate", args=[kind.slug])
    return history_about(kind, address, request.studio, whole=request.GET.get("history") == "all")


def _kind(slug: str) -> OperationKind:
    return get_object_or_404(OperationKind, slug=slug, nature=Nature.ATTENDED)


def page(
    request: StudioRequest, kind: OperationKind, typed: dict[str, Form] | None = None, status: int = 200
) -> HttpResponse:
    """The page of one kind; `typed` are forms that were refused."""
    units, today = request.studio.units, timezone.localdate(request.now)
    lesson = next(iter(read_lessons(today, request.now, kind)), None)
    present = lesson.present if lesson else KindRates()
    rows = _shown(lesson, verbs.left_proposals(), units) if lesson else []
    context: dict[str, Any] = {
        "kind": kind,
        **_history(request, kind),
        "lesson": lesson,
        "spread": spread_of(lesson) if lesson else None,
        "rows": rows,
        "asked": _to_decide(lesson, rows) if lesson else [],
        "others": _not_learned(present, {row.driver for row in rows}, units),
        "steps": _by_step(present, units),
        "said": _said(kind, units),
        "picture": draw(lesson.points) if lesson else None,
        "points": list(reversed(lesson.points)) if lesson else [],
        "odd": sum(point.odd for point in lesson.points) if lesson else 0,
        "enough": ENOUGH,
        "forms": _forms(request, kind, present) | (typed or {}),
    }
    return render(request, "rate.html", context, status=status)


def _not_learned(present: KindRates, learned: set[str], units: str) -> list[dict[str, str]]:
    """Rates of nothing, which the studio has said do not count."""
    return [
        {"words": a(driver, units), "now": amount(minutes, driver, units)}
        for driver, minutes in present.rates.items()
        if driver not in learned
    ]


def _by_step(present: KindRates, units: str) -> dict[str, Any] | None:
    """The rates of each step, where there are several."""
    if len(present.steps) < 2:
        return None
    drivers = list(present.rates)
    return {
        "drivers": [per(driver, units) for driver in drivers],
        "rows": [
            {
                "name": name or "all together",
                "cells": [amount(step[d], d, units) if d in step else "–" for d in drivers],
            }
            for name, step in present.steps.items()
        ],
    }


def _said(kind: OperationKind, units: str) -> list[dict[str, Any]]:
    """What was said of this kind so far and what will hold later, the newest first."""
    rows: list[Rate | KindSetup] = [
        *KindSetup.objects.filter(kind=kind).select_related("accepted_by"),
        *Rate.objects.filter(kind=kind).select_related("accepted_by"),
    ]
    found = []
    for row in sorted(rows, key=lambda row: row.since, reverse=True):
        driver = row.driver if isinstance(row, Rate) else ""
        found.append(
            {
                "since": row.since,
                "words": a(driver, units),
                "minutes": amount(row.minutes, driver, units),
                "step": row.step if isinstance(row, Rate) else "",
                "slope": row.slope.normalize() if isinstance(row, KindSetup) and row.slope != 1 else None,
                "who": row.accepted_by.get_full_name() or row.accepted_by.username if row.accepted_by else "",
                "note": row.note,
            }
        )
    return found


def _forms(request: StudioRequest, kind: OperationKind, present: KindRates) -> dict[str, Form]:
    if not request.user.may(May.SET_RATES):
        return {}
    return {
        "rate": _rate_form(request, kind, present),
        "setup": SetupForm(
            today=timezone.localdate(request.now),
            initial={"minutes": f"{present.setup:g}", "slope": f"{present.slope:g}"},
        ),
        "decide": DecideForm(),
    }


def _rate_form(request: StudioRequest, kind: OperationKind, present: KindRates, data: Any = None) -> RateForm:
    steps = list(dict.fromkeys([*present.steps, *kind.steps])) or [""]
    drivers = [(driver, per(driver, request.studio.units)) for driver in DRIVERS]
    return RateForm(data, drivers=drivers, steps=steps, today=timezone.localdate(request.now))


@require_POST
@rates_only
def rates_decide(request: StudioRequest, slug: str) -> HttpResponse:
    kind, form = _kind(slug), DecideForm(request.POST)

    def decide() -> None:
        do = verbs.accept_rates if form.cleaned_data["verb"] == ACCEPT else verbs.leave_rates
        do(kind, form.cleaned_data["rate"], by=request.actor, at=request.now)

    if not carried_out(form, decide):
        return page(request, kind, {"decide": form}, 422)
    if form.cleaned_data["verb"] == ACCEPT:
        messages.success(request, f"{kind}: the learned rates hold from today.")
    else:
        messages.success(request, f"{kind}: the present rates stay.")
    return redirect("rates")


@require_POST
@rates_only
def rate_set(request: StudioRequest, slug: str) -> HttpResponse:
    kind = _kind(slug)
    present = read_rates(timezone.localdate(request.now), [kind]).get(slug, KindRates())
    form = _rate_form(request, kind, present, request.POST)

    def write() -> None:
        values = dict(form.cleaned_data)
        # Typed in the unit that is shown, kept per meter and square meter.
        values["minutes"] /= factor(values["driver"], request.studio.units)
        step = values.pop("step", next(iter(present.steps), ""))
        verbs.set_rate(kind, step=step, **values, by=request.actor, at=request.now)

    if not carried_out(form, write):
        return page(request, kind, {"rate": form}, 422)
    messages.success(request, "The rate is saved.")
    return redirect("rate", slug)


@require_POST
@rates_only
def rate_setup(request: StudioRequest, slug: str) -> HttpResponse:
    kind = _kind(slug)
    form = SetupForm(request.POST, today=timezone.localdate(request.now))

    def write() -> None:
        verbs.set_setup(kind, **form.cleaned_data, by=request.actor, at=request.now)

    if not carried_out(form, write):
        return page(request, kind, {"setup": form}, 422)
    messages.success(request, "The set-up is saved.")
    return redirect("rate", slug)
