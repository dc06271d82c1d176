"""Measures a drawing: its pieces, its came and its faults. Shapely, which does the geometry, is loaded when called.

Whatever of the drawing lies inside closed lines is a piece. Where every path is closed and filled, only what is filled
is one, and what lies between is a gap.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from jobs.estimating.carving import Carving
from jobs.estimating.linework import DrawingRefused, Floats, Ints, Linework
from jobs.estimating.network import (
    GRID_MM,
    MOST_FAULTS,
    Fault,
    Network,
    build,
    components,
    grid_keys,
    segments_of,
)
from jobs.estimating.shapes import NARROW_MM, Piece, edges_of, hardships, reading_order
from jobs.estimating.stacking import colors, gaps_between, shapes_of, snapped
from jobs.estimating.takeoff import Came

SLIVER_MM = 1.0
MITRE_DEGREES = 75.0  # A border came is cut at a sharper turn than this, and bent round a lesser one.
SCALE_LIMIT = 0.01
PICTURE_MM = 0.1

__all__ = ["Fault", "Pattern", "Piece", "measure", "redrawn", "scale_fault"]


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """A measured drawing, in mm from the upper left corner of its pieces. Every shared edge is counted once.

    joints: places where cames meet or are mitred, on one face; runs: lengths of came between joints; parts: how many
    networks there are that do not touch. joints - runs + faces = 1 + parts, the outside being a face (Euler).
    origin_mm: where that corner lies in the drawing as it was read.
    """

    width_mm: float
    height_mm: float
    pieces: tuple[Piece, ...]
    came: Came
    border_mm: float
    inner_mm: float
    joints: int
    runs: int
    parts: int
    faults: tuple[Fault, ...]
    origin_mm: tuple[float, float] = (0.0, 0.0)
    carved: tuple[Carving, ...] = ()

    @property
    def fills(self) -> tuple[str, ...]:
        """The fills of its pieces, in the order of their numbers, each once, "" for a piece without one; then those of
        what is carved."""
        fills = [piece.fill for piece in self.pieces] + [carving.fill for carving in self.carved]
        return tuple(dict.fromkeys(fills))


def measure(
    linework: Linework,
    *,
    came: Came,
    close_below: float = 0.0,
    narrow_mm: float = NARROW_MM,
    sliver_mm: float = SLIVER_MM,
) -> Pattern:
    """Pieces, came and faults of a drawing. Gaps up to `close_below` mm are closed, larger ones are faults.

    A face narrower than `sliver_mm` on the average is a fault and no piece. DrawingRefused where the lines cross so
    often, or shapes are stacked so deep, that it is no pattern.
    """
    if not linework.paths:
        raise DrawingRefused("There is no line in the drawing.")
    shapes_only = all(path.closed and path.fill for path in linework.paths)
    if shapes_only and close_below:
        linework = snapped(linework, close_below)
    network = build(segments_of(linework), close_below=close_below)
    shapes, fills = shapes_of(linework)
    color, faults = colors(network.faces, shapes, fills)
    is_piece, slivers = _sort_faces(network.faces, color, shapes_only, sliver_mm)
    faults = network.faults + faults + slivers
    if not linework.units_known:
        faults.insert(0, Fault("units", "The drawing does not say its units; say how wide the panel is."))
    polygons = network.faces[is_piece]
    if not len(polygons):
        faults.append(Fault("empty", "No line of the drawing closes, so there is no piece in it."))
        return Pattern(0.0, 0.0, (), came, 0.0, 0.0, 0, 0, 0, tuple(faults[:MOST_FAULTS]))
    if shapes_only:
        faults.extend(gaps_between(polygons))
    return _pattern(network, polygons, [color[i] for i in np.flatnonzero(is_piece)], came, narrow_mm, faults)


def _sort_faces(
    faces: NDArray[Any], color: list[str | None], shapes_only: bool, sliver_mm: float
) -> tuple[NDArray[np.bool_], list[Fault]]:
    import shapely

    if not len(faces):
        return np.zeros(0, bool), []
    width = 2 * shapely.area(faces) / shapely.length(faces)
    wanted = np.array([c is not None or not shapes_only for c in color])
    thin = width < sliver_mm
    # What is too thin for the grid is the rounding of a program, not a fault of the drawing.
    told = np.flatnonzero(thin & (width > 2 * GRID_MM))
    faults = []
    for i, point in zip(told, shapely.get_coordinates(shapely.point_on_surface(faces[told])), strict=True):
        words = f"A sliver {width[i]:.2f} mm wide: two lines nearly on each other."
        faults.append(Fault("sliver", words, float(point[0]), float(point[1]), float(width[i])))
    return wanted & ~thin, faults


def _pattern(
    network: Network,
    polygons: NDArray[Any],
    fills: list[str | None],
    came: Came,
    narrow_mm: float,
    faults: list[Fault],
) -> Pattern:
    import shapely

    bounds = shapely.bounds(polygons)
    left, top = bounds[:, 0].min(), bounds[:, 1].min()
    order = reading_order(bounds)
    polygons = polygons[order]
    sides = _Sides(network, polygons)
    pieces = _pieces(polygons, [fills[i] or "" for i in order], sides, came, narrow_mm, np.array([left, top]))
    border, inner = sides.lengths()
    joints, runs, parts = sides.joints()
    return Pattern(
        width_mm=float(bounds[:, 2].max() - left),
        height_mm=float(bounds[:, 3].max() - top),
        pieces=pieces,
        came=came,
        border_mm=border,
        inner_mm=inner,
        joints=joints,
        runs=runs,
        parts=parts,
        faults=tuple(
            fault
            if fault.x is None or fault.y is None
            else replace(fault, x=fault.x - float(left), y=fault.y - float(top))
            for fault in faults[:MOST_FAULTS]
        ),
        origin_mm=(float(left), float(top)),
    )


class _Sides:
    """The sides of all pieces as bits of the network: which bit each is, and how many pieces lie along it."""

    def __init__(self, network: Network, polygons: NDArray[Any]) -> None:
        import shapely

        self.nodes = network.nodes
        rings, self.piece = shapely.get_rings(polygons, return_index=True)
        points, ring = shapely.get_coordinates(rings, return_index=True)
        starts = np.flatnonzero(np.diff(ring, prepend=-1))
        self.rings = [points[a:b][:-1] for a, b in zip(starts, [*starts[1:], len(points)], strict=True)]
        keys = grid_keys(network.nodes)
        order = np.argsort(keys)
        node = order[np.searchsorted(keys[order], grid_keys(points))]
        same = ring[1:] == ring[:-1]
        pairs = np.sort(np.column_stack([node[:-1][same], node[1:][same]]), axis=1)
        many = len(network.nodes)
        names = network.bits[:, 0] * many + network.bits[:, 1]
        found = np.minimum(np.searchsorted(names, pairs[:, 0] * many + pairs[:, 1]), len(names) - 1)
        self.curve = network.curve[found]
        self.bits, self.count = np.unique(pairs, axis=0, return_counts=True)

    def edges(self, many: int) -> tuple[Ints, Ints, Ints, Ints, Ints, Floats]:
        """For each piece: its first ring and the one after its last; straight and curved edges, inner corners and
        sharpest corner of all its rings."""
        first = np.searchsorted(self.piece, np.arange(many))
        hole = np.ones(len(self.rings), bool)
        hole[first] = False
        lengths = [len(ring) for ring in self.rings]
        ring = np.repeat(np.arange(len(lengths)), lengths)
        edges = edges_of(np.concatenate(self.rings), self.curve, ring, hole)
        straight, curved, inner = (
            np.bincount(self.piece, each, many).astype(np.int64)
            for each in (edges.straight, edges.curved, edges.inner_corners)
        )
        last = np.append(first[1:], len(self.rings))
        return first, last, straight, curved, inner, np.minimum.reduceat(edges.sharpest, first)

    def lengths(self) -> tuple[float, float]:
        """Came of the border and came inside, in mm."""
        length = np.hypot(*(self.nodes[self.bits[:, 1]] - self.nodes[self.bits[:, 0]]).T)
        return float(length[self.count == 1].sum()), float(length[self.count > 1].sum())

    def joints(self) -> tuple[int, int, int]:
        """Joints, runs between them, and separate networks; a ring of came without a joint has its own ends' one."""
        degree = np.bincount(self.bits.ravel(), minlength=len(self.nodes))
        joint = degree > 2
        joint[self._mitres(degree)] = True
        root = components(self.bits, len(self.nodes))
        used = np.flatnonzero(degree)
        parts = np.unique(root[used])
        rings = len(parts) - len(np.unique(root[joint]))
        return int(joint.sum()) + rings, int(degree[joint].sum()) // 2 + rings, len(parts)

    def _mitres(self, degree: Ints) -> Ints:
        """The corners of the border at which no other came ends."""
        border = self.bits[self.count == 1]
        at = np.concatenate([border[:, 0], border[:, 1]])
        other = np.concatenate([border[:, 1], border[:, 0]])
        order = np.argsort(at, kind="stable")
        at, other = at[order], other[order]
        first = np.flatnonzero(np.diff(at, prepend=-1))
        pair = first[(degree[at[first]] == 2) & (np.append(np.diff(first), len(at) - first[-1]) == 2)]
        a = self.nodes[other[pair]] - self.nodes[at[pair]]
        b = self.nodes[other[pair + 1]] - self.nodes[at[pair]]
        cross, dot = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)
        turn = 180.0 - np.abs(np.degrees(np.arctan2(cross, dot)))
        return np.asarray(at[pair[turn > MITRE_DEGREES]])


def _pieces(
    polygons: NDArray[Any], fills: list[str], sides: _Sides, came: Came, narrow_mm: float, origin: Floats
) -> tuple[Piece, ...]:
    import shapely

    first, last, straight, curved, inner, sharpest = sides.edges(len(polygons))
    cut = shapely.buffer(polygons, -came.heart_mm / 2, join_style="mitre", mitre_limit=10)
    hard = hardships(polygons, sharpest, narrow_mm)
    bounds = shapely.bounds(polygons)
    cut_bounds = np.nan_to_num(shapely.bounds(cut))
    area, perimeter = shapely.area(polygons), shapely.length(polygons)
    cut_area, cut_perimeter = shapely.area(cut), shapely.length(cut)
    place = shapely.get_coordinates(shapely.point_on_surface(polygons)) - origin
    return tuple(
        Piece(
            number=i + 1,
            fill=fills[i],
            outline=sides.rings[first[i]] - origin,
            holes=tuple(r - origin for r in sides.rings[first[i] + 1 : last[i]]),
            x=float(place[i, 0]),
            y=float(place[i, 1]),
            area_mm2=float(area[i]),
            perimeter_mm=float(perimeter[i]),
            width_mm=float(bounds[i, 2] - bounds[i, 0]),
            height_mm=float(bounds[i, 3] - bounds[i, 1]),
            cut_area_mm2=float(cut_area[i]),
            cut_perimeter_mm=float(cut_perimeter[i]),
            cut_width_mm=float(cut_bounds[i, 2] - cut_bounds[i, 0]),
            cut_height_mm=float(cut_bounds[i, 3] - cut_bounds[i, 1]),
            straight_edges=int(straight[i]),
            curved_edges=int(curved[i]),
            inner_corners=int(inner[i]),
            hard=hard[i] + (("vanishing",) if not cut_area[i] else ()),
        )
        for i in range(len(polygons))
    )


def scale_fault(pattern: Pattern, width_mm: float, height_mm: float) -> Fault | None:
    """The question to ask where the drawing differs by more than one percent from the panel's stated size."""
    off = max(abs(pattern.width_mm / width_mm - 1), abs(pattern.height_mm / height_mm - 1))
    if off <= SCALE_LIMIT + 1e-9:
        return None
    words = (
        f"The drawing is {pattern.width_mm:.0f} × {pattern.height_mm:.0f} mm, the panel is said to be "
        f"{width_mm:.0f} × {height_mm:.0f} mm. Which is right?"
    )
    return Fault("scale", words, size_mm=off)


def redrawn(pattern: Pattern, beveled: frozenset[str] = frozenset()) -> dict[str, Any]:
    """The panel's picture as JSON: {"width", "height", "pieces": [{"number", "points", "at", "glass", "beveled"}]}.

    `at` is a place within the piece for its number, `glass` the fill, `beveled` whether it is one of those given. A
    piece with a hole comes before what lies in the hole, so that drawing them in turn shows both.
    """
    import shapely

    pieces = sorted(pattern.pieces, key=lambda p: (not p.holes, -p.area_mm2 if p.holes else 0.0, p.number))
    rows = []
    for piece in pieces:
        points = shapely.get_coordinates(shapely.simplify(shapely.polygons(piece.outline), PICTURE_MM))[:-1]
        rows.append(
            {
                "number": piece.number,
                "points": np.round(points, 2).tolist(),
                "at": [round(piece.x, 1), round(piece.y, 1)],
                "glass": piece.fill,
                "beveled": piece.fill in beveled,
            }
        )
    for carving in pattern.carved:
        for outline in carving.outlines:
            points = np.round(outline[:-1], 2).tolist()
            rows.append({"points": points, "glass": carving.fill, "beveled": False, "carved": True})
    return {"width": round(pattern.width_mm, 2), "height": round(pattern.height_mm, 2), "pieces": rows}
