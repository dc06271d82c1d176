"""What of a drawing is carved into the glass: filled shapes that are no pieces, and their area."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

import numpy as np

from jobs.estimating.linework import Floats, Linework, Path
from jobs.estimating.stacking import shapes_of


@dataclass(frozen=True, slots=True, eq=False)
class Carving:
    """All shapes of one fill that are carved: their outlines (n x 2 mm each) and the area they cover together."""

    fill: str
    area_mm2: float
    outlines: tuple[Floats, ...]


def split(linework: Linework, carved: Collection[str]) -> tuple[Linework, tuple[Path, ...]]:
    """The drawing without the closed shapes of these fills, and those shapes."""
    shapes = tuple(path for path in linework.paths if path.closed and path.fill in carved)
    if not shapes:
        return linework, ()
    rest = tuple(path for path in linework.paths if not (path.closed and path.fill in carved))
    return replace(linework, paths=rest), shapes


def carvings(
    shapes: Iterable[Path], *, scale: float, origin_mm: tuple[float, float], width_mm: float, height_mm: float
) -> tuple[Carving, ...]:
    """The carved area of each fill within the panel: what lies on itself counts once, what lies beside it not at all.

    `scale` and `origin_mm` are those of the pattern that the shapes are carved into.
    """
    import shapely

    pane = shapely.box(0, 0, width_mm, height_mm)
    found: dict[str, list[Path]] = {}
    for path in shapes:
        moved = replace(path, points=path.points * scale - np.array(origin_mm))
        found.setdefault(path.fill, []).append(moved)
    rows = []
    for fill, paths in found.items():
        areas, _ = shapes_of(Linework(tuple(paths), units_known=True))
        covered = shapely.intersection(shapely.union_all(areas), pane)
        rows.append(Carving(fill, float(shapely.area(covered)), tuple(path.points for path in paths)))
    return tuple(rows)
