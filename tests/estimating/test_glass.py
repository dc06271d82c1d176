"""Mass of glass against published and computed values."""

from decimal import Decimal

import pytest

from jobs.estimating.glass import glass_kg, pounds

INCH = Decimal("25.4")


@pytest.mark.parametrize(
    ("thickness", "per_square_meter"),
    # EN 572-1 (from memory): 2500 kg/m3, so 2.5 kg for each square meter and millimeter.
    [(3, "7.5"), (4, "10"), (5, "12.5"), (6, "15"), (8, "20"), (10, "25"), (12, "30"), (19, "47.5")],
)
def test_a_square_meter_weighs_what_the_standard_density_says(thickness: int, per_square_meter: str) -> None:
    assert glass_kg(Decimal(1000), Decimal(1000), Decimal(thickness)) == Decimal(per_square_meter)


def test_six_millimeters_of_a_small_window() -> None:
    # Computed from EN 572-1: 0.9 m x 0.6 m of 6 mm.
    assert glass_kg(Decimal(900), Decimal(600), Decimal(6)) == Decimal("8.1")


def test_quarter_inch_plate_is_not_six_millimeters() -> None:
    # Computed from EN 572-1; nominal 1/4 in is 6.35 mm and not 6 mm (ASTM C1036, from memory).
    plate = pounds(glass_kg(36 * INCH, 48 * INCH, INCH / 4))
    thin = pounds(glass_kg(36 * INCH, 48 * INCH, Decimal(6)))
    assert round(plate, 2) == Decimal("39.02")
    assert round(thin, 2) == Decimal("36.87")


def test_quarter_inch_plate_against_the_trade_table() -> None:
    # US trade table: 3.27 lb per square foot (common practice, no published source); density gives 3.251.
    square_foot = pounds(glass_kg(12 * INCH, 12 * INCH, INCH / 4))
    assert round(square_foot, 3) == Decimal("3.251")
    assert abs(square_foot / Decimal("3.27") - 1) < Decimal("0.01")
