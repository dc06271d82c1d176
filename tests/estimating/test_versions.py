from decimal import Decimal

from jobs.estimating.versions import Changed, Offered, compare

CUTTING = Offered("1 Light 1", "labor", "Cutting", Decimal(100))
GLASS = Offered("1 Light 1", "material", "Glass", Decimal(40))
CRATE = Offered("", "packing", "Crate", Decimal(80))


def test_nothing_changed() -> None:
    assert compare([CUTTING, GLASS], [GLASS, CUTTING]) == ()


def test_new_gone_and_dearer() -> None:
    dearer = Offered("1 Light 1", "labor", "Cutting", Decimal(120))
    found = compare([CUTTING, GLASS], [dearer, CRATE])
    assert found == (
        Changed("1 Light 1", "labor", "Cutting", Decimal(100), Decimal(120)),
        Changed("", "packing", "Crate", None, Decimal(80)),
        Changed("1 Light 1", "material", "Glass", Decimal(40), None),
    )
    assert [change.more for change in found] == [20, 80, -40]


def test_the_same_line_twice_counts_together() -> None:
    halves = [Offered("1 Light 1", "labor", "Cutting", Decimal(50))] * 2
    assert compare([CUTTING], halves) == ()
