"""A panel's drawing on paper: at a named scale, each glass with a letter, so that it can be read in black and white."""

import string
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from typing import Any

from jobs.estimating.scales import Scale, fitting_scale
from jobs.models import Panel

# A letter is set where it is at least so high on paper, in mm, and never higher than that.
SMALLEST, LARGEST = 1.5, 4.0
PLAIN = "glass"
UNCOLORED = "#ffffff"


@dataclass(frozen=True, slots=True)
class Glass:
    """One line of the legend: `beveled` of its `pieces` are beveled."""

    letter: str
    name: str
    color: str
    pieces: int
    beveled: int
    carved: int


@dataclass(frozen=True, slots=True)
class Label:
    letter: str
    x: str
    middle: str
    y: str
    size: str
    across: str

    @property
    def spot(self) -> str:
        """A disc that the letter stands on."""
        r = self.across
        left = f"{float(self.x) - float(r):.1f}"
        return (
            f"M{left} {self.middle}a{r} {r} 0 1 0 {float(r) * 2:.1f} 0a{r} {r} 0 1 0 {float(r) * -2:.1f} 0Z"
        )


@dataclass(frozen=True, slots=True)
class Drawn:
    """An SVG picture in millimeters of the panel, `width` by `height` mm on paper.

    `layers`: (color, path), one drawn over the other. `small`: pieces without a letter or number for want of room.
    """

    panel: Panel
    scale: Scale
    width: str
    height: str
    box: str
    edge: tuple[str, str]
    lead: str
    thin: str
    layers: Sequence[tuple[str, str]]
    bevels: str
    glasses: Sequence[Glass]
    labels: Sequence[Label]
    small: int

    @property
    def spots(self) -> str:
        """One path of what the letters stand on: drawn one by one they take ten times as long."""
        return "".join(label.spot for label in self.labels)


def drawn(
    panel: Panel, room_width_mm: Decimal, room_height_mm: Decimal, unit: str, *, numbered: bool = False
) -> Drawn:
    """The drawing as large as fits the room at a usual scale. A panel without a drawing is a plain pane.

    In each piece stands the letter of its glass or, where it is to be `numbered`, its own number.
    """
    scale = fitting_scale(panel.width_mm, panel.height_mm, room_width_mm, room_height_mm, unit)
    pieces: list[dict[str, Any]] = (panel.drawing or {}).get("pieces", [])
    lead = 0.5 * scale.ratio
    margin = lead
    width, height = float(panel.width_mm), float(panel.height_mm)
    letters = _letters(pieces)
    told = [_number(piece) if numbered else letters[_name(piece)] for piece in pieces]
    labels = list(_labels(pieces, told, scale.ratio))
    return Drawn(
        panel=panel,
        scale=scale,
        width=f"{(width + 2 * margin) / scale.ratio:.3f}",
        height=f"{(height + 2 * margin) / scale.ratio:.3f}",
        box=f"{-margin:g} {-margin:g} {width + 2 * margin:g} {height + 2 * margin:g}",
        edge=(f"{width:g}", f"{height:g}"),
        lead=f"{lead:g}",
        thin=f"{0.15 * scale.ratio:g}",
        layers=list(_layers(pieces)),
        bevels="".join(_inner(piece, 1.2 * scale.ratio) for piece in pieces if piece.get("beveled")),
        glasses=[_glass(name, letter, pieces) for name, letter in letters.items()],
        labels=labels,
        small=sum(map(bool, told)) - len(labels),
    )


def _number(piece: dict[str, Any]) -> str:
    """What is carved is no piece to be cut, and has none."""
    return "" if piece.get("carved") else str(piece.get("number", ""))


def _name(piece: dict[str, Any]) -> str:
    return str(piece.get("glass") or PLAIN)


def _letters(pieces: Sequence[dict[str, Any]]) -> dict[str, str]:
    """A, B, ... AA, AB for each glass, the most used first."""
    counts: dict[str, int] = {}
    for piece in pieces:
        counts[_name(piece)] = counts.get(_name(piece), 0) + 1
    ranked = sorted(counts, key=lambda name: (-counts[name], name))
    return {name: _letter(place) for place, name in enumerate(ranked)}


def _letter(place: int) -> str:
    high, low = divmod(place, 26)
    return (string.ascii_uppercase[high - 1] if high else "") + string.ascii_uppercase[low]


def _glass(name: str, letter: str, pieces: Sequence[dict[str, Any]]) -> Glass:
    own = [piece for piece in pieces if _name(piece) == name]
    return Glass(
        letter=letter,
        name=name,
        color=_color(own[0]),
        pieces=len(own),
        beveled=sum(bool(piece.get("beveled")) for piece in own),
        carved=sum(bool(piece.get("carved")) for piece in own),
    )


def _color(piece: dict[str, Any]) -> str:
    return str(piece.get("color") or UNCOLORED)


def _layers(pieces: Sequence[dict[str, Any]]) -> Iterable[tuple[str, str]]:
    """In the order of the drawing, in which what lies in the hole of a piece comes after it."""
    for color, row in groupby(pieces, key=_color):
        yield color, "".join(_path(piece["points"]) for piece in row)


def _path(points: Iterable[Sequence[float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + "Z"


def _inner(piece: dict[str, Any], bevel: float) -> str:
    """The inner edge of a bevel, `bevel` inside the piece; nothing where the piece is too small to show one."""
    # Shapely takes a tenth of a second to import, which no page should wait for.
    from shapely import Polygon

    inside = Polygon(piece["points"]).buffer(-bevel, join_style="mitre")
    return "" if inside.is_empty or inside.geom_type != "Polygon" else _path(inside.exterior.coords)


def _largest(shape: Any) -> Any:
    """The largest area of it: what was drawn across itself falls into several, with lines between."""
    import shapely

    areas = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    parts = areas or [p for part in shapely.get_parts(shape) for p in shapely.get_parts(part)]
    return max(
        (part for part in parts if part.geom_type == "Polygon"),
        key=lambda part: part.area,
        default=shapely.Polygon(),
    )


def _labels(pieces: Sequence[dict[str, Any]], told: Sequence[str], ratio: int) -> Iterable[Label]:
    """A letter or number in the middle of the widest place of each piece, beside what lies in its holes."""
    import shapely

    shapes = [_largest(shapely.make_valid(shapely.Polygon(piece["points"]))) for piece in pieces]
    tree = shapely.STRtree(shapes)
    for place, whole in enumerate(shapes):
        if not told[place] or whole.area < (SMALLEST * ratio) ** 2:
            continue
        within = [shapes[other] for other in tree.query(whole, predicate="contains") if other > place]
        shape = _largest(whole.difference(shapely.union_all(within))) if within else whole
        if shape.is_empty:
            continue
        inside = shapely.maximum_inscribed_circle(shape, tolerance=ratio * 0.2)
        (x, y), room = inside.coords[0], inside.length
        size = min(room * 1.2 / max(len(told[place]) * 0.75, 1), LARGEST * ratio)
        if size >= SMALLEST * ratio:
            yield Label(
                told[place],
                f"{x:.1f}",
                f"{y:.1f}",
                f"{y + 0.36 * size:.1f}",
                f"{size:.1f}",
                f"{max(0.72, 0.32 * len(told[place]) + 0.1) * size:.1f}",
            )
