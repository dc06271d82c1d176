"""Window patterns of straight lines, of the demo studio's own invention."""

from itertools import pairwise
from random import Random

from .geometry import Pane, Point, Polygon, area, border, center, clip, cut_all, rectangle, steps

COLORS = ("amber cathedral", "sea green antique", "smoke grey", "pale rose antique", "cobalt antique")


def band_of(width: float, height: float) -> float:
    """How wide a border is, in millimeters."""
    return min(max(min(width, height) * 0.085, 32), 64)


def diamond_center(width: float, height: float, rng: Random) -> list[Pane]:
    """A beveled border round a tall diamond that holds a smaller one, with chevrons in the corners."""
    band = band_of(width, height)
    panes = border(width, height, band, 2, 3, "clear bevel")
    left, top, right, bottom = band, band, width - band, height - band
    middle_x, middle_y = width / 2, height / 2
    polygons = [rectangle(left, top, right, bottom)]
    for size in (1.0, 0.62):
        dx, dy = (right - left) / 2 * size, (bottom - top) / 2 * size
        tips = [
            (middle_x, middle_y - dy),
            (middle_x + dx, middle_y),
            (middle_x, middle_y + dy),
            (middle_x - dx, middle_y),
        ]
        for start, stop in zip(tips, tips[1:] + tips[:1], strict=True):
            mid = ((start[0] + stop[0]) / 2, (start[1] + stop[1]) / 2)
            quarter = (mid[0] > middle_x, mid[1] > middle_y)
            polygons = cut_all(
                _quartered(polygons, middle_x, middle_y, size),
                [(start, stop)],
                lambda at, q=quarter: (at[0] > middle_x, at[1] > middle_y) == q,  # type: ignore[misc]
            )
    polygons = _joined_center(polygons, middle_x, middle_y, (right - left) * 0.31, (bottom - top) * 0.31)
    polygons = _cornered(polygons, width, height, band)
    tint = rng.choice(COLORS)
    for polygon in polygons:
        x, y = center(polygon)
        far = abs(x - middle_x) / (right - left) + abs(y - middle_y) / (bottom - top)
        glass = "clear bevel" if far < 0.42 else ("seedy clear" if far < 0.72 else tint)
        panes.append(Pane(polygon, glass, beveled=far < 0.42))
    return panes


def _cornered(polygons: list[Polygon], width: float, height: float, band: float) -> list[Polygon]:
    """Cut a triangle off at each corner inside the border."""
    left, top, right, bottom = band, band, width - band, height - band
    middle_x, middle_y = width / 2, height / 2
    corner = 0.5 * (right - left) / 2, 0.5 * (bottom - top) / 2
    for sx in (-1, 1):
        for sy in (-1, 1):
            x, y = middle_x + sx * (right - left) / 2, middle_y + sy * (bottom - top) / 2
            line = ((x - sx * corner[0], y), (x, y - sy * corner[1]))
            polygons = cut_all(
                polygons,
                [line],
                lambda at, x=x, y=y: (  # type: ignore[misc]
                    abs(at[0] - x) / (right - left) + abs(at[1] - y) / (bottom - top) < 0.45
                ),
            )
    return polygons


def _quartered(polygons: list[Polygon], x: float, y: float, size: float) -> list[Polygon]:
    return cut_all(polygons, [((x, 0), (x, 1)), ((0, y), (1, y))]) if size == 1.0 else polygons


def _joined_center(polygons: list[Polygon], x: float, y: float, dx: float, dy: float) -> list[Polygon]:
    """The four quarters of the inner diamond as the one piece that they are."""
    inner = [(x, y - dy), (x + dx, y), (x, y + dy), (x - dx, y)]
    kept = [
        polygon
        for polygon in polygons
        if abs(center(polygon)[0] - x) / dx + abs(center(polygon)[1] - y) / dy > 0.999
    ]
    return [*kept, inner]


def quarry_lattice(width: float, height: float, rng: Random) -> list[Pane]:
    """Diamond quarries in a narrow beveled border, some of them colored along one slanting line."""
    band = band_of(width, height) * 0.8
    panes = border(width, height, band, 2, 3, "clear bevel")
    box = (band, band, width - band, height - band)
    across = 4 if width > 420 else 3
    dx = (width - 2 * band) / across
    down = max(round((height - 2 * band) / (dx * 1.45)), 2)
    dy = (height - 2 * band) / down
    tint = rng.choice(COLORS)
    for row in range(-1, 2 * down + 1):
        for column in range(-1, across + 1):
            x = band + (column + (0.5 if row % 2 else 0.0) + 0.5) * dx
            y = band + (row + 1) * dy / 2
            diamond = [(x, y - dy / 2), (x + dx / 2, y), (x, y + dy / 2), (x - dx / 2, y)]
            part = clip(diamond, *box)
            if part and area(part) > 4:
                colored = (row + 2 * column) % 7 == 0
                whole = area(part) > 0.45 * dx * dy
                panes.append(Pane(part, tint if colored else "clear bevel" if whole else "clear", whole))
    return panes


def honeycomb(width: float, height: float, rng: Random) -> list[Pane]:
    """Hexagons standing on a point, cut off by a beveled border."""
    band = band_of(width, height) * 0.9
    panes = border(width, height, band, 2, 3, "clear bevel")
    box = (band, band, width - band, height - band)
    across = 4 if width > 520 else 3
    flat = (width - 2 * band) / across
    rows = max(round((height - 2 * band) / (flat * 0.866)), 2)
    pitch = (height - 2 * band) / rows
    tall = pitch * 4 / 3
    tints = rng.sample(COLORS, 2)
    for row in range(-1, rows + 1):
        for column in range(-1, across + 1):
            x = band + (column + (0.5 if row % 2 else 0.0) + 0.5) * flat
            y = band + (row + 0.5) * pitch
            hexagon: Polygon = [
                (x, y - tall / 2),
                (x + flat / 2, y - tall / 4),
                (x + flat / 2, y + tall / 4),
                (x, y + tall / 2),
                (x - flat / 2, y + tall / 4),
                (x - flat / 2, y - tall / 4),
            ]
            part = clip(hexagon, *box)
            if part and area(part) > 4:
                ring = abs(x - width / 2) / width + abs(y - height / 2) / height
                glass = tints[0] if ring < 0.16 else tints[1] if ring > 0.62 else "clear bevel"
                panes.append(Pane(part, glass, beveled=ring <= 0.62))
    return panes


def meadow_grid(width: float, height: float, rng: Random) -> list[Pane]:
    """Upright stems of narrow panes with small squares at uneven heights, like seed heads over a field."""
    band = band_of(width, height) * 0.55
    xs = [0.0, band, band * 2.4]
    stems = 3 if width > 480 else 2
    inner = steps(xs[-1], width - xs[-1], stems)
    for x in inner[1:-1]:
        xs += [x - band / 2, x + band / 2]
    xs += [width - band * 2.4, width - band, width]
    panes: list[Pane] = []
    tints = rng.sample(COLORS, 2)
    for number, (left, right) in enumerate(pairwise(xs)):
        narrow = right - left < band * 1.6
        heads = _heads(height, band, number, narrow)
        for row, (top, bottom) in enumerate(pairwise(heads)):
            square = narrow and abs((bottom - top) - band) < 1
            glass = tints[row % 2] if square else ("clear bevel" if narrow else "seedy clear")
            panes.append(
                Pane(
                    rectangle(left, top, right, bottom),
                    glass,
                    beveled=narrow,
                    border=left == 0 or right == width,
                )
            )
    return panes


def _heads(height: float, band: float, number: int, narrow: bool) -> list[float]:
    """Where a column is cut: small squares in the narrow ones, two long lights in the wide ones."""
    if not narrow:
        return [0.0, band, height * (0.3 if number % 2 else 0.62), height - band, height]
    at = height * (0.16 + 0.055 * (number % 4))
    low = height * (0.74 + 0.04 * (number % 3))
    return sorted({0.0, at, at + band, at + 2 * band, low, low + band, height})


def pinwheels(width: float, height: float, rng: Random) -> list[Pane]:
    """Squares that each hold a turning pinwheel of four beveled pieces about a small colored one."""
    across = 3 if width > 450 else 2
    down = max(round(height / (width / across)), 1)
    xs, ys = steps(0, width, across), steps(0, height, down)
    tints = rng.sample(COLORS, 2)
    panes: list[Pane] = []
    for row in range(down):
        for column in range(across):
            left, right, top, bottom = xs[column], xs[column + 1], ys[row], ys[row + 1]
            panes += _pinwheel(left, top, right, bottom, tints[(row + column) % 2], (row + column) % 2 == 0)
    return panes


def _pinwheel(left: float, top: float, right: float, bottom: float, tint: str, turned: bool) -> list[Pane]:
    def at(u: float, v: float) -> Point:
        return left + (1 - u if turned else u) * (right - left), top + v * (bottom - top)

    middle = [at(0.36, 0.44), at(0.56, 0.36), at(0.64, 0.56), at(0.44, 0.64)]
    edges = [at(0.30, 0), at(1, 0.30), at(0.70, 1), at(0, 0.70)]
    corners = [at(0, 0), at(1, 0), at(1, 1), at(0, 1)]
    panes = [Pane(middle, tint)]
    for n in range(4):
        blade = [edges[n], corners[(n + 1) % 4], edges[(n + 1) % 4], middle[(n + 1) % 4], middle[n]]
        panes.append(Pane(blade, "clear bevel" if n % 2 else "reeded clear", beveled=n % 2 == 1))
    return panes


def sidelight(width: float, height: float, rng: Random) -> list[Pane]:
    """A tall narrow light: a chain of long diamonds between two beveled edges."""
    band = width * 0.17
    links = max(round(height / (width * 1.5)), 2)
    ys = steps(band, height - band, links)
    tint = rng.choice(COLORS)
    panes = border(width, height, band, 1, links, "clear bevel")
    left, right, middle = band, width - band, width / 2
    for number, (top, bottom) in enumerate(pairwise(ys)):
        half = (top + bottom) / 2
        diamond = [(middle, top), (right, half), (middle, bottom), (left, half)]
        panes.append(Pane(diamond, "clear bevel", beveled=True))
        for a, b, corner in (
            ((middle, top), (right, half), (right, top)),
            ((right, half), (middle, bottom), (right, bottom)),
            ((middle, bottom), (left, half), (left, bottom)),
            ((left, half), (middle, top), (left, top)),
        ):
            panes.append(Pane([a, corner, b], tint if number % 2 else "seedy clear"))
    return panes


def single_lite(width: float, height: float, rng: Random) -> list[Pane]:
    """One lite, beveled on all four edges."""
    del rng
    return [Pane(rectangle(0, 0, width, height), "clear bevel", beveled=True)]
