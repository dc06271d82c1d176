import math

import numpy as np
import pytest

from jobs.estimating.stock import CuttingPlan, StockError, cut_sticks, sheets, supplies


def check(plan: CuttingPlan, lengths: list[float]) -> None:
    """Every length is cut once, and no stick is cut beyond its end."""
    assert sorted(length for stick in plan.sticks for length in stick) == sorted(lengths)
    for stick in plan.sticks:
        assert sum(stick) + plan.kerf_mm * (len(stick) - 1) <= plan.stick_mm + 1e-6
    assert len(plan.sticks) >= plan.bound


def many(rows: dict[float, int]) -> list[float]:
    return [size for size, count in rows.items() for _ in range(count)]


# Chvatal, Linear Programming (1983), chapter 13: 453 rolls, the relaxation being 452.25 (from memory).
CHVATAL = {45: 97, 36: 610, 31: 395, 14: 211}
# A paper machine's order of 5600 mm rolls that textbooks and encyclopedias print: 73 rolls (from memory).
PAPER = {1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20}
PAPER |= {2000: 10, 2050: 12, 2100: 14, 2140: 16, 2150: 18, 2200: 20}


@pytest.mark.parametrize(("rows", "stick", "optimum"), [(CHVATAL, 100, 453), (PAPER, 5600, 73)])
def test_published_orders(rows: dict[float, int], stick: float, optimum: int) -> None:
    plan = cut_sticks(many(rows), stick_mm=stick, kerf_mm=0, seconds=20)
    check(plan, many(rows))
    assert len(plan.sticks) == plan.bound == optimum
    assert plan.proven


@pytest.mark.parametrize("seed", range(3))
def test_triplets(seed: int) -> None:
    """Three lengths that fill a stick exactly, mixed up: the optimum is known because that is how they are made
    (Falkenauer 1996: each between a quarter and a half of the stick)."""
    random = np.random.default_rng(seed)
    lengths: list[float] = []
    for _ in range(20):
        first = int(random.integers(380, 490))
        second = int(random.integers((1000 - first) // 2 - 60, (1000 - first) // 2 + 1))
        lengths += [first, second, 1000 - first - second]
    random.shuffle(lengths)
    plan = cut_sticks(lengths, stick_mm=1000, kerf_mm=0, seconds=20)
    check(plan, lengths)
    assert len(plan.sticks) == plan.bound == 20


@pytest.mark.parametrize(
    ("lengths", "kerf", "sticks"),
    [
        ([500, 500], 0, 1),
        ([500, 500], 1, 2),
        ([499.5, 499.5], 1, 1),
        ([1000], 5, 1),
        ([332, 332, 332], 2, 1),
        ([332.1, 332.1, 332.1], 2, 2),
        ([], 2, 0),
    ],
)
def test_the_kerf_is_lost_between_two_lengths(lengths: list[float], kerf: float, sticks: int) -> None:
    plan = cut_sticks(lengths, stick_mm=1000, kerf_mm=kerf)
    check(plan, lengths)
    assert len(plan.sticks) == plan.bound == sticks


def _fewest(lengths: list[int], room: int) -> int:
    """By trying everything."""
    best = len(lengths)

    def place(i: int, left: list[int]) -> None:
        nonlocal best
        if len(left) >= best:
            return
        if i == len(lengths):
            best = len(left)
            return
        for s in range(len(left)):
            if left[s] >= lengths[i] and left[s] not in left[:s]:
                place(i + 1, [*left[:s], left[s] - lengths[i], *left[s + 1 :]])
        place(i + 1, [*left, room - lengths[i]])

    place(0, [])
    return best


@pytest.mark.parametrize("seed", range(12))
def test_small_orders_against_trying_everything(seed: int) -> None:
    random = np.random.default_rng(seed)
    lengths = sorted(random.integers(150, 700, 10).tolist(), reverse=True)
    plan = cut_sticks(lengths, stick_mm=1000, kerf_mm=3)
    check(plan, lengths)
    assert plan.bound <= _fewest([length + 3 for length in lengths], 1003) == len(plan.sticks)


def test_a_weeks_came() -> None:
    lengths = np.random.default_rng(3).uniform(80, 1200, 150).round(1).tolist()
    plan = cut_sticks(lengths)
    check(plan, lengths)
    assert len(plan.sticks) - plan.bound <= 1
    assert plan.waste_share == pytest.approx(1 - sum(lengths) / 1830 / len(plan.sticks))


@pytest.mark.parametrize("length", [0, -1, math.nan, math.inf, 1830.1])
def test_a_length_that_cannot_be_cut_is_refused(length: float) -> None:
    with pytest.raises(StockError):
        cut_sticks([100, length])


def test_a_stick_of_no_length_is_refused() -> None:
    with pytest.raises(StockError):
        cut_sticks([100], stick_mm=0)


def test_sheets() -> None:
    # 1.5 m2 with a quarter wasted is 2 m2: exactly two sheets of a square meter.
    need = sheets(1.5e6, sheet_width_mm=1000, sheet_height_mm=1000, waste=0.25)
    assert (need.sheets, need.area_mm2) == (2, pytest.approx(2e6))
    assert sheets(0, sheet_width_mm=1000, sheet_height_mm=1000, waste=0.25).sheets == 0


def test_a_piece_may_be_turned_but_not_be_larger_than_a_sheet() -> None:
    size = {"sheet_width_mm": 600.0, "sheet_height_mm": 1200.0, "waste": 0.0}
    assert sheets(1e5, largest=(1100, 500), **size).sheets == 1
    with pytest.raises(StockError, match="larger"):
        sheets(1e5, largest=(700, 700), **size)


@pytest.mark.parametrize("waste", [-0.1, 1, math.nan])
def test_a_waste_that_cannot_be_is_refused(waste: float) -> None:
    with pytest.raises(StockError):
        sheets(1e6, sheet_width_mm=1000, sheet_height_mm=1000, waste=waste)


def test_supplies_go_by_driver() -> None:
    rates = {"solder, g": {"joint": 3.0}, "cement, g": {"came_m": 40, "glass_m2": 10}}
    assert supplies({"joint": 60, "came_m": 9.5}, rates) == {"solder, g": 180, "cement, g": 380}


def test_hundreds_of_different_lengths() -> None:
    lengths = np.random.default_rng(400).uniform(80, 1200, 400).round(1).tolist()
    plan = cut_sticks(lengths, seconds=0.5)
    check(plan, lengths)
    assert plan.bound >= (sum(lengths) + 2 * 400) / 1832
    assert len(plan.sticks) - plan.bound <= 2
