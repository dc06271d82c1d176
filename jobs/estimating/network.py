"""The lines of a drawing cut at every crossing, gaps closed where asked, and what is wrong with them.

Coordinates are snapped to a grid of a hundredth of a millimeter, so that what a drawing program rounded still meets.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from jobs.estimating.linework import DrawingRefused, Floats, Ints, Linework

GRID_MM = 0.01
STEPS = 100  # To a millimeter.
ROUNDING_MM = 0.05  # A gap up to this is a drawing program's rounding: it is closed without a word.
LOOKED_FOR_MM = 5.0  # An open end with another line within this distance is a gap rather than an end.
MOST_CROSSINGS = 20_000
MOST_NEIGHBORS = 1_000_000
DEEPEST_STACK = 40
MOST_FAULTS = 200


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong at one place of the drawing. kind: open, gap, overlap, doubled, sliver, units, scale or empty.

    x and y are mm from the drawing's upper left corner, None for the drawing as a whole; size_mm is how much of it.
    """

    kind: str
    words: str
    x: float | None = None
    y: float | None = None
    size_mm: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Segments:
    """All straight bits of the drawing: ends (n x 2 x 2 mm), curve, path, and how that path is drawn."""

    ends: Floats
    curve: Ints
    path: Ints
    closed: NDArray[np.bool_]
    filled: NDArray[np.bool_]


@dataclass(slots=True, eq=False)
class Network:
    """Noded bits. nodes: n x 2 mm; bits: m x 2 node numbers, the lower first; curve: that of each bit, 0 straight."""

    nodes: Floats
    bits: Ints
    curve: Ints
    faces: NDArray[Any]
    faults: list[Fault] = field(default_factory=list)


def segments_of(linework: Linework) -> Segments:
    paths = linework.paths
    ends = np.concatenate([np.stack([p.points[:-1], p.points[1:]], axis=1) for p in paths])
    counts = [len(p.curve) for p in paths]
    return Segments(
        ends=ends,
        curve=np.concatenate([p.curve for p in paths]),
        path=np.repeat(np.arange(len(paths)), counts),
        closed=np.repeat([p.closed for p in paths], counts),
        filled=np.repeat([bool(p.fill) for p in paths], counts),
    )


def build(segments: Segments, *, close_below: float) -> Network:
    """Nodes the lines and finds their faces; closes gaps up to `close_below` mm, reports the others."""
    import shapely

    ends = _once(segments.ends)
    _refuse_thickets(shapely.linestrings(ends))
    _refuse_stacks(segments.ends[segments.closed][:, 0], segments.path[segments.closed])
    nodes, bits = _node(ends)
    chains = _chains(nodes, bits)
    bridges, faults = _ends(chains, close_below)
    if len(bridges):
        nodes, bits = _node(_once(np.concatenate([nodes[bits], bridges])))
        chains = _chains(nodes, bits)
    _refuse_stacks(nodes, components(bits, len(nodes)))
    curve, doubled = _sources(nodes, bits, segments)
    faces = shapely.get_parts(shapely.polygonize(chains))
    return Network(nodes, bits, curve, faces, faults + doubled)


def _once(ends: Floats) -> Floats:
    """Each bit once, whichever way it is drawn, and none that has no length on the grid."""
    keys = np.sort(grid_keys(ends.reshape(-1, 2)).reshape(-1, 2), axis=1)
    _, first = np.unique(keys, axis=0, return_index=True)
    kept = np.sort(first)
    return np.asarray(ends[kept[keys[kept, 0] != keys[kept, 1]]])


def _on_grid(points: Floats) -> Floats:
    return _steps(points) / STEPS


def _steps(points: Floats) -> Floats:
    """In steps of the grid; what lies half way goes to where GEOS puts it, or lines that meet there would part."""
    return np.asarray(np.floor(points * STEPS + 0.5))


def _refuse_thickets(lines: NDArray[Any]) -> None:
    """Refuses lines that cross so often that cutting them at each crossing would not end: judged from a sample."""
    import shapely

    tree = shapely.STRtree(lines)
    some = np.random.default_rng(1).permutation(len(lines))[:400]
    met = 0
    # A few at a time: of lines that all cross one another, the first few tell.
    for few in np.array_split(some, max(1, len(some) // 25)):
        met += len(tree.query(lines[few], predicate="intersects")[0])
        if met * len(lines) / len(some) / 2 > MOST_CROSSINGS + 5 * len(lines):
            raise DrawingRefused(
                "The lines cross one another too often; draw the lead lines alone, without shading."
            )


def _refuse_stacks(points: Floats, part: Ints) -> None:
    """Refuses rings within rings without end: finding what lies in what takes time with the square of their number.

    points: n x 2 mm; part: which ring or network each belongs to.
    """
    if not len(points):
        return
    name, part = np.unique(part, return_inverse=True)
    low, high = np.full((len(name), 2), np.inf), np.full((len(name), 2), -np.inf)
    np.minimum.at(low, part, points)
    np.maximum.at(high, part, points)
    if np.prod(high - low, axis=1).sum() > DEEPEST_STACK * max(
        np.prod(high.max(axis=0) - low.min(axis=0)), 1.0
    ):
        raise DrawingRefused("Too many shapes lie in one another; draw each piece once.")


def components(bits: Ints, nodes: int) -> Ints:
    """For each node the lowest node that it hangs together with."""
    root = np.arange(nodes)
    while True:
        low = np.minimum(root[bits[:, 0]], root[bits[:, 1]])
        new = root.copy()
        np.minimum.at(new, root[bits[:, 0]], low)
        np.minimum.at(new, root[bits[:, 1]], low)
        while not np.array_equal(new, new[new]):
            new = new[new]
        if np.array_equal(new, root):
            return root
        root = new


def _node(ends: Floats) -> tuple[Floats, Ints]:
    """Nodes and bits, on the grid, of lines (n x 2 x 2 mm) that are cut wherever they meet.

    Nearly all of a drawing's lines meet at their ends alone and are left as they are: to cut them all takes as long as
    all the rest of measuring.
    """
    import shapely

    lines = shapely.linestrings(ends)
    meeting = _meeting(ends, lines)
    parts = shapely.get_parts(shapely.union_all(lines[meeting], grid_size=GRID_MM))
    points, part = shapely.get_coordinates(parts, return_index=True)
    same = part[1:] == part[:-1]
    cut = np.stack([points[:-1][same], points[1:][same]], axis=1)
    points = _on_grid(np.concatenate([ends[~meeting], cut])).reshape(-1, 2)
    _, first, number = np.unique(grid_keys(points), return_index=True, return_inverse=True)
    bits = np.sort(number.reshape(-1, 2), axis=1)
    bits = bits[bits[:, 0] != bits[:, 1]]
    many = len(first)
    whole = np.unique(bits[:, 0] * many + bits[:, 1])
    return points[first], np.column_stack(np.divmod(whole, many)).astype(np.int64)


def _meeting(ends: Floats, lines: NDArray[Any]) -> NDArray[np.bool_]:
    """Which of the lines come to another, within two steps of the grid, elsewhere than at an end that both share."""
    import shapely

    near = 2 * GRID_MM
    i, j = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=near)
    once = i < j
    i, j = i[once], j[once]
    keys = grid_keys(ends.reshape(-1, 2)).reshape(-1, 2)
    shared = keys[i][:, :, None] == keys[j][:, None, :]
    # Where exactly one end is shared, the pair meets there alone when the two lines leave it in different directions.
    a, b = shared.any(axis=2), shared.any(axis=1)
    at = np.where(a[:, 0, None], ends[i, 0], ends[i, 1])
    u = np.where(a[:, 0, None], ends[i, 1], ends[i, 0]) - at
    v = np.where(b[:, 0, None], ends[j, 1], ends[j, 0]) - at
    across, along = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]), (u * v).sum(axis=1)
    longer = np.maximum(np.hypot(*u.T), np.hypot(*v.T))
    apart = (along <= 0) | (across > near * longer)
    clean = (shared.sum(axis=(1, 2)) == 1) & apart
    found = np.zeros(len(lines), bool)
    found[i[~clean]] = found[j[~clean]] = True
    return found


def _chains(nodes: Floats, bits: Ints) -> NDArray[Any]:
    """The bits joined to lines that run from one meeting place to the next."""
    import shapely

    merged = shapely.line_merge(shapely.multilinestrings(shapely.linestrings(nodes[bits])))
    return np.asarray(shapely.get_parts(merged))


def grid_keys(points: Floats) -> Ints:
    """One whole number for each place on the grid."""
    steps = _steps(points).astype(np.int64)
    return np.asarray((steps[:, 0] << 32) + steps[:, 1], np.int64)


def _ends(chains: NDArray[Any], close_below: float) -> tuple[Floats, list[Fault]]:
    """Bridges (n x 2 x 2 mm) over the gaps to be closed, and a fault for each end that stays open."""
    import shapely

    ends, chain = _open_ends(chains)
    if not len(ends):
        return np.empty((0, 2, 2)), []
    close_below = max(close_below, ROUNDING_MM)
    reach = max(LOOKED_FOR_MM, close_below)
    best, target = _nearest(ends, chain, chains, reach)
    lengths = shapely.length(chains)[chain]
    closing = best <= close_below
    bridges = np.stack([ends[closing], target[closing]], axis=1)
    faults, told = [], set[tuple[int, ...]]()
    for i in np.flatnonzero(~closing & ~(lengths <= close_below)):
        x, y = ends[i]
        if np.isfinite(best[i]):
            # Two ends that face each other are one gap.
            key = tuple(np.rint((ends[i] + target[i]) / (2 * GRID_MM)).astype(int))
            if key not in told:
                words = f"A gap of {best[i]:.1f} mm: this line stops short of the next."
                faults.append(Fault("gap", words, float(x), float(y), float(best[i])))
            told.add(key)
        else:
            faults.append(Fault("open", "This line ends in the open.", float(x), float(y)))
    return bridges, faults


def _open_ends(chains: NDArray[Any]) -> tuple[Floats, Ints]:
    """The places where exactly one chain ends, and which chain that is."""
    import shapely

    tips = np.concatenate([shapely.get_point(chains, 0), shapely.get_point(chains, -1)])
    points = shapely.get_coordinates(tips)
    number = np.tile(np.arange(len(chains)), 2)
    _, which, count = np.unique(grid_keys(points), return_inverse=True, return_counts=True)
    alone = count[which] == 1
    return points[alone], number[alone]


def _nearest(ends: Floats, chain: Ints, chains: NDArray[Any], reach: float) -> tuple[Floats, Floats]:
    """Distance (inf for none within reach) and place of what lies nearest to each open end, ends first."""
    import shapely

    points = shapely.points(ends)
    tips, lines = shapely.STRtree(points), shapely.STRtree(chains)
    some = points[np.random.default_rng(1).permutation(len(points))[:200]]
    met = sum(len(tree.query(some, predicate="dwithin", distance=reach)[0]) for tree in (tips, lines))
    if met * len(points) / len(some) > MOST_NEIGHBORS:
        raise DrawingRefused(
            "Too many lines end beside one another; draw the lead lines alone, without shading."
        )
    i, j = tips.query(points, predicate="dwithin", distance=reach)
    i, j = i[i != j], j[i != j]
    a, b = lines.query(points, predicate="dwithin", distance=reach)
    short = shapely.length(chains)[chain[a]] < 2 * reach
    # A short end sticking out beyond a line does not stop short of that line.
    beside = short & (shapely.distance(chains[chain[a]], chains[b]) < GRID_MM)
    kept = (chain[a] != b) & ~beside
    bridges = shapely.shortest_line(points[a[kept]], chains[b[kept]])
    end = np.concatenate([i, a[kept]])
    distance = np.concatenate(
        [shapely.distance(points[i], points[j]) - 0.5 * GRID_MM, shapely.length(bridges)]
    )
    place = np.concatenate([ends[j], shapely.get_coordinates(shapely.get_point(bridges, -1))])
    best, target = np.full(len(ends), np.inf), np.full((len(ends), 2), np.nan)
    order = np.lexsort([-distance, end])
    best[end[order]], target[end[order]] = distance[order], place[order]
    return best, target


def _sources(nodes: Floats, bits: Ints, segments: Segments) -> tuple[Ints, list[Fault]]:
    """The curve that each bit came from, and the lines that are drawn twice."""
    import shapely

    ends = nodes[bits]
    middles = shapely.points(ends.mean(axis=1))
    sources = shapely.linestrings(segments.ends)
    i, j = shapely.STRtree(sources).query(middles, predicate="dwithin", distance=1.5 * GRID_MM)
    u, v = np.diff(ends, axis=1)[:, 0][i], np.diff(segments.ends, axis=1)[:, 0][j]
    across = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    long, short = np.hypot(*v.T), np.hypot(*u.T)
    along = across <= np.maximum(0.05 * long * short, 2 * GRID_MM * long)
    i, j = i[along & (long > 0)], j[along & (long > 0)]
    curve = np.zeros(len(bits), np.int64)
    curve[i[::-1]] = segments.curve[j[::-1]]
    return curve, _doubled(i, j, ends, segments)


def _doubled(i: Ints, j: Ints, ends: Floats, segments: Segments) -> list[Fault]:
    """A fault for each pair of paths that run on each other, but for the shared edge of two closed shapes."""
    line = ~segments.filled[j]
    # The two bits of one path that meet at a corner both touch a short bit between them: count paths.
    pairs = np.unique(np.column_stack([i[line], segments.path[j[line]]]), axis=0)
    bit, path = pairs.T if len(pairs) else (np.array([], int), np.array([], int))
    closed = np.zeros(int(segments.path.max()) + 1, bool)
    closed[segments.path] = segments.closed
    drawn = np.bincount(bit, minlength=len(ends))
    loose = np.bincount(bit, weights=~closed[path], minlength=len(ends))
    twice = np.flatnonzero(((drawn >= 2) & (loose >= 1)) | (drawn >= 3))
    length = np.hypot(*np.diff(ends, axis=1)[:, 0].T)
    order = np.argsort(bit, kind="stable")
    starts = np.searchsorted(bit[order], twice)
    found: dict[tuple[int, int], tuple[float, int]] = {}
    for b, start in zip(twice.tolist(), starts.tolist(), strict=True):
        on = path[order[start : start + 2]]
        key = (int(on[0]), int(on[1]))
        total, longest = found.get(key, (0.0, b))
        found[key] = (total + float(length[b]), b if length[b] > length[longest] else longest)
    faults = []
    for total, longest in found.values():
        # Two lines that merely meet in a flat angle share less than that.
        if total > 0.5:
            x, y = ends[longest].mean(axis=0)
            words = f"Two lines run on each other for {total:.0f} mm; they are counted once."
            faults.append(Fault("doubled", words, float(x), float(y), total))
    return faults
