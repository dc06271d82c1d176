"""The demo's drawings measured as an uploaded one would be: their takeoffs, their patterns, their numbered pictures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np

from jobs import models
from jobs.actions.takeoffs import came_of, glass_of
from jobs.estimating import drawn
from jobs.estimating.linework import Linework, Path
from jobs.estimating.pattern import Pattern, measure, redrawn
from jobs.estimating.takeoff import Takeoff, take_off
from jobs.management.demo.geometry import Pane
from jobs.management.demo.quantities import DEPTH_MM, carved_mm2
from jobs.management.demo.records import Sheet

# Name: thickness in mm, color on the screen, whether beveled, sheet in mm, price of a square meter. All invented.
GLASSES: dict[str, tuple[str, str, bool, tuple[int, int], str]] = {
    "clear bevel": ("6.35", "#d7e7e4", True, (2440, 1220), "58"),
    "clear": ("6.35", "#e6efec", False, (2440, 1220), "52"),
    "clear plate, 3/8 in": ("9.53", "#d3e4de", False, (2440, 1830), "96"),
    "clear plate, 1/2 in": ("12.70", "#cadfd8", False, (2440, 1830), "142"),
    "seedy clear": ("3.00", "#dbe8dd", False, (610, 813), "84"),
    "reeded clear": ("3.00", "#d2ddd9", False, (610, 813), "76"),
    "amber cathedral": ("3.00", "#e0ab4e", False, (610, 813), "112"),
    "pale moss cathedral": ("3.00", "#b4c49a", False, (610, 813), "108"),
    "sea green antique": ("3.00", "#7fb3a2", False, (610, 813), "164"),
    "pale rose antique": ("3.00", "#e0b6b0", False, (610, 813), "176"),
    "cobalt antique": ("3.00", "#46659f", False, (610, 813), "188"),
    "smoke grey": ("3.00", "#9aa3a5", False, (610, 813), "98"),
}
BEVELED = ", beveled"
PLATES = {"9.53": "clear plate, 3/8 in", "12.7": "clear plate, 1/2 in"}


@dataclass(frozen=True, slots=True)
class Measured:
    """A drawing with all that follows from it; of all sheets that share its panes."""

    lines: Linework
    pattern: Pattern
    fills: Mapping[str, models.Glass]
    takeoff: Takeoff
    picture: dict[str, Any]


class Measuring:
    """Measures each drawing once, with the studio's glass and came."""

    def __init__(self) -> None:
        self.inner = models.Came.objects.get(profile="H 1/4 in")
        self.border = models.Came.objects.get(profile="H 3/8 in")
        self.glasses = {glass.name: glass for glass in models.Glass.objects.filter(name__in=GLASSES)}
        self._known: dict[tuple[int, float], Measured] = {}

    def __call__(self, sheet: Sheet) -> Measured:
        key = id(sheet.panes), sheet.thickness
        if key not in self._known:
            self._known[key] = self._measure(sheet)
        return self._known[key]

    def _measure(self, sheet: Sheet) -> Measured:
        panes = [pane for pane in sheet.panes if not pane.carved]
        fills = {_fill(pane): self._glass(pane, sheet) for pane in panes}
        lines = Linework(tuple(_path(pane) for pane in panes), True)
        pattern = measure(lines, came=came_of(self.inner))
        carved = carved_mm2(sheet)
        depth = DEPTH_MM.get(sheet.route, 3.0)
        takeoff = take_off(
            pattern,
            {
                fill: glass_of(glass, beveled=_is_beveled(fill, glass), bevel_mm=glass.bevel_mm)
                for fill, glass in fills.items()
            },
            border=came_of(self.border),
            carved_mm2={depth: carved} if carved else None,
        )
        if len(panes) == 1:
            takeoff = _unleaded(takeoff, self.inner, self.border)
        return Measured(lines, pattern, fills, takeoff, self._picture(sheet, pattern, fills))

    def _glass(self, pane: Pane, sheet: Sheet) -> models.Glass:
        return self.glasses.get(pane.glass) or self.glasses[PLATES[f"{sheet.thickness:g}"]]

    def _picture(self, sheet: Sheet, pattern: Pattern, fills: Mapping[str, models.Glass]) -> dict[str, Any]:
        """Numbered as it was measured, and in the order in which the pieces are worked, so that it fills in so."""
        picture = redrawn(
            pattern, frozenset(fill for fill, glass in fills.items() if _is_beveled(fill, glass))
        )
        left = {piece["number"]: piece for piece in picture["pieces"]}
        middles = {number: _middle(piece["points"]) for number, piece in left.items()}
        pieces = []
        for pane in sheet.panes:
            if pane.carved:
                pieces.append(pane.as_json())
                continue
            x, y = _middle(pane.points)
            near = min(left, key=lambda n: (middles[n][0] - x) ** 2 + (middles[n][1] - y) ** 2)
            piece, glass = left.pop(near), fills[_fill(pane)]
            pieces.append(piece | {"glass": glass.name, "color": glass.color})
        return picture | {"pieces": pieces}

    def row(self, sheet: Sheet, at: Any, by: models.Account) -> models.Pattern:
        """The accepted pattern of a panel, as if its drawing had been uploaded."""
        known = self(sheet)
        return models.Pattern(
            panel_id=sheet.id,
            version=1,
            file_name=f"{sheet.job.title}, {sheet.name}.svg".replace("/", "-")[-120:],
            uploaded_at=at,
            uploaded_by=by,
            lines=drawn.lines_json(known.lines),
            drawing=redrawn(known.pattern),
            measured=drawn.measured_json(known.pattern, 1.0),
            fills={
                fill: {
                    "glass": glass.pk,
                    "beveled": _is_beveled(fill, glass),
                    "bevel_mm": str(glass.bevel_mm),
                }
                for fill, glass in known.fills.items()
            },
            came=self.inner,
            border=self.border,
            accepted_at=at,
            accepted_by=by,
        )


def _fill(pane: Pane) -> str:
    """What tells the pane's pieces from others: its glass, and that it is beveled where such glass is not as a rule."""
    usual = GLASSES.get(pane.glass, ("", "", False))[2]
    return f"{pane.glass}{BEVELED}" if pane.beveled and not usual else pane.glass


def _is_beveled(fill: str, glass: models.Glass) -> bool:
    return glass.beveled or fill.endswith(BEVELED)


def _path(pane: Pane) -> Path:
    points = np.array([*pane.points, pane.points[0]], np.float64)
    return Path(points, np.zeros(len(pane.points), np.int64), True, _fill(pane))


def _middle(points: Sequence[Sequence[float]]) -> tuple[float, float]:
    xs, ys = [point[0] for point in points], [point[1] for point in points]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def _unleaded(takeoff: Takeoff, *cames: models.Came) -> Takeoff:
    """One lite by itself has no came."""
    lead = takeoff.border_mm * came_of(cames[1]).mass_per_m / 1e3
    kept = takeoff.to_json() | {
        "came_mm": {},
        "border_mm": 0.0,
        "inner_mm": 0.0,
        "joints": 0,
        "mass_kg": takeoff.mass_kg - lead,
    }
    return Takeoff.from_json(kept)


def write_stock() -> None:
    """The studio's own suppliers, glass and prices, in place of those that a new studio starts with."""
    sheets, lead, plain, oven = (
        models.Supplier.objects.create(name=name, days=days, email=f"orders@{host}.example", phone=phone)
        for name, days, host, phone in (
            ("Bluff Road Sheet Glass", 12, "bluffroad", "555-0171"),
            ("Two Rivers Lead & Came", 6, "tworivers", "555-0172"),
            ("Sandbar Studio Supply", 4, "sandbar", "555-0173"),
            ("Levee Street Tempering", 9, "leveestreet", "555-0174"),
        )
    )
    models.Glass.objects.update(active=False)
    models.Glass.objects.bulk_create(
        models.Glass(
            name=name,
            thickness_mm=Decimal(thick),
            color=color,
            beveled=beveled,
            sheet_width_mm=wide,
            sheet_height_mm=high,
            price_m2=Decimal(price),
            supplier=sheets,
        )
        for name, (thick, color, beveled, (wide, high), price) in GLASSES.items()
    )
    models.Came.objects.update(supplier=lead)
    models.Material.objects.update(supplier=plain)
    models.OutsidePrice.objects.update(supplier=oven)
