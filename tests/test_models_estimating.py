"""What the database itself keeps of patterns, rates, needs and quotes."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from jobs.models import (
    Account,
    Came,
    Glass,
    KindSetup,
    LaborRate,
    Material,
    Need,
    OperationKind,
    OutsidePrice,
    Panel,
    Pattern,
    Quote,
    QuoteLine,
    QuoteSettings,
    Rate,
    Supplier,
    Takeoff,
)
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")


def refuse(make: Any) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        make()


@pytest.fixture
def panel() -> Panel:
    return cast.make_panel(cast.make_job(), kinds=("Cutting", "Beveling", "Lamination"))


@pytest.fixture
def came() -> Came:
    return Came.objects.create(profile="H 6 mm")


def make_pattern(panel: Panel, came: Came, lead: Account, **values: Any) -> Pattern:
    given = {"version": 1, "file_name": "hall.svg", "uploaded_at": at(2), "uploaded_by": lead}
    shapes = {"lines": {}, "drawing": {}, "measured": {}}
    return Pattern.objects.create(panel=panel, came=came, border=came, **given | shapes | values)


def test_glass_and_came() -> None:
    for wrong in (
        {"name": ""},
        {"thickness_mm": 0},
        {"bevel_mm": 0},
        {"sheet_width_mm": 0},
        {"price_m2": -1},
        {"waste": 1},
    ):
        refuse(lambda wrong=wrong: Glass.objects.create(**{"name": "Clear plate"} | wrong))
    for wrong in ({"heart_mm": 7}, {"heart_mm": 0}, {"kg_per_m": 0}, {"stick_mm": 0}, {"price": -1}):
        refuse(lambda wrong=wrong: Came.objects.create(**{"profile": "H 6 mm"} | wrong))
    assert Glass.objects.create(name="Clear plate").sheet_width_mm == 1000


def test_patterns_and_takeoffs(panel: Panel, came: Came, lead: Account) -> None:
    pattern = make_pattern(panel, came, lead)
    refuse(lambda: make_pattern(panel, came, lead))
    for wrong in (
        {"accepted_at": at(2)},
        {"accepted_by": lead},
        {"close_below_mm": 11},
        {"drawn_width_mm": 0},
        {"scale_answer": "guess"},
    ):
        refuse(lambda wrong=wrong: make_pattern(panel, came, lead, version=2, **wrong))
    taken = {"panel": panel, "numbers": {}, "at": at(2), "by": lead}
    Takeoff.objects.create(version=1, source="hand", **taken)
    refuse(lambda: Takeoff.objects.create(version=1, source="hand", **taken))
    refuse(lambda: Takeoff.objects.create(version=2, source="pattern", **taken))
    refuse(lambda: Takeoff.objects.create(version=2, source="hand", pattern=pattern, **taken))
    assert Takeoff.objects.create(version=2, source="pattern", pattern=pattern, **taken).pattern == pattern
    with pytest.raises(ProtectedError):
        came.delete()


def test_rates_by_day() -> None:
    cutting = OperationKind.objects.get(name="Cutting")
    old = Rate.objects.create(kind=cutting, driver="piece", minutes="6.5", since=date(2026, 1, 1))
    new = Rate.objects.create(kind=cutting, driver="piece", minutes="7.1", since=date(2026, 3, 1))
    assert list(Rate.objects.on(date(2026, 2, 28))) == [old]
    assert list(Rate.objects.on(date(2026, 3, 1))) == [old, new]
    refuse(lambda: Rate.objects.create(kind=cutting, driver="piece", minutes=7, since=date(2026, 3, 1)))
    refuse(lambda: Rate.objects.create(kind=cutting, driver="piece", minutes=-1, since=date(2026, 4, 1)))
    refuse(lambda: Rate.objects.create(kind=cutting, driver="", minutes=1, since=date(2026, 4, 1)))
    setup = KindSetup.objects.create(kind=cutting, minutes=45, since=date(2026, 1, 1))
    assert list(KindSetup.objects.on(date(2025, 12, 31))) == []
    assert list(KindSetup.objects.on(date(2026, 1, 1))) == [setup]
    refuse(lambda: KindSetup.objects.create(kind=cutting, since=date(2026, 1, 1)))
    refuse(lambda: KindSetup.objects.create(kind=cutting, slope=Decimal("0.4"), since=date(2026, 2, 1)))
    refuse(lambda: LaborRate.objects.create(kind=cutting, hour=-1))


def test_needs(panel: Panel, came: Came) -> None:
    supplier = Supplier.objects.create(name="Northern Sheet Glass", days=10)
    solder = Material.objects.create(name="Solder 60/40", price=30)
    base: dict[str, Any] = {"job": panel.job, "amount": 2, "unit": "stick"}
    need = Need.objects.create(came=came, supplier=supplier, needed_by=date(2026, 3, 20), **base)
    assert need.order_by == date(2026, 3, 10)
    assert str(need) == "2 stick H 6 mm"
    assert Need.objects.create(outside=cast.operation_of(panel, "Lamination"), **base).order_by is None
    refuse(lambda: Need.objects.create(**base))
    refuse(lambda: Need.objects.create(came=came, material=solder, **base))
    for wrong in (
        {"amount": 0},
        {"price": -1},
        {"gate": "wind"},
        {"expected": date(2026, 3, 9)},
        {"day_by_hand": True, "by_hand": True},
        {"day_by_hand": True, "needed_by": date(2026, 3, 9)},
        {"ordered": date(2026, 3, 9), "arrived": date(2026, 3, 8)},
    ):
        refuse(lambda wrong=wrong: Need.objects.create(material=solder, **base | wrong))
    Need.objects.filter(pk=need.pk).update(ordered=date(2026, 3, 9), arrived=date(2026, 3, 9))
    assert need not in Need.objects.open()
    assert Need.objects.open().count() == 1
    refuse(lambda: Material.objects.create(name="Cement", price=-1))
    refuse(lambda: Material.objects.create(name="Cement", amount=-1))
    refuse(lambda: Supplier.objects.create(name=""))


def test_outside_prices() -> None:
    lamination = OperationKind.objects.get(name="Lamination")
    supplier = Supplier.objects.create(name="Northern Sheet Glass", days=10)
    base: dict[str, Any] = {"kind": lamination, "supplier": supplier, "price_m2": 200}
    for wrong in ({"price_m2": -1}, {"minimum": -1}, {"days": 1001}):
        refuse(lambda wrong=wrong: OutsidePrice.objects.create(**base | wrong))
    assert OutsidePrice.objects.create(**base).minimum == 0
    refuse(lambda: OutsidePrice.objects.create(**base))


def test_quotes(panel: Panel, lead: Account) -> None:
    base = {"job": panel.job, "made_at": at(2), "made_by": lead}
    draft = Quote.objects.create(version=1, **base)
    refuse(lambda: Quote.objects.create(version=2, **base))
    sent = {"sent_at": at(3), "sent_by": lead, "valid_until": date(2026, 4, 2), "frozen": {}}
    answered = {"answered_at": at(4), "answered_by": lead}
    rows = Quote.objects.filter(pk=draft.pk)
    refuse(lambda: rows.update(state="sent"))
    refuse(lambda: rows.update(**sent))
    refuse(lambda: rows.update(state="sent", **sent | {"valid_until": None}))
    refuse(lambda: rows.update(state="sent", **sent | {"frozen": None}))
    refuse(lambda: rows.update(state="accepted", **sent))
    refuse(lambda: rows.update(net=-1))
    refuse(lambda: rows.update(confidence=Decimal("0.3")))
    rows.update(state="accepted", **sent, **answered)
    other = Quote.objects.create(version=2, **base)
    refuse(lambda: Quote.objects.filter(pk=other.pk).update(state="accepted", **sent, **answered))
    refuse(lambda: Quote.objects.create(version=2, state="sent", **base, **sent))
    line = {"quote": draft, "amount": 10, "words": "Cutting"}
    QuoteLine.objects.create(group="labor", panel=panel, **line)
    refuse(lambda: QuoteLine.objects.create(group="wishes", **line))
    refuse(lambda: QuoteLine.objects.create(group="labor", **line | {"words": ""}))


def test_quote_settings_are_one_row() -> None:
    assert QuoteSettings.current().pk == 1
    refuse(lambda: QuoteSettings.objects.create(pk=2))
    rows = QuoteSettings.objects.filter(pk=1)
    for wrong in (
        {"markup": -1},
        {"tax": 1},
        {"deposit": Decimal("1.1")},
        {"rounding": 0},
        {"valid_days": 0},
        {"risk_confidence": Decimal("0.4")},
        {"breakage": 2},
        {"bars_above_m2": 0},
    ):
        refuse(lambda wrong=wrong: rows.update(**wrong))
