"""What each piece is worth: computed by hand from the rates that are given."""

import pytest

from jobs.estimating.pieces import PieceFacts, format_numbers, parse_numbers, works_bevels, worths
from jobs.estimating.rates import KindRates

SMALL = PieceFacts(1, perimeter_mm=400, area_mm2=10_000, thickness_mm=6, bevel_mm=25)
LARGE = PieceFacts(2, perimeter_mm=1200, area_mm2=90_000, curved_edges=2, thickness_mm=6, bevel_mm=25)
FLAT = PieceFacts(3, perimeter_mm=400, area_mm2=10_000)


def test_a_bevel_counts_by_its_length_and_a_piece_without_one_not_at_all() -> None:
    rates = KindRates(120, {"rough": {"beveled_m:plate": 30}, "fine": {"beveled_m:plate": 10, "piece": 4}})
    assert works_bevels(rates)
    # 12 + 4 + 4 minutes and 36 + 12 + 4: 72 minutes for what counts as three pieces.
    found = worths([SMALL, LARGE, FLAT], rates, ("rough", "fine"))
    assert found[1] == pytest.approx((12 / 24, 8 / 24))
    assert found[2] == pytest.approx((36 / 24, 16 / 24))
    assert found[3] == (0, 0)
    # Two of them are counted, so that they are worth two.
    assert sum(map(sum, worths([SMALL, LARGE, FLAT], rates, ("rough", "fine"), 2).values())) == pytest.approx(
        2
    )
    # Where only one is, because others share the work, the two are still worth 1 on the average.
    assert sum(map(sum, worths([SMALL, LARGE], rates, (), 1).values())) == pytest.approx(2)


def test_cutting_counts_by_pieces_and_curves() -> None:
    rates = KindRates(45, {"": {"piece": 6, "curved_edge": 3}})
    assert worths([SMALL, LARGE], rates) == {1: pytest.approx((6 / 9,)), 2: pytest.approx((12 / 9,))}


def test_came_and_glass_count_by_what_is_the_pieces_own() -> None:
    assert LARGE.drivers()["came_m"] == pytest.approx(0.6)
    assert LARGE.drivers()["glass_m2"] == pytest.approx(0.09)


def test_rates_of_other_steps_are_shared_by_the_steps_without_any() -> None:
    rates = KindRates(0, {"cork": {"piece": 1}, "roughing": {"piece": 2}, "felt": {"piece": 1}})
    assert worths([FLAT], rates, ("coarse", "smooth", "cork")) == {
        3: pytest.approx((1.5 / 4, 1.5 / 4, 1 / 4))
    }
    assert worths([FLAT], rates, ("cork", "felt")) == {3: pytest.approx((0.5, 0.5))}


def test_without_rates_all_pieces_are_alike() -> None:
    assert worths([SMALL, LARGE], KindRates(), ("a", "b")) == {1: (0.5, 0.5), 2: (0.5, 0.5)}
    assert worths([], KindRates()) == {}


@pytest.mark.parametrize(
    ("text", "numbers"), [("3", [3]), ("7-9, 3", [3, 7, 8, 9]), ("1,1,2", [1, 2]), ("5-5", [5])]
)
def test_numbers_are_read(text: str, numbers: list[int]) -> None:
    assert parse_numbers(text) == numbers
    assert parse_numbers(format_numbers(numbers)) == numbers


@pytest.mark.parametrize("text", ["", "x", "0", "3-1", "1-", "-1", "1-99999", "1;2", "1,,2", "1234567"])
def test_what_is_no_list_of_numbers_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="no numbers of pieces"):
        parse_numbers(text)


def test_runs_are_written_short() -> None:
    assert format_numbers([9, 3, 4, 5, 7]) == "3-5, 7, 9"
