"""Who carries what, and what goes into which crate: sums made by hand."""

from decimal import Decimal

import pytest

from jobs.estimating.handling import Crate, Load, Practice, in_crates, people_for, people_for_mass

# Common practice, no published source.
USUAL = Practice(Decimal(20), Decimal(1200), 6, Decimal(120), Decimal(9))


def load(kg: int, width: int = 600, height: int = 900, code: str = "0412/1") -> Load:
    return Load(code, Decimal(width), Decimal(height), Decimal(6), Decimal(kg))


@pytest.mark.parametrize(
    ("kg", "height", "people"), [(8, 900, 1), (20, 900, 1), (21, 900, 2), (8, 1200, 2), (61, 1200, 4)]
)
def test_people_of_a_panel(kg: int, height: int, people: int) -> None:
    assert people_for(load(kg, height=height), USUAL) == people


@pytest.mark.parametrize(("kg", "people"), [(5, 2), (40, 2), (41, 3)])
def test_a_crate_is_carried_at_both_ends(kg: int, people: int) -> None:
    assert people_for_mass(Decimal(kg), USUAL) == people


def test_the_mass_of_a_crate() -> None:
    # 800 x 1100 mm outside, (6 + 30) + 30 + 100 = 166 mm deep: 2 (0.88 + 0.1328 + 0.1826) m2 of board at 9 kg.
    crate = Crate(1, [load(8)])
    assert crate.size_mm == (800, 1100, 166)
    assert crate.kg(USUAL) == Decimal(8) + Decimal("2.3908") * 9


def test_a_crate_is_filled_until_it_is_full() -> None:
    assert [len(crate.loads) for crate in in_crates([load(8)] * 13, USUAL)] == [6, 6, 1]


def test_a_crate_is_filled_until_it_is_too_heavy() -> None:
    # Two of 40 kg and 24 kg of boards are 104 kg; three would be more than 120.
    assert [len(crate.loads) for crate in in_crates([load(40)] * 4, USUAL)] == [2, 2]


def test_a_panel_that_is_too_heavy_has_a_crate_of_its_own() -> None:
    crates = in_crates([load(8), load(200), load(8)], USUAL)
    assert [[each.kg for each in crate.loads] for crate in crates] == [[8], [200], [8]]
    assert [crate.number for crate in crates] == [1, 2, 3]


def test_nothing_to_carry() -> None:
    assert in_crates([], USUAL) == []


def test_a_practice_that_cannot_be() -> None:
    with pytest.raises(ValueError, match="lifts something"):
        Practice(Decimal(0), Decimal(1200), 6, Decimal(120), Decimal(9))
