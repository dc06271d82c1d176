"""What quotes are made with: markups, fees, allowances, tax and terms, and what an hour of each kind is sold for."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from jobs.models import LaborRate, May, Nature, OperationKind, QuoteSettings

from .base import Actor, Refused, record, save_changed

FIELDS = (
    "markup",
    "outside_markup",
    "design_fee",
    "tax",
    "deposit",
    "rounding",
    "valid_days",
    "risk_confidence",
    "breakage",
    "terms",
    "bars_above_m2",
)
# The least and the most of each, and what to say about anything else.
BOUNDS = {
    "markup": (0, 9, "A markup is 0 to 900\N{NO-BREAK SPACE}%."),
    "outside_markup": (0, 9, "A markup is 0 to 900\N{NO-BREAK SPACE}%."),
    "design_fee": (0, 9, "The design fee is 0 to 900\N{NO-BREAK SPACE}% of the labor."),
    "tax": (0, Decimal("0.9999"), "Tax is from nothing to less than the whole."),
    "deposit": (0, 1, "A deposit is from nothing to the whole."),
    "rounding": (Decimal("0.01"), 1000, "A quote is rounded to 0.01 at least and 1000 at most."),
    "valid_days": (1, 366, "A quote is valid for 1 to 366 days."),
    "risk_confidence": (
        Decimal("0.5"),
        Decimal("0.99"),
        "The hours suffice with 50 to 99\N{NO-BREAK SPACE}%.",
    ),
    "breakage": (0, 1, "Breakage is from nothing to the whole."),
    "bars_above_m2": (Decimal("0.001"), 999, "Support bars begin above some area."),
}


@transaction.atomic
def change_quote_settings(values: Mapping[str, Any], *, by: Actor, at: datetime) -> QuoteSettings:
    """Change what FIELDS say; quotes that are sent keep theirs. Without `breakage` it is that of the record."""
    if not by.may(May.SET_UP):
        raise Refused("Only the lead says how quotes are made.")
    QuoteSettings.current()
    row = QuoteSettings.objects.select_for_update().get(pk=1)
    given = {name: values[name] for name in FIELDS if name in values}
    save_changed(row, given, BOUNDS, by=by, at=at)
    return row


@transaction.atomic
def set_labor_rates(hours: Mapping[OperationKind, Decimal | None], *, by: Actor, at: datetime) -> int:
    """What an hour of each kind is sold for; None where the studio's price of an hour holds. Gives how many changed."""
    if not by.may(May.SET_UP):
        raise Refused("Only the lead says how quotes are made.")
    there = {row.kind_id: row for row in LaborRate.objects.select_for_update()}
    changed = 0
    for kind, hour in hours.items():
        if kind.nature != Nature.ATTENDED:
            raise Refused(f"Nobody works at {kind}; it has no price of an hour.")
        if hour is not None and not 0 <= hour < 1_000_000:
            raise Refused("An hour cannot be sold for less than nothing.", f"hour-{kind.slug}")
        row = there.get(kind.pk)
        before = row.hour if row else None
        if before == hour:
            continue
        if hour is None:
            LaborRate.objects.filter(kind=kind).delete()
        else:
            LaborRate.objects.update_or_create(kind=kind, defaults={"hour": hour})
        changed += 1
        told = {"price of an hour": before}, {"price of an hour": hour}
        record("priced anew", kind, by=by, at=at, before=told[0], after=told[1])
    return changed
