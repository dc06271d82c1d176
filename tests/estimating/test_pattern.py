import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.estimating.linework import DrawingRefused, Linework, Path
from jobs.estimating.pattern import Pattern, measure, redrawn, scale_fault
from jobs.estimating.reading_dxf import read_dxf
from tests.estimating.drawings import FRAME, H6, grid, hexagons, kinds, lines, pattern, wavy
from tests.estimating.test_reading_dxf import saved


def euler(found: Pattern) -> int:
    """V - E + F - (1 + parts), F with the outside: nothing for any plane network (Euler's formula)."""
    return found.joints - found.runs + (len(found.pieces) + 1) - (1 + found.parts)


@pytest.mark.parametrize(("rows", "columns"), [(1, 1), (1, 5), (3, 4), (12, 9)])
def test_a_grid(rows: int, columns: int) -> None:
    found = pattern(grid(rows, columns, 50))
    assert len(found.pieces) == rows * columns
    assert found.border_mm == pytest.approx(2 * (rows + columns) * 50)
    assert found.inner_mm == pytest.approx(((rows - 1) * columns + (columns - 1) * rows) * 50)
    assert found.joints == (rows + 1) * (columns + 1)
    assert euler(found) == 0
    assert found.faults == ()
    for piece in found.pieces:
        assert piece.area_mm2 == pytest.approx(2500)
        assert piece.cut_area_mm2 == pytest.approx(48.4**2)
        assert (piece.straight_edges, piece.curved_edges, piece.inner_corners, piece.hard) == (4, 0, 0, ())


def test_what_lies_half_way_between_two_steps_of_the_grid_is_one_place() -> None:
    """Pieces that touch at y = 812.165 mm, each drawn by itself, so that none has quite the corner of its neighbor."""
    shapes = [
        [(454.66, 592.4549999999999), (523.24, 702.31), (454.66, 812.165), (386.08000000000004, 702.31)],
        [(386.08, 702.31), (454.65999999999997, 812.165), (386.08, 922.02), (317.5, 812.165)],
        [(317.49999999999994, 922.02), (591.82, 922.02), (591.82, 965.2), (317.49999999999994, 965.2)],
        [(454.66, 812.165), (523.24, 922.02), (386.08000000000004, 922.02)],
    ]
    paths = [Path(np.array([*shape, shape[0]]), np.zeros(len(shape), np.int64), True, "") for shape in shapes]
    assert len(measure(Linework(tuple(paths), True), came=H6).pieces) == len(shapes)


def test_a_network_of_lead_lines_is_the_same_grid() -> None:
    across = "".join(f'<line x1="0" x2="600" y1="{y}" y2="{y}"/>' for y in range(100, 900, 100))
    down = "".join(f'<line y1="0" y2="900" x1="{x}" x2="{x}"/>' for x in range(100, 600, 100))
    network, shapes = pattern(FRAME + across + down), pattern(grid(9, 6, 100))
    assert len(network.pieces) == len(shapes.pieces) == 54
    assert network.inner_mm == pytest.approx(shapes.inner_mm)
    assert network.joints == shapes.joints == 70


def test_pieces_are_numbered_as_one_reads() -> None:
    found = pattern(grid(3, 4, 50))
    assert [piece.number for piece in found.pieces] == list(range(1, 13))
    assert [(p.x // 50, p.y // 50) for p in found.pieces[:5]] == [(0, 0), (1, 0), (2, 0), (3, 0), (0, 1)]


def test_hexagons() -> None:
    rows, columns, side = 4, 5, 30.0
    found = pattern(hexagons(rows, columns, side))
    many = rows * columns
    inner = many - rows + (rows - 1) * (2 * columns - 1)
    assert len(found.pieces) == many
    assert found.inner_mm == pytest.approx(inner * side, rel=1e-3)
    assert found.border_mm == pytest.approx((6 * many - 2 * inner) * side, rel=1e-3)
    assert euler(found) == 0
    assert found.faults == ()
    for piece in found.pieces:
        assert piece.area_mm2 == pytest.approx(1.5 * math.sqrt(3) * side**2, rel=1e-3)
        # Moving each side of a hexagon inwards by d shortens it by 2 d / sqrt(3).
        cut = side - 1.6 / math.sqrt(3)
        assert piece.cut_area_mm2 == pytest.approx(1.5 * math.sqrt(3) * cut**2, rel=1e-3)
        assert (piece.straight_edges, piece.inner_corners) == (6, 0)


def test_a_disc_in_a_pane() -> None:
    found = pattern(
        '<rect width="600" height="900" fill="#eee"/><circle cx="300" cy="450" r="100" fill="red"/>'
    )
    pane, disc = found.pieces
    assert disc.area_mm2 == pytest.approx(math.pi * 1e4, rel=5e-4)
    assert disc.cut_area_mm2 == pytest.approx(math.pi * (100 - 0.8) ** 2, rel=5e-4)
    assert disc.perimeter_mm == pytest.approx(math.tau * 100, rel=2e-4)
    assert pane.area_mm2 == pytest.approx(540_000 - math.pi * 1e4, rel=1e-4)
    assert (pane.fill, disc.fill) == ("#eeeeee", "#ff0000")
    assert (disc.straight_edges, disc.curved_edges, disc.hard) == (0, 1, ())
    assert "pierced" in pane.hard
    assert found.inner_mm == pytest.approx(math.tau * 100, rel=2e-4)
    # Four mitred corners, and the one joint of the round came.
    assert (found.joints, found.parts, euler(found)) == (5, 2, 0)


def test_rings() -> None:
    circles = "".join(f'<circle cx="300" cy="300" r="{r}" fill="red"/>' for r in (200, 120, 40))
    found = pattern(circles)
    areas = sorted(piece.area_mm2 for piece in found.pieces)
    exact = [math.pi * 40**2, math.pi * (120**2 - 40**2), math.pi * (200**2 - 120**2)]
    assert areas == pytest.approx(exact, rel=1e-3)
    assert found.border_mm == pytest.approx(math.tau * 200, rel=1e-3)
    assert found.inner_mm == pytest.approx(math.tau * 160, rel=1e-3)
    assert euler(found) == 0
    assert found.faults == ()


def test_a_half_disc_has_a_straight_and_a_curved_edge() -> None:
    (piece,) = pattern('<path d="M0 100A100 100 0 0 1 200 100Z" fill="red"/>').pieces
    assert (piece.straight_edges, piece.curved_edges, piece.inner_corners) == (1, 1, 0)
    assert piece.area_mm2 == pytest.approx(math.pi * 5000, rel=1e-3)


def test_an_angle_has_an_inner_corner() -> None:
    (piece,) = pattern('<path d="M0 0H100V40H40V100H0Z" fill="red"/>').pieces
    assert (piece.straight_edges, piece.inner_corners) == (6, 1)
    assert piece.cut_area_mm2 == pytest.approx(38.4 * 98.4 + 60 * 38.4)


@pytest.mark.parametrize(
    ("data", "mark"),
    [
        ("M0 0H200V10H0Z", "narrow"),
        ("M0 0H60V25H90V0H150V60H90V33H60V60H0Z", "narrow"),
        ("M0 0H100V100H80V20H20V100H0Z", "notched"),
        ("M0 0L200 40L200 0Z", "sharp"),
    ],
)
def test_pieces_that_are_hard_to_cut(data: str, mark: str) -> None:
    (piece,) = pattern(f'<path d="{data}" fill="red"/>').pieces
    assert mark in piece.hard


def test_a_piece_that_its_came_leaves_nothing_of() -> None:
    (piece,) = pattern('<rect width="50" height="1.5" fill="red"/>').pieces
    assert "vanishing" in piece.hard
    assert piece.cut_area_mm2 == 0


def test_a_line_that_stops_short_is_a_gap_at_its_place() -> None:
    found = pattern(FRAME + '<path d="M0 450H598" fill="none"/>')
    (gap,) = found.faults
    assert (gap.kind, gap.x, gap.y) == ("gap", 598, 450)
    assert gap.size_mm == pytest.approx(2, abs=0.02)
    assert len(found.pieces) == 1


@pytest.mark.parametrize("end", [598, 602])
def test_what_is_closed_below_a_tolerance_is_no_fault(end: float) -> None:
    found = pattern(FRAME + f'<path d="M0 450H{end}" fill="none"/>', close_below=2.5)
    assert found.faults == ()
    assert len(found.pieces) == 2
    assert found.inner_mm == pytest.approx(600)


def test_two_ends_that_face_each_other_are_one_gap() -> None:
    body = FRAME + '<path d="M0 450H300M301 450H600" fill="none"/>'
    assert kinds(pattern(body)) == ["gap"]
    assert kinds(pattern(body, close_below=1.5)) == []


def test_a_line_that_ends_in_the_open() -> None:
    found = pattern(FRAME + '<path d="M0 450H300" fill="none"/>')
    assert [(fault.kind, fault.x, fault.y) for fault in found.faults] == [("open", 300, 450)]
    assert found.inner_mm == 0


def test_a_line_drawn_twice() -> None:
    found = pattern(FRAME + '<path d="M0 450H600" fill="none"/><path d="M100 450H600" fill="none"/>')
    (fault,) = found.faults
    assert (fault.kind, fault.y) == ("doubled", 450)
    assert fault.size_mm == pytest.approx(500)
    assert found.inner_mm == pytest.approx(600)


def test_a_shape_drawn_twice() -> None:
    found = pattern('<rect width="60" height="90" fill="red"/>' * 2)
    assert kinds(found) == ["doubled"]
    assert len(found.pieces) == 1


def test_shapes_that_overlap() -> None:
    found = pattern(
        '<rect width="60" height="90" fill="red"/><rect x="50" width="60" height="90" fill="blue"/>'
    )
    (fault,) = found.faults
    assert fault.kind == "overlap"
    assert fault.x is not None
    assert 50 < fault.x < 60


def test_lines_nearly_on_each_other_leave_a_sliver() -> None:
    found = pattern(FRAME + '<path d="M0 450H600M0 450.4H600" fill="none"/>')
    (fault,) = found.faults
    assert fault.kind == "sliver"
    assert fault.size_mm == pytest.approx(0.4, abs=0.01)
    assert len(found.pieces) == 2


def test_shapes_drawn_apart_can_be_drawn_together() -> None:
    apart = '<rect width="50" height="50" fill="red"/><rect x="51.6" width="50" height="50" fill="red"/>'
    found = pattern(apart)
    assert kinds(found) == ["gap"]
    assert found.inner_mm == 0
    closed = pattern(apart, close_below=2)
    assert closed.faults == ()
    assert closed.inner_mm == pytest.approx(50)


def test_no_units_is_a_fault() -> None:
    assert kinds(measure(lines('<rect width="9" height="9"/>', ""), came=H6)) == ["units"]


def test_lines_that_close_nothing() -> None:
    found = pattern('<path d="M0 0H600" fill="none"/>')
    assert found.pieces == ()
    assert "empty" in kinds(found)


def test_no_lines_at_all_are_refused() -> None:
    with pytest.raises(DrawingRefused):
        measure(Linework((), units_known=True), came=H6)


def _thicket(many: int) -> str:
    ends = np.random.default_rng(1).uniform(0, 600, (many, 4)).round(1)
    return '<path fill="none" d="' + "".join(f"M{a} {b}L{c} {d}" for a, b, c, d in ends) + '"/>'


def _hatching(many: int) -> str:
    return '<path fill="none" d="' + "".join(f"M{i % 150} {i // 150}l.5.3" for i in range(many)) + '"/>'


def _nested(many: int, fill: str) -> str:
    return "".join(
        f'<rect x="{i * 0.1:.1f}" y="{i * 0.1:.1f}" width="{600 - i * 0.2:.1f}" height="{900 - i * 0.2:.1f}" '
        f'fill="{fill}"/>'
        for i in range(many)
    )


@pytest.mark.parametrize(
    "body", [_thicket(3000), _hatching(20_000), _nested(2500, "red"), _nested(2500, "none")], ids=range(4)
)
def test_what_is_no_pattern_is_refused(body: str) -> None:
    with pytest.raises(DrawingRefused):
        pattern(body)


def test_two_thousand_curved_pieces() -> None:
    found = pattern(wavy(40, 50, 20))
    assert len(found.pieces) == 2000
    assert euler(found) == 0
    assert {(p.straight_edges, p.curved_edges) for p in found.pieces} == {(0, 4)}
    assert found.faults == ()


@pytest.mark.parametrize(
    ("width", "height", "asked"), [(600, 900, False), (606, 900, False), (607, 900, True), (600, 880, True)]
)
def test_a_scale_off_by_more_than_one_percent_is_asked_about(
    width: float, height: float, asked: bool
) -> None:
    fault = scale_fault(pattern(FRAME), width, height)
    assert (fault is not None) is asked
    if fault:
        assert "Which is right?" in fault.words


def test_the_picture() -> None:
    picture = redrawn(pattern(grid(1, 2, 50)), frozenset({"#0000ff"}))
    assert (picture["width"], picture["height"]) == (100, 50)
    first, second = picture["pieces"]
    assert (first["number"], first["glass"], first["beveled"]) == (1, "#0000ff", True)
    assert (second["number"], second["glass"], second["beveled"]) == (2, "#ff0000", False)
    assert sorted(first["points"]) == [[0, 0], [0, 50], [50, 0], [50, 50]]


def test_the_picture_shows_what_lies_in_a_hole() -> None:
    body = '<rect width="600" height="900" fill="#eee"/><circle cx="300" cy="400" r="100" fill="red"/>'
    assert [piece["glass"] for piece in redrawn(pattern(body))["pieces"]] == ["#eeeeee", "#ff0000"]


def test_a_dxf_and_an_svg_of_one_window_agree() -> None:
    def draw(_: object, model: object) -> None:
        model.add_lwpolyline([(0, 0), (600, 0), (600, 900), (0, 900)], close=True)  # type: ignore[attr-defined]
        model.add_line((0, 450), (600, 450))  # type: ignore[attr-defined]
        model.add_arc((300, 450), 100, 0, 180)  # type: ignore[attr-defined]

    drawn = measure(read_dxf(saved(draw)), came=H6)
    same = pattern(FRAME + '<path fill="none" d="M0 450H600M200 450A100 100 0 0 1 400 450"/>')
    assert len(drawn.pieces) == len(same.pieces) == 3
    assert drawn.inner_mm == pytest.approx(same.inner_mm, rel=1e-3)
    assert drawn.joints == same.joints == 8


@pytest.mark.parametrize("shift", [0.005, 0.015, 317.505])
def test_lines_between_two_steps_of_the_grid_meet(shift: float) -> None:
    """Sizes in inches come to lie in the middle between two hundredths of a millimeter, whichever way they round."""

    def line(*points: tuple[float, float]) -> Path:
        places = np.array(points) * 10.0 + shift
        return Path(places, np.zeros(len(points) - 1, np.int64), points[0] == points[-1], "")

    squares = [
        line((x, y), (x + 2, y), (x + 2, y + 2), (x, y + 2), (x, y))
        for x in range(0, 8, 2)
        for y in range(0, 8, 2)
    ]
    # Lines that end on the middle of a side: only what they meet is cut, all else keeps its place.
    halves = [line((x + 1, y), (x + 1, y + 2)) for x in range(0, 8, 2) for y in range(0, 8, 4)]
    found = measure(Linework((*squares, *halves), True), came=H6)
    assert found.faults == ()
    assert len(found.pieces) == 16 + 8
    assert sum(piece.area_mm2 for piece in found.pieces) == pytest.approx(80.0**2)
    assert found.parts == 1
    assert euler(found) == 0


WINDOW = lines(
    FRAME
    + '<path fill="none" d="M0 300H600M0 620L600 580M200 0C260 100 150 200 200 300M420 300V592"/>'
    + '<circle fill="none" cx="300" cy="760" r="70"/>'
)
BEFORE = measure(WINDOW, came=H6)


def _moved(matrix: np.ndarray, shift: tuple[float, float] = (0, 0)) -> Pattern:
    paths = tuple(replace(path, points=path.points @ matrix.T + np.array(shift)) for path in WINDOW.paths)
    return measure(replace(WINDOW, paths=paths), came=H6)


def _agree(after: Pattern, factor: float = 1.0) -> None:
    def areas(found: Pattern) -> list[float]:
        return sorted(piece.area_mm2 for piece in found.pieces)

    def counts(found: Pattern) -> list[tuple[int, int, int]]:
        return sorted((p.straight_edges, p.curved_edges, p.inner_corners) for p in found.pieces)

    assert areas(after) == pytest.approx([area * factor**2 for area in areas(BEFORE)], rel=2e-3)
    assert counts(after) == counts(BEFORE)
    assert after.border_mm == pytest.approx(BEFORE.border_mm * factor, rel=1e-3)
    assert after.inner_mm == pytest.approx(BEFORE.inner_mm * factor, rel=1e-3)
    assert (after.joints, after.runs, after.parts) == (BEFORE.joints, BEFORE.runs, BEFORE.parts)
    assert after.faults == ()


MODEST = settings(max_examples=15, deadline=None)


def test_the_window_is_what_it_is() -> None:
    assert (len(BEFORE.pieces), BEFORE.joints, euler(BEFORE), BEFORE.faults) == (6, 13, 0, ())


@MODEST
@given(st.floats(0, 360))
def test_turning_changes_neither_areas_nor_lengths(degrees: float) -> None:
    a = math.radians(degrees)
    _agree(_moved(np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])))


@MODEST
@given(st.floats(-5000, 5000), st.floats(-5000, 5000))
def test_moving_changes_nothing(x: float, y: float) -> None:
    after = _moved(np.eye(2), (x, y))
    _agree(after)
    assert after.width_mm == pytest.approx(BEFORE.width_mm, abs=0.05)
    lefts = [float(piece.outline[:, 0].min()) for piece in BEFORE.pieces]
    assert [piece.outline[:, 0].min() for piece in after.pieces] == pytest.approx(lefts, abs=0.1)


@pytest.mark.parametrize("mirror", [(-1, 1), (1, -1), (-1, -1)])
def test_mirroring_changes_neither_areas_nor_lengths(mirror: tuple[int, int]) -> None:
    _agree(_moved(np.diag(mirror)))


@MODEST
@given(st.floats(0.3, 5))
def test_scaling_scales_lengths_and_areas_and_nothing_else(factor: float) -> None:
    _agree(_moved(np.eye(2) * factor), factor)
