import io
import math
from collections.abc import Callable
from typing import Any

import ezdxf
import numpy as np
import pytest

from jobs.estimating.linework import MOST_BYTES, DrawingRefused
from jobs.estimating.pattern import measure
from jobs.estimating.reading_dxf import MOST_LINES, read_dxf
from jobs.estimating.takeoff import Came


def saved(draw: Callable[[Any, Any], object], units: int = 4) -> bytes:
    document = ezdxf.new()
    document.header["$INSUNITS"] = units
    draw(document, document.modelspace())
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


@pytest.mark.parametrize(
    ("units", "mm", "known"), [(4, 1, True), (1, 25.4, True), (5, 10, True), (0, 1, False)]
)
def test_units(units: int, mm: float, known: bool) -> None:
    found = read_dxf(saved(lambda _, m: m.add_line((0, 0), (10, 5)), units))
    assert found.paths[0].points.tolist() == [[0, 0], [10 * mm, -5 * mm]]
    assert found.units_known is known


def test_a_rounded_outline_keeps_its_curves() -> None:
    # A bulge is the tangent of a quarter of the arc's angle, so 1 is half a circle (DXF reference).
    outline = [(0, 0, 0, 0, 0), (10, 0, 0, 0, 1), (10, 10, 0, 0, 0), (0, 10, 0, 0, -1)]
    path = read_dxf(
        saved(lambda _, m: m.add_lwpolyline(outline, close=True, dxfattribs={"layer": "amber"}))
    ).paths[0]
    assert (path.closed, path.fill) == (True, "amber")
    assert len(set(path.curve) - {0}) == 2
    x, y = path.points[:-1].T
    area = abs((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) / 2
    assert area == pytest.approx(100, rel=1e-3)
    assert path.points[:, 0].max() == pytest.approx(15, abs=0.05)


@pytest.mark.parametrize("first", [1, -1])
def test_a_polyline_that_begins_with_a_bulge(first: float) -> None:
    points = [(0, 0, 0, 0, first), (10, 0, 0, 0, 0), (20, 0, 0, 0, 0)]
    path = read_dxf(saved(lambda _, m: m.add_lwpolyline(points))).paths[0]
    assert path.points[0] == pytest.approx([0, 0], abs=1e-9)
    assert path.points[-1] == pytest.approx([20, 0], abs=1e-9)
    assert path.points[:, 1].max() == pytest.approx(5 if first > 0 else 0, abs=0.05)


@pytest.mark.parametrize(
    ("draw", "length"),
    [
        (lambda _, m: m.add_circle((5, 5), 100), 2 * math.pi * 100),
        (lambda _, m: m.add_arc((0, 0), 100, 0, 90), math.pi / 2 * 100),
        (lambda _, m: m.add_ellipse((0, 0), (100, 0), 1), 2 * math.pi * 100),
        (lambda _, m: m.add_polyline2d([(0, 0), (3, 0), (3, 4)], close=True), 12),
        (lambda _, m: m.add_spline([(0, 0), (5, 0), (10, 0)]), 10),
    ],
)
def test_lengths(draw: Callable[[Any, Any], object], length: float) -> None:
    path = read_dxf(saved(draw)).paths[0]
    assert np.hypot(*np.diff(path.points, axis=0).T).sum() == pytest.approx(length, rel=1e-3)


def test_a_block_is_placed_turned_and_mirrored() -> None:
    def draw(document: Any, model: Any) -> None:
        inner = document.blocks.new("inner")
        inner.add_line((0, 0), (1, 0))
        outer = document.blocks.new("outer")
        outer.add_blockref("inner", (1, 0), {"rotation": 90})
        model.add_blockref("outer", (10, 10), {"xscale": -2})

    assert read_dxf(saved(draw)).paths[0].points == pytest.approx(np.array([[8, -10], [8, -11]]))


def test_what_is_left_out_is_said() -> None:
    def draw(_: Any, model: Any) -> None:
        model.add_line((0, 0), (1, 0))
        model.add_text("no")

    assert read_dxf(saved(draw)).left_out == ("text",)


def _bomb(document: Any, model: Any) -> None:
    for i in range(10):
        block = document.blocks.new(f"B{i}")
        for _ in range(10):
            block.add_blockref(f"B{i + 1}", (0, 0))
    document.blocks.new("B10").add_line((0, 0), (1, 1))
    model.add_blockref("B0", (0, 0))


def _itself(document: Any, model: Any) -> None:
    document.blocks.new("S").add_blockref("S", (0, 0))
    model.add_blockref("S", (0, 0))


def _rows(document: Any, model: Any) -> None:
    document.blocks.new("S").add_line((0, 0), (1, 1))
    many = {"row_count": 30_000, "column_count": 30_000, "row_spacing": 1, "column_spacing": 1}
    model.add_blockref("S", (0, 0), many)


LINE = saved(lambda _, m: m.add_line((0, 0), (1, 77.25)))
HOSTILE = {
    "too large": b"SECTION" + b" " * MOST_BYTES,
    "too many lines": b"SECTION\n" * (MOST_LINES + 1),
    "another file": b"<svg/>",
    "junk": b"SECTION" + b"\x00\x01" * 100_000,
    "cut off": LINE[:5000],
    "binary": b"AutoCAD Binary DXF\r\n\x1a\x00SECTION",
    "nothing in it": saved(lambda _, m: None),
    "blocks in blocks": saved(_bomb),
    "a block of itself": saved(_itself),
    "rows without end": saved(_rows),
    "not a number": LINE.replace(b"77.25", b"nan"),
    "endless": LINE.replace(b"77.25", b"1e999"),
    "far away": LINE.replace(b"77.25", b"1e7"),
    "a circle as large as a town": saved(lambda _, m: m.add_circle((0, 0), 1e12)),
    "a spline through too many points": saved(lambda _, m: m.add_spline([(i, i % 7) for i in range(501)])),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_refused(name: str) -> None:
    with pytest.raises(DrawingRefused) as refusal:
        read_dxf(HOSTILE[name])
    assert str(refusal.value).endswith(".")


def hatched(layer: str, color: int, edges: Callable[[Any], object]) -> bytes:
    def draw(_: Any, space: Any) -> None:
        edges(space.add_hatch(color=color, dxfattribs={"layer": layer}).paths)

    return saved(draw)


SQUARE = [(0, 0), (40, 0), (40, 30), (0, 30)]


@pytest.mark.parametrize(
    ("layer", "color", "fill"), [("amber", 2, "amber"), ("0", 3, "color 3"), ("0", 256, "hatched")]
)
def test_a_hatch_is_a_filled_shape(layer: str, color: int, fill: str) -> None:
    found = read_dxf(hatched(layer, color, lambda paths: paths.add_polyline_path(SQUARE, is_closed=True)))
    (path,) = found.paths
    assert (path.closed, path.fill, len(path.curve)) == (True, fill, 4)
    assert not path.curve.any()
    assert found.left_out == ()


def test_the_round_edge_of_a_hatch_is_one_curve() -> None:
    (path,) = read_dxf(
        hatched("red", 1, lambda paths: paths.add_edge_path().add_arc((50, 40), 20, 0, 360))
    ).paths
    assert len(set(path.curve)) == 1
    assert 0 not in path.curve
    x, y = path.points[:-1].T
    area = abs((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) / 2
    assert area == pytest.approx(math.pi * 20**2, rel=2e-3)


def test_a_hatch_over_its_own_outline_is_no_doubled_line() -> None:
    def draw(_: Any, space: Any) -> None:
        space.add_lwpolyline(SQUARE, close=True)
        space.add_hatch(dxfattribs={"layer": "blue"}).paths.add_polyline_path(SQUARE, is_closed=True)

    found = measure(read_dxf(saved(draw)), came=Came("H"))
    assert [(piece.fill, round(piece.area_mm2)) for piece in found.pieces] == [("blue", 1200)]
    assert found.faults == ()


def test_a_hatch_of_too_many_boundaries_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("jobs.estimating.reading_dxf.MOST_BOUNDARIES", 0)
    with pytest.raises(DrawingRefused, match="too many boundaries"):
        read_dxf(hatched("red", 1, lambda paths: paths.add_polyline_path(SQUARE, is_closed=True)))
