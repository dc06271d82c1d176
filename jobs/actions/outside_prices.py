"""What suppliers take for work done outside: the table of it, and the price that it gives a panel."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from jobs.estimating.pricing import OutsideOffer, best_offer
from jobs.models import May, Nature, OperationKind, OutsidePrice, Panel, Supplier

from .base import Actor, Refused, record

Place = tuple[OperationKind, Supplier]


@transaction.atomic
def set_outside_prices(prices: Mapping[Place, OutsideOffer | None], *, by: Actor, at: datetime) -> int:
    """The price of each kind of outside work at each supplier; None takes it off the table. Gives how many changed."""
    if not by.may(May.SET_UP):
        raise Refused("Only the lead says how quotes are made.")
    rows = OutsidePrice.objects.select_for_update(of=("self",)).select_related("kind", "supplier")
    there = {(row.kind, row.supplier): row for row in rows}
    changed = 0
    for (kind, supplier), offer in prices.items():
        if kind.nature != Nature.OUTSIDE:
            raise Refused(f"{kind} is done in the studio; no supplier has a price for it.", "new-kind")
        if offer is not None and (offer.days > 1000 or max(offer.per_m2, offer.minimum) >= 10**7):
            raise Refused("That is more than can be: at most 1000 days, and less than ten million.")
        row = there.get((kind, supplier))
        before, after = _told(row), _told(offer)
        if before == after:
            continue
        if offer is None:
            OutsidePrice.objects.filter(kind=kind, supplier=supplier).delete()
        else:
            values = {"price_m2": offer.per_m2, "minimum": offer.minimum, "days": offer.days}
            OutsidePrice.objects.update_or_create(kind=kind, supplier=supplier, defaults=values)
        changed += 1
        who = {"supplier": supplier.name}
        record("priced anew", kind, by=by, at=at, before=before | who, after=after | who)
    return changed


def _told(price: OutsidePrice | OutsideOffer | None) -> dict[str, object]:
    if price is None:
        return {}
    per_m2 = price.price_m2 if isinstance(price, OutsidePrice) else price.per_m2
    return {"price of a square meter": per_m2, "minimum": price.minimum, "days": price.days}


def price_table() -> dict[int, list[OutsidePrice]]:
    """The prices of suppliers that the studio still works with, by the id of the kind of work."""
    found: dict[int, list[OutsidePrice]] = defaultdict(list)
    for row in OutsidePrice.objects.filter(supplier__active=True).select_related("supplier"):
        found[row.kind_id].append(row)
    return found


def cheapest(rows: Sequence[OutsidePrice], panel: Panel) -> tuple[Decimal, OutsidePrice] | None:
    """What the work costs for all copies of a panel, at the supplier who takes least; None without a price."""
    offers = [OutsideOffer(row.price_m2, row.minimum, row.days) for row in rows]
    area = panel.width_mm * panel.height_mm
    place = best_offer(offers, area, panel.copies)
    return None if place is None else (offers[place].price(area, panel.copies), rows[place])


def days_at(kind: int, supplier: Supplier | None) -> int | None:
    """How long the supplier takes for such work; None where the table does not say."""
    return OutsidePrice.objects.filter(kind=kind, supplier=supplier).values_list("days", flat=True).first()
