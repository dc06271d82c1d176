"""Mass of glass.

Density of soda-lime float glass: 2500 kg/m3 (EN 572-1; from memory).
"""

from decimal import Decimal

GLASS_KG_PER_M3 = Decimal(2500)
KG_PER_POUND = Decimal("0.45359237")  # Exact, international yard and pound agreement, 1959.


def glass_kg(width_mm: Decimal, height_mm: Decimal, thickness_mm: Decimal) -> Decimal:
    """Kilograms of one pane of float glass of these millimeters, as if it had no came in it."""
    return width_mm * height_mm * thickness_mm * GLASS_KG_PER_M3 / Decimal(10) ** 9


def pounds(kg: Decimal) -> Decimal:
    return kg / KG_PER_POUND


def format_mass(kg: Decimal, unit: str) -> str:
    """In whole pounds where lengths are in inches (unit "in"), else in kilograms with one decimal."""
    return f"{pounds(kg):.0f} lb" if unit == "in" else f"{kg:.1f} kg"
