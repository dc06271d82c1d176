"""Areas as a studio shows them. A foot is 304.8 mm exactly (international yard and pound agreement, 1959)."""

from decimal import Decimal

import pytest

from jobs.estimating.areas import area_unit, format_area, shown_unit


def test_a_square_foot() -> None:
    assert area_unit("in").size == Decimal("0.09290304")
    assert format_area(304.8**2, "in") == "1.00 sq ft"
    assert format_area(1_000_000, "in") == "10.76 sq ft"
    assert format_area(304.8**2, "mm") == "0.093 m²"


def test_amounts_and_prices_by_area() -> None:
    feet = shown_unit("m²", "in")
    assert (feet.word, feet.amount(Decimal("0.360")), feet.price(Decimal(100))) == (
        "sq ft",
        Decimal("3.88"),
        Decimal("9.29"),
    )
    assert (feet.kept_amount(Decimal(10)), feet.kept_price(Decimal("5.25"))) == (
        Decimal("0.929"),
        Decimal("56.51"),
    )


@pytest.mark.parametrize(
    ("kept", "word", "one"),
    [
        # A pound is 0.45359237 kg exactly (international yard and pound agreement, 1959).
        ("kg", "lb", "0.45359237"),
        # A US liquid quart is 57.75 cubic inches (NIST Handbook 44, Appendix C).
        ("l", "qt", "0.946352946"),
        ("m", "ft", "0.3048"),
    ],
)
def test_what_is_sold_by_weight_and_measure(kept: str, word: str, one: str) -> None:
    shown = shown_unit(kept, "in")
    assert (shown.word, shown.size) == (word, Decimal(one))
    assert shown.amount(10 * Decimal(one)) == 10
    assert shown.kept_amount(Decimal(2)) == round(2 * Decimal(one), 3)


@pytest.mark.parametrize(("unit", "units"), [("m²", "mm"), ("stick", "in"), ("kg", "mm"), ("l", "mm")])
def test_other_units_are_shown_as_they_are_kept(unit: str, units: str) -> None:
    same = shown_unit(unit, units)
    number = Decimal("12.345")
    assert same.word == unit
    assert {same.amount(number), same.price(number), same.kept_amount(number), same.kept_price(number)} == {
        number
    }
