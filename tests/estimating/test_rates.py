from dataclasses import replace

import pytest

from jobs.estimating.rates import (
    DEFAULT_RATES,
    KindRates,
    RatesError,
    copies_share,
    estimate,
    nth_share,
    unit_minutes,
)
from jobs.estimating.takeoff import Glass, propose
from tests.estimating.drawings import H6

PLATE = Glass("plate", thickness_mm=6.35, bevel_mm=25)
WINDOW = propose(600, 900, 30, glass=PLATE, came=H6)
CUTTING = KindRates(30, {"": {"piece": 6, "curved_edge": 2}})


def test_a_mid_sized_beveled_window() -> None:
    # Some 4 h of cutting, 30 of beveling, 8 of building: common practice, no published source.
    hours = {kind: estimate(WINDOW, DEFAULT_RATES[kind]) / 60 for kind in DEFAULT_RATES}
    assert hours["cutting"] == pytest.approx(4, rel=0.1)
    assert hours["beveling"] == pytest.approx(30, rel=0.1)
    assert hours["assembly"] + hours["soldering"] == pytest.approx(8, rel=0.1)


def test_a_large_carved_mural() -> None:
    # More than 100 h of blasting: common practice, no published source.
    pane = propose(2400, 1500, 1, glass=Glass("float", 12), came=H6, carved_mm2={0.5: 4e5, 3: 8e5, 8: 1.8e6})
    assert 100 < estimate(pane, DEFAULT_RATES["blasting"]) / 60 < 130


@pytest.mark.parametrize("mm", [3, 6, 10, 19])
def test_one_hand_bevel_takes_from_half_an_hour_to_several(mm: float) -> None:
    # Common practice, no published source. A piece of 130 mm square.
    piece = propose(130, 130, 1, glass=Glass("plate", mm, bevel_mm=25), came=H6)
    assert 30 <= unit_minutes(piece, DEFAULT_RATES["beveling"]) <= 240


@pytest.mark.parametrize(
    ("n", "share"),
    [
        (1, 1),
        (2, 0.8),
        (3, 0.7021),
        (4, 0.64),
        (5, 0.5956),
        (8, 0.512),
        (10, 0.4765),
        (20, 0.3812),
        (50, 0.2838),
        (100, 0.2271),
    ],
)
def test_unit_times_of_a_learning_curve(n: int, share: float) -> None:
    # n ** log2(0.8), the unit times of an 80 % curve (Wright 1936), to four places.
    assert nth_share(n, 0.8) == pytest.approx(share, abs=5e-5)


def test_copies_share_the_set_up() -> None:
    assert estimate(WINDOW, CUTTING, 1) == 30 + 180
    assert estimate(WINDOW, CUTTING, 3) == 30 + 3 * 180


def test_copies_are_learned_from() -> None:
    assert copies_share(4, 0.8) == pytest.approx(1 + 0.8 + 0.7021 + 0.64, abs=1e-4)
    assert estimate(WINDOW, replace(CUTTING, slope=0.8), 2) == 30 + 324


def test_halves_are_rounded_up() -> None:
    assert estimate(WINDOW, KindRates(0.5)) == 1


def test_a_driver_that_a_panel_has_none_of_costs_nothing() -> None:
    assert unit_minutes(WINDOW, KindRates(0, {"": {"carved_m2:deep": 1000}})) == 0


def test_new_totals_keep_the_shares_of_the_steps() -> None:
    rates = KindRates(10, {"cork": {"piece": 1}, "felt": {"piece": 3}})
    assert rates.scaled_to(20, {"piece": 8}) == KindRates(20, {"cork": {"piece": 2}, "felt": {"piece": 6}})


@pytest.mark.parametrize(
    ("setup", "steps", "slope"),
    [
        (-1, {}, 1),
        (float("nan"), {}, 1),
        (0, {"": {"piece": -1}}, 1),
        (0, {"": {"piece": float("inf")}}, 1),
        (0, {}, 0.4),
        (0, {}, 1.1),
        (0, {"": {"moon": 1}}, 1),
    ],
)
def test_rates_that_cannot_be_are_refused(
    setup: float, steps: dict[str, dict[str, float]], slope: float
) -> None:
    with pytest.raises(RatesError):
        KindRates(setup, steps, slope)


def test_no_copies_are_refused() -> None:
    with pytest.raises(RatesError):
        estimate(WINDOW, CUTTING, 0)
