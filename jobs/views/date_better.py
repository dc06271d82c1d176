"""A better order: looked for, shown with who gains and who loses, accepted and taken back."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from jobs.actions import Refused
from jobs.actions.better_order import accept_order, look_for_order, order_in_force, take_back_order
from jobs.models import Job
from jobs.planning.better import Better
from jobs.views.access import lead_only
from jobs.views.date_rows import short
from jobs.views.middleware import StudioRequest


@require_http_methods(["GET", "HEAD", "POST"])
@lead_only
def better_order(request: StudioRequest) -> HttpResponse:
    """GET with `look` looks for an order; POST accepts the order that was shown, or takes back the one in force."""
    context: dict[str, Any] = {"refused": None, "looked": False}
    if request.method == "POST":
        try:
            messages.success(request, _change(request))
            return redirect("dates")
        except Refused as refused:
            context["refused"] = refused.sentence
    elif request.GET.get("look"):
        context |= {"looked": True, "offer": _offer(look_for_order(at=request.now), request)}
    context["in_force"] = order_in_force()
    return render(request, "dates_better.html", context, status=422 if context["refused"] else 200)


def _change(request: StudioRequest) -> str:
    if "take_back" in request.POST:
        count = take_back_order(by=request.actor, at=request.now)
        return f"The order is taken back: the rule decides again for {count} pieces of work."
    typed = request.POST.get("order", "")
    numbers = typed.split(",") if len(typed) < 20_000 else []
    if not numbers or not all(
        number.isascii() and number.isdigit() and len(number) < 16 for number in numbers
    ):
        raise Refused("That is not an order of jobs; look for one again.")
    count = accept_order([int(number) for number in numbers], by=request.actor, at=request.now)
    return f"The better order is in force for {count} pieces of work."


def _offer(found: Better | None, request: StudioRequest) -> dict[str, Any] | None:
    if found is None:
        return None
    today = timezone.localdate(request.now)
    jobs = Job.objects.select_related("customer").with_promise().in_bulk([each.job for each in found.moved])
    rows = [
        {
            "job": jobs[each.job],
            "before": short(each.before, today),
            "after": short(each.after, today),
            "days": abs(each.days),
            "later": each.days > 0,
            "promised": jobs[each.job].promised,  # type: ignore[attr-defined]
        }
        for each in found.moved
        if each.job in jobs and each.days
    ]
    return {
        "better": found,
        "order": ",".join(str(number) for number in found.order),
        "later": [row for row in rows if row["later"]],
        "earlier": [row for row in reversed(rows) if not row["later"]],
    }
