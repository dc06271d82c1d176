"""A drawing kept as plain JSON, and measured with what the person said of it."""

import json
import math
from dataclasses import replace
from typing import Any

import pytest

from jobs.estimating import drawn
from jobs.estimating.linework import DrawingRefused
from jobs.estimating.pattern import measure
from jobs.estimating.takeoff import TakeoffError, mass_kg, with_waste
from tests.estimating.drawings import FRAME, H6, drawing, grid, lines, wavy

STATED = drawn.Answers(panel_width_mm=600, panel_height_mm=900)
# A grid of 3 x 2 squares of 300 units, which its page does not say the size of.
BARE = drawing(grid(3, 2, 300), page='viewBox="0 0 600 900"')


def kinds(pattern: Any) -> list[str]:
    return [fault.kind for fault in pattern.faults]


def test_lines_come_back_as_they_were_kept() -> None:
    linework = lines(wavy(3, 4, 60) + grid(1, 2, 50) + FRAME)
    kept = json.loads(json.dumps(drawn.lines_json(linework)))
    back = drawn.lines_of(kept)
    assert back.segments == linework.segments
    assert drawn.lines_json(back) == drawn.lines_json(linework)
    # To the ten-thousandth of a millimeter, far below the grid that lines are snapped to.
    before, after = measure(linework, came=H6), measure(back, came=H6)
    assert [p.area_mm2 for p in after.pieces] == pytest.approx([p.area_mm2 for p in before.pieces], rel=1e-5)
    assert [p.curved_edges for p in after.pieces] == [p.curved_edges for p in before.pieces]


def test_what_was_measured_is_kept_as_json() -> None:
    pattern, scale = drawn.measure_with(lines(grid(3, 2, 300)), H6, STATED)
    kept = json.loads(json.dumps(drawn.measured_json(pattern, scale)))
    assert (kept["width"], kept["height"], kept["scale"], kept["origin"]) == (600, 900, 1, [0, 0])
    assert [piece["number"] for piece in kept["pieces"]] == [1, 2, 3, 4, 5, 6]
    assert {piece["cut_area"] for piece in kept["pieces"]} == {round(298.4**2, 1)}
    assert kept["fills"] == list(pattern.fills)


def test_the_origin_says_where_the_pieces_lie() -> None:
    moved = f'<g transform="translate(70 -20)">{grid(3, 2, 300)}</g>'
    pattern, scale = drawn.measure_with(lines(moved), H6, STATED)
    assert pattern.origin_mm == pytest.approx((70, -20))
    assert drawn.measured_json(pattern, scale)["origin"] == [70, -20]


def test_faults_say_whether_they_ask() -> None:
    asked, _ = drawn.measure_with(drawn.read(BARE), H6, STATED)
    told = drawn.measure_with(lines(FRAME + '<path fill="none" d="M9 9L50 50"/>'), H6, STATED)[0]
    assert [(f["kind"], f["asks"]) for f in drawn.faults_json(asked.faults)] == [("units", True)]
    assert {(f["kind"], f["asks"]) for f in drawn.faults_json(told.faults)} == {("open", False)}


@pytest.mark.parametrize("width", [300.0, 600.0, 1200.0])
def test_a_drawing_without_units_is_as_wide_as_it_is_said_to_be(width: float) -> None:
    said = drawn.Answers(panel_width_mm=width, panel_height_mm=1.5 * width, drawn_width_mm=width)
    pattern, scale = drawn.measure_with(drawn.read(BARE), H6, said)
    assert kinds(pattern) == []
    assert (pattern.width_mm, pattern.height_mm) == pytest.approx((width, 1.5 * width))
    # Read at 96 units to the inch before anybody says otherwise.
    assert scale == pytest.approx(width / (600 * 25.4 / 96))


def test_the_scale_is_a_question_above_one_percent() -> None:
    square = lines(grid(3, 2, 300))
    for wide, found in ((606, []), (607, ["scale"]), (594.1, []), (593, ["scale"])):
        said = replace(STATED, panel_width_mm=wide)
        assert kinds(drawn.measure_with(square, H6, said)[0]) == found


def test_drawn_to_the_panel_or_the_panel_to_the_drawing() -> None:
    square = lines(grid(3, 2, 300))
    wider = drawn.Answers(panel_width_mm=660, panel_height_mm=990)
    fitted, scale = drawn.measure_with(square, H6, replace(wider, scale="panel"))
    assert (fitted.width_mm, fitted.height_mm, scale) == pytest.approx((660, 990, 1.1))
    # Every shared edge once: 3 inner lengths across and down of 330 mm each, and one of 660.
    assert fitted.inner_mm == pytest.approx(1.1 * (2 * 600 + 900))
    kept, scale = drawn.measure_with(square, H6, replace(wider, scale="drawing"))
    assert (kept.width_mm, kinds(kept), scale) == (600, [], 1)
    # Fitted in width, it is still too high: the question stays.
    lower = replace(wider, panel_height_mm=800, scale="panel")
    assert kinds(drawn.measure_with(square, H6, lower)[0]) == ["scale"]


def test_a_drawing_without_pieces_or_width() -> None:
    empty, _ = drawn.measure_with(lines('<path fill="none" d="M0 0L600 0L600 9"/>'), H6, STATED)
    assert "empty" in kinds(empty)
    upright = drawn.read(drawing('<path fill="none" d="M5 0L5 900"/>', page=""))
    with pytest.raises(DrawingRefused, match="no width"):
        drawn.measure_with(upright, H6, replace(STATED, drawn_width_mm=600))


@pytest.mark.parametrize("data", [b"", b"hello", b"%PDF-1.7", b"\x89PNG\r\n", b"PK\x03\x04"])
def test_neither_svg_nor_dxf(data: bytes) -> None:
    with pytest.raises(DrawingRefused, match="neither an SVG nor a DXF"):
        drawn.read(data)


def test_an_svg_is_known_behind_what_programs_write_before_it() -> None:
    body = drawing(grid(1, 1, 50))
    for head in (b"\xef\xbb\xbf", b"\n  ", b'<?xml version="1.0"?>\n<!-- drawn by hand -->'):
        assert drawn.read(head.lstrip() + body).segments == 4


def test_waste_and_mass() -> None:
    # A quarter lost: three square meters are cut from four.
    assert with_waste(3e6, 0.25) == pytest.approx(4e6)
    assert with_waste(3e6, 0) == 3e6
    for share in (1, -0.1):
        with pytest.raises(TakeoffError, match="less than all"):
            with_waste(1, share)
    # 0.9 x 0.6 m of 6 mm: 8.1 kg, from 2500 kg/m3 (EN 572-1, from memory).
    assert mass_kg([(6, 900 * 600)], []) == pytest.approx(8.1)
    assert mass_kg([], [(H6, 2000)]) == pytest.approx(2 * H6.mass_per_m)
    assert math.isclose(mass_kg([(6, 540_000)], [(H6, 2000)]), 8.1 + 2 * H6.mass_per_m)
