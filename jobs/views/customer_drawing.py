"""A panel's drawing for the customer: as light as a page for a phone has to be, each glass in its color."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from jobs.models import Glass, Panel

CARVED = "#b9c4c6"
# Glasses whose colors nobody has told are at least told apart.
UNTOLD = ("#eef2f1", "#d9e1e0", "#c5d0cf", "#e6e3da", "#d6d1c4", "#c9c9d4")


@dataclass(frozen=True, slots=True)
class Pane:
    """All pieces of one glass: the color, one path for an SVG in whole millimeters, how many there are of it in one
    copy, and what it is."""

    glass: str
    color: str
    beveled: bool
    carved: bool
    pieces: int
    path: str


@dataclass(frozen=True, slots=True)
class Legend:
    """One glass as the legend names it, `beveled` of its `pieces` beveled."""

    glass: str
    color: str
    carved: bool
    pieces: int
    beveled: int

    @property
    def says_beveled(self) -> bool:
        """Whether it has to be said of all: not where the glass is called a bevel already."""
        return self.beveled == self.pieces and "bevel" not in self.glass.lower()

    @property
    def says_some(self) -> bool:
        return 0 < self.beveled < self.pieces

    @property
    def says_carved(self) -> bool:
        return self.carved and "carved" not in self.glass.lower()


@dataclass(frozen=True, slots=True)
class Picture:
    box: str
    width: int
    height: int
    panes: tuple[Pane, ...]

    @property
    def legend(self) -> list[Legend]:
        """Each glass once, beveled or not, in the order in which they are drawn."""
        found: dict[tuple[str, str, bool], list[Pane]] = {}
        for pane in self.panes:
            found.setdefault((pane.glass, pane.color, pane.carved), []).append(pane)
        return [
            Legend(*named, sum(p.pieces for p in panes), sum(p.pieces for p in panes if p.beveled))
            for named, panes in found.items()
        ]


def colors_of_glass() -> dict[str, str]:
    return dict(Glass.objects.values_list("name", "color"))


def picture_of(panel: Panel, colors: Mapping[str, str]) -> Picture:
    """The drawing by glass, what is carved on top; only the border where there is no drawing."""
    untold: dict[str, str] = {}
    groups: dict[tuple[bool, str, bool, str], list[Any]] = {}
    for piece in (panel.drawing or {}).get("pieces", []):
        glass, carved = str(piece.get("glass") or ""), bool(piece.get("carved"))
        color = CARVED if carved else piece.get("color") or colors.get(glass) or untold.get(glass)
        if color is None:
            color = untold[glass] = UNTOLD[len(untold) % len(UNTOLD)]
        groups.setdefault((carved, glass, bool(piece.get("beveled")), color), []).append(piece["points"])
    panes = [
        Pane(glass, color, beveled, carved, len(pieces), "".join(map(_path, pieces)))
        for (carved, glass, beveled, color), pieces in groups.items()
    ]
    width, height = round(panel.width_mm), round(panel.height_mm)
    edge = max(width, height) // 60 + 2
    box = f"{-edge} {-edge} {width + 2 * edge} {height + 2 * edge}"
    return Picture(box, width, height, tuple(sorted(panes, key=lambda pane: pane.carved)))


def _path(points: Iterable[tuple[float, float]]) -> str:
    """A closed path, each point told from the one before: half as long as with whole coordinates."""
    at = [(round(x), round(y)) for x, y in points]
    (x, y), rest = at[0], at[1:]
    path = f"M{x} {y}l"
    steps = []
    for nx, ny in rest:
        steps.append(f"{nx - x} {ny - y}")
        x, y = nx, ny
    return (path + " ".join(steps)).replace(" -", "-") + "z"
