"""What if: changes tried out beside today's plan; nothing is written until it is confirmed."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_http_methods

from jobs import planning
from jobs.actions import Refused
from jobs.actions.whatif import Effect, Wishes, carry_out, stand
from jobs.forms.dates import WhatIfForm
from jobs.forms.workshops import narrow
from jobs.models import Job
from jobs.views.access import office_only
from jobs.views.date_rows import Axis, axis_between, short
from jobs.views.middleware import StudioRequest
from jobs.views.workshops import typed_in, workshop_key


@dataclass(frozen=True, slots=True)
class MovedRow:
    """One job: the day that holds and the chance of its promise, today and with the changes. `days` later, if above
    zero; None for a job that is new."""

    job: Job | None
    due: str
    before: planning.Window | None
    after: planning.Window
    day_before: str
    day_after: str
    days: int | None
    chance_before: float | None
    chance_after: float | None
    breaks: bool
    saved: bool
    promised: date | None

    @property
    def away(self) -> int:
        return abs(self.days or 0)

    @property
    def wins(self) -> bool:
        """Whether it is ready on an earlier day, or on the same with a better chance."""
        if self.days:
            return self.days < 0
        return (self.chance_after or 0) > (self.chance_before or 0)


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def what_if(request: StudioRequest) -> HttpResponse:
    """GET tries out what the query says; POST writes the same down."""
    form = WhatIfForm(typed_in(request), at=request.now)
    narrow(form, workshop_key(request))
    context: dict[str, Any] = {"form": form, "refused": None, "wishes": None}
    if form.is_bound and form.is_valid():
        wishes = _wishes(form.cleaned_data, timezone.localdate(request.now), workshop_key(request))
        if request.method == "POST":
            try:
                for sentence in carry_out(wishes, by=request.actor, at=request.now):
                    messages.success(request, sentence)
                return redirect("dates")
            except Refused as refused:
                context["refused"] = refused.sentence
        context |= _tried(wishes, request)
    status = 422 if form.errors or context["refused"] or request.method == "POST" else 200
    part = request.htmx and not request.htmx.history_restore_request
    response = render(
        request, "dates_what_if.html#page" if part else "dates_what_if.html", context, status=status
    )
    patch_vary_headers(response, ["HX-Request"])
    return response


def _wishes(typed: dict[str, Any], today: date, workshop: int | None) -> Wishes:
    saturday = today + timedelta(days=(5 - today.weekday()) % 7)
    return Wishes(
        away=list(typed["away"]),
        away_until=typed["away_until"],
        gate=typed["gate"],
        gate_day=typed["gate_day"],
        outside=typed["outside"],
        outside_days=typed["outside_days"] or 0,
        extra_days=[saturday + timedelta(days=7 * number) for number in range(typed["saturdays"] or 0)],
        extra_people=list(typed["saturday_people"]),
        trained=typed["trained"],
        trained_at=typed["trained_at"],
        trained_pace=float(typed["trained_pace"] or 1),
        first=typed["first"],
        more_people=typed["more_people"],
        more_benches=typed["more_benches"],
        route=typed["route"],
        pieces=typed["pieces"] or 1,
        new_due=typed["new_due"],
        rush=typed["rush"],
        workshop=workshop,
    )


def _tried(wishes: Wishes, request: StudioRequest) -> dict[str, Any]:
    base = stand(request.now)
    try:
        changes = wishes.changes(base)
        if not changes:
            return {}
        effect = base.effect(changes)
    except (ValueError, Refused) as impossible:
        return {"refused": str(impossible)}
    return {"wishes": wishes, "query": request.GET.urlencode()} | shown(
        effect, timezone.localdate(request.now)
    )


def shown(effect: Effect, today: date) -> dict[str, Any]:
    """What templates show of an effect: the jobs that move and their axis, risks, lateness, and new problems."""
    rows = moved_rows(effect, today)
    before, after = effect.at_risk
    windows = [window for row in rows for window in (row.before, row.after) if window]
    old = {problem.sentence for problem in effect.base.plan.problems}
    return {
        "rows": rows,
        "axis": _axis(windows, rows, today),
        "today": today,
        "risk": (len(before), len(after)),
        "late": effect.late_days,
        "later": sum((row.days or 0) > 0 for row in rows),
        "earlier": sum((row.days or 0) < 0 for row in rows),
        "problems": [each.sentence for each in effect.plan.problems if each.sentence not in old],
    }


def _axis(windows: list[planning.Window], rows: list[MovedRow], today: date) -> Axis:
    days = [timezone.localdate(window.p95) for window in windows]
    return axis_between(days + [row.promised for row in rows if row.promised], today)


def moved_rows(effect: Effect, today: date) -> list[MovedRow]:
    """The new job first, then the jobs whose day moves, the most delayed first."""
    moved = {each.job: each for each in effect.moved}
    jobs = Job.objects.select_related("customer").in_bulk(moved)
    due = {job.id: job.due for job in effect.shop.jobs}
    base, confidence = effect.base, effect.base.confidence
    found = []
    for number in [job for job in effect.plan.jobs if job not in base.plan.jobs]:
        window, day = effect.plan.jobs[number], effect.plan.day_for(number, confidence)
        chance = _chance(effect.plan, number, due[number])
        words = short(due[number], today) if due[number] else ""  # type: ignore[arg-type]
        risky = chance is not None and chance < confidence
        found.append(
            MovedRow(
                None,
                words,
                None,
                window,
                "",
                short(day, today),
                None,
                None,
                chance,
                risky,
                False,
                due[number],
            )
        )
    for number, each in moved.items():
        before, after = (_chance(plan, number, due[number]) for plan in (base.plan, effect.plan))
        if number not in jobs or (each.days == 0 and _alike(before, after)):
            continue
        promised = due[number]
        found.append(
            MovedRow(
                job=jobs[number],
                due=short(promised, today) if promised else "",
                before=base.plan.jobs[number],
                after=effect.plan.jobs[number],
                day_before=short(each.before, today),
                day_after=short(each.after, today),
                days=each.days,
                chance_before=before,
                chance_after=after,
                breaks=before is not None and after is not None and after < confidence <= before,
                saved=before is not None and after is not None and before < confidence <= after,
                promised=promised,
            )
        )
    return found


def _chance(plan: planning.Plan, job: int, due: date | None) -> float | None:
    return None if due is None or job not in plan.samples else plan.chance(job, due)


def _alike(before: float | None, after: float | None) -> bool:
    return before is None or after is None or abs(after - before) < 0.05
