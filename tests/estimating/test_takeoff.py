import math
from dataclasses import replace

import pytest

from jobs.estimating.takeoff import Came, Glass, Takeoff, TakeoffError, propose, take_off
from tests.estimating.drawings import H6, grid, pattern

CLEAR = Glass("clear", thickness_mm=6)
BEVELED = Glass("plate", thickness_mm=6.35, bevel_mm=25)
WINDOW = propose(600, 900, 30, glass=BEVELED, came=H6)


def test_a_proposal_has_squares_of_one_size() -> None:
    edges = 30 * 4 * math.sqrt(600 * 900 / 30)
    assert WINDOW.beveled_mm == {(6.35, 25): pytest.approx(edges)}
    assert WINDOW.border_mm == 3000
    assert WINDOW.inner_mm == pytest.approx((edges - 3000) / 2)
    assert WINDOW.joints == 2 * 29 + 4


@pytest.mark.parametrize(("rows", "columns"), [(1, 2), (2, 2), (5, 6)])
def test_a_proposal_agrees_with_a_measured_grid_of_squares(rows: int, columns: int) -> None:
    measured = take_off(pattern(grid(rows, columns, 100)), {"#ff0000": CLEAR, "#0000ff": CLEAR})
    proposed = propose(columns * 100, rows * 100, rows * columns, glass=CLEAR, came=H6)
    assert proposed.border_mm == pytest.approx(measured.border_mm)
    assert proposed.inner_mm == pytest.approx(measured.inner_mm)
    assert proposed.pieces == measured.pieces


def test_one_piece_alone_has_no_came() -> None:
    pane = propose(600, 900, 1, glass=CLEAR, came=H6)
    assert (pane.came_mm, pane.joints) == ({}, 0)


@pytest.mark.parametrize(
    ("thickness", "kg_per_m2"),
    [(3, 7.5), (4, 10), (5, 12.5), (6, 15), (8, 20), (10, 25), (12, 30), (19, 47.5)],
)
def test_mass_of_glass(thickness: float, kg_per_m2: float) -> None:
    # EN 572-1: 2500 kg per cubic meter (from memory); the column follows from it.
    pane = propose(1000, 1000, 1, glass=Glass("float", thickness), came=H6)
    assert pane.mass_kg == pytest.approx(kg_per_m2)


def test_the_came_weighs_too() -> None:
    came = Came("H", kg_per_m=0.5)
    window = propose(1000, 1000, 4, glass=CLEAR, came=came)
    assert window.mass_kg == pytest.approx(15 + 0.5 * (4 + 2))


def test_drivers_are_meters_and_classes() -> None:
    beveled = {(6.35, 25): 2000, (6, 50): 1000, (12, 25): 500}
    window = replace(WINDOW, beveled_mm=beveled, carved_mm2={0.5: 3e5, 9: 2e5, 12: 1e5})
    drivers = window.drivers()
    assert drivers["beveled_m:plate"] == pytest.approx(2 + 2)
    assert drivers["beveled_m:thick"] == pytest.approx(0.5)
    assert drivers["carved_m2:shallow"] == pytest.approx(0.3)
    assert drivers["carved_m2:deep"] == pytest.approx(0.3)
    assert "curved_edge" not in drivers


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"width_mm": 0}, "20 m"),
        ({"height_mm": 20_001}, "20 m"),
        ({"pieces": 0}, "pieces"),
        ({"pieces": 20_001}, "pieces"),
        ({"hard_pieces": 31}, "hard to cut"),
        ({"joints": -1}, "joints"),
        ({"mass_kg": math.nan}, "mass"),
        ({"inner_mm": math.inf}, "inner"),
        ({"beveled_mm": {(0, 25): 1}}, "Beveled"),
        ({"carved_mm2": {101: 1}}, "Carving"),
        ({"carved_mm2": {3: 1.2e6}}, "carved"),
        ({"glass_mm2": {"clear": 546_000}}, "more glass"),
        ({"border_mm": 9000}, "add up"),
    ],
)
def test_a_quantity_that_cannot_be_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(TakeoffError, match=words):
        replace(WINDOW, **changes)  # type: ignore[arg-type]


def test_a_proposal_needs_a_size() -> None:
    with pytest.raises(TakeoffError):
        propose(0, 900, 30, glass=CLEAR, came=H6)


def test_a_heart_wider_than_its_came_is_refused() -> None:
    with pytest.raises(TakeoffError):
        Came("H", face_mm=3, heart_mm=4)


def test_json_and_back() -> None:
    assert Takeoff.from_json(WINDOW.to_json()) == WINDOW


@pytest.mark.parametrize(
    "row", [{}, {"width_mm": 1}, WINDOW.to_json() | {"beveled_mm": [[1]]}, WINDOW.to_json() | {"x": 1}]
)
def test_json_of_something_else_is_refused(row: dict[str, object]) -> None:
    with pytest.raises(TakeoffError):
        Takeoff.from_json(row)


def test_support_bars() -> None:
    # 12 sq ft without support bars: common practice, no published source.
    assert not replace(WINDOW, width_mm=914, height_mm=1219).exceeds()
    assert replace(WINDOW, width_mm=915, height_mm=1220).exceeds()
    assert replace(WINDOW, width_mm=915, height_mm=1220).exceeds(2e6) is False


def test_a_measured_pattern_is_taken_off_by_its_fills() -> None:
    drawn = pattern(grid(1, 2, 100))
    found = take_off(drawn, {"#0000ff": BEVELED, "#ff0000": CLEAR}, border=Came("U", face_mm=10))
    inset = 100 - 1.6
    assert found.glass_mm2 == {"plate": pytest.approx(inset**2), "clear": pytest.approx(inset**2)}
    assert found.beveled_mm == {(6.35, 25): pytest.approx(4 * inset)}
    assert found.came_mm == {"U": pytest.approx(600), "H 6 mm": pytest.approx(100)}
    assert found.joints == 6


def test_a_fill_that_stands_for_nothing_is_asked_about() -> None:
    with pytest.raises(TakeoffError, match="which glass"):
        take_off(pattern(grid(1, 2, 100)), {"#ff0000": CLEAR})
