"""Set-up: how quotes are made, and what an hour of each kind of work is sold for."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from jobs.actions.outside_prices import set_outside_prices
from jobs.actions.quote_settings import FIELDS, change_quote_settings, set_labor_rates
from jobs.actions.quoting import breakage_share
from jobs.forms.quotes import HoursForm, OutsideForm, QuoteSettingsForm
from jobs.models import LaborRate, Nature, OperationKind, OutsidePrice, QuoteSettings
from jobs.views.access import set_up_only
from jobs.views.middleware import StudioRequest
from jobs.views.refusal import carried_out


@require_http_methods(["GET", "POST"])
@set_up_only
def quote_settings(request: StudioRequest) -> HttpResponse:
    """Three forms on one page; `part` says which was sent."""
    row = QuoteSettings.current()
    kinds = list(OperationKind.objects.filter(nature=Nature.ATTENDED))
    hours = dict(LaborRate.objects.values_list("kind", "hour"))
    part = request.POST.get("part", "")
    typed = request.POST if request.method == "POST" else None
    start = {name: getattr(row, name) for name in FIELDS}
    form = QuoteSettingsForm(typed if part == "quotes" else None, initial=start, studio=request.studio)
    rates = HoursForm(typed if part == "hours" else None, kinds=kinds, hours=hours)
    prices = OutsidePrice.objects.select_related("kind", "supplier").order_by("kind__place", "supplier__name")
    outside = OutsideForm(typed if part == "outside" else None, prices=prices, studio=request.studio)
    who: dict[str, Any] = {"by": request.actor, "at": request.now}
    saved = False
    if part == "hours":
        saved = carried_out(
            rates,
            lambda: set_labor_rates({k: rates.cleaned_data[f"hour-{k.slug}"] for k in kinds}, **who),
        )
    elif part == "outside":
        saved = carried_out(outside, lambda: set_outside_prices(outside.offers(), **who))
    elif request.method == "POST":
        saved = carried_out(form, lambda: change_quote_settings(form.cleaned_data, **who))
    if saved:
        messages.success(request, "Saved.")
        return redirect("set-up-quotes")
    context = {"form": form, "rates": rates, "outside": outside, "record": breakage_share(QuoteSettings())}
    return render(request, "setup/quotes.html", context, status=422 if typed is not None else 200)
