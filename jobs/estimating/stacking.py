"""Filled shapes: which of them lies on top, where two overlap, and where they leave a gap."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from jobs.estimating.linework import DrawingRefused, Floats, Linework
from jobs.estimating.network import GRID_MM, LOOKED_FOR_MM, Fault

DEEPEST_STACK = 40


def shapes_of(linework: Linework) -> tuple[NDArray[Any], list[str]]:
    """The filled shapes as polygons in the order they are drawn, and their fills."""
    import shapely

    paths = [path for path in linework.paths if path.fill and len(path.points) > 3]
    made = [shapely.polygons(path.points) for path in paths]
    shapes = np.array(made, object) if made else np.array([], object)
    bad = ~shapely.is_valid(shapes) if len(shapes) else np.array([], bool)
    if bad.any():
        shapes[bad] = shapely.make_valid(shapes[bad])
    return shapes, [path.fill for path in paths]


def colors(
    faces: NDArray[Any], shapes: NDArray[Any], fills: list[str]
) -> tuple[list[str | None], list[Fault]]:
    """The fill of each face, that of the topmost shape over it, or None; and the shapes that overlap."""
    import shapely

    if not len(shapes) or not len(faces):
        return [None] * len(faces), []
    boxes = shapely.bounds(shapes)
    whole = shapely.total_bounds(shapes)
    stacked = ((boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])).sum()
    if stacked > DEEPEST_STACK * max((whole[2] - whole[0]) * (whole[3] - whole[1]), 1.0):
        raise DrawingRefused("Too many filled shapes lie on one another; draw each piece once.")
    points = shapely.point_on_surface(faces)
    face, shape = shapely.STRtree(shapes).query(points, predicate="within")
    top: list[str | None] = [None] * len(faces)
    over: list[list[int]] = [[] for _ in faces]
    for f, s in sorted(zip(face.tolist(), shape.tolist(), strict=True)):
        top[f] = fills[s]
        over[f].append(s)
    pairs: dict[tuple[int, int], int] = {}
    for f, stack in enumerate(over):
        if len(stack) > 1:
            pairs.setdefault((stack[-2], stack[-1]), f)
    return top, _overlaps(pairs, shapes, shapely.get_coordinates(points))


def _overlaps(pairs: dict[tuple[int, int], int], shapes: NDArray[Any], places: Floats) -> list[Fault]:
    """A shape that lies wholly on another is meant so; one that lies partly on it, or just on it, is not."""
    import shapely

    if not pairs:
        return []
    below, above = (shapes[list(column)] for column in zip(*pairs, strict=True))
    common = shapely.area(shapely.intersection(below, above, grid_size=GRID_MM))
    areas = np.stack([shapely.area(below), shapely.area(above)])
    rim = np.minimum(shapely.length(below), shapely.length(above)) * 3 * GRID_MM
    faults = []
    for k, face in enumerate(pairs.values()):
        x, y = map(float, places[face])
        if common[k] >= areas[:, k].max() - rim[k]:
            faults.append(
                Fault("doubled", "The same shape is drawn twice here.", x, y, float(common[k]) ** 0.5)
            )
        elif rim[k] < common[k] < areas[:, k].min() - rim[k]:
            words = f"Two pieces overlap here by {common[k] / 100:.1f} cm²."
            faults.append(Fault("overlap", words, x, y, float(common[k]) ** 0.5))
    return faults


def gaps_between(polygons: NDArray[Any]) -> list[Fault]:
    """A fault for each two pieces that lie close to each other with nothing between them."""
    import shapely

    tree = shapely.STRtree(polygons)
    i, j = tree.query(polygons, predicate="dwithin", distance=LOOKED_FOR_MM)
    i, j = i[i < j], j[i < j]
    distance = shapely.distance(polygons[i], polygons[j])
    apart = distance > 1.5 * GRID_MM
    i, j, distance = i[apart], j[apart], distance[apart]
    lines = shapely.shortest_line(polygons[i], polygons[j])
    middles = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    between = np.zeros(len(lines), bool)
    between[tree.query(middles, predicate="intersects")[0]] = True
    faults = []
    for place, gap in zip(shapely.get_coordinates(middles[~between]), distance[~between], strict=True):
        words = f"A gap of {gap:.1f} mm between two pieces: draw them edge to edge."
        faults.append(Fault("gap", words, float(place[0]), float(place[1]), float(gap)))
    return faults


def snapped(linework: Linework, within: float) -> Linework:
    """The drawing with corners of shapes that lie within this distance of one another drawn to one place.

    A point inside a curve follows the corners that its curve lies between.
    """
    import shapely

    corner = [_corners(path.curve) for path in linework.paths]
    places = np.concatenate([p.points[:-1][c] for p, c in zip(linework.paths, corner, strict=True)])
    points = shapely.points(places)
    i, j = shapely.STRtree(points).query(points, predicate="dwithin", distance=within)
    group = np.arange(len(places))
    for a, b in zip(i, j, strict=True):
        while group[a] != group[group[a]]:
            group[a] = group[group[a]]
        low, high = sorted((group[a], group[b]))
        group[high] = low
    while not np.array_equal(group, group[group]):
        group = group[group]
    total = np.stack([np.bincount(group, places[:, k], len(places)) for k in (0, 1)], axis=1)
    count = np.bincount(group, minlength=len(places))
    moved = total[group] / count[group][:, None] - places
    paths, at = [], 0
    for path, own in zip(linework.paths, corner, strict=True):
        shift = np.zeros_like(path.points)
        known = np.append(np.flatnonzero(own), len(own))
        values = np.vstack([moved[at : at + own.sum()], moved[at : at + 1]])
        for k in (0, 1):
            shift[:, k] = np.interp(np.arange(len(path.points)), known, values[:, k])
        at += int(own.sum())
        paths.append(replace(path, points=path.points + shift))
    return replace(linework, paths=tuple(paths))


def _corners(curve: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which points of a closed path are not inside a curve; its first always counts."""
    inside = (curve == np.roll(curve, 1)) & (curve != 0)
    inside[0] = False
    return np.asarray(~inside)
