"""What the floor and the panels page show many times over, made with as little work as can be."""

import json
from dataclasses import dataclass
from datetime import datetime
from functools import cache, lru_cache
from typing import Any

from django import template
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, override

from jobs.models import Panel, State
from jobs.templatetags.studio import PieceNumber, clock, day, piece_numbers, state_mark

register = template.Library()


@register.filter
def whole_hours(minutes: int) -> str:
    """Minutes as whole hours, for loads of weeks: 41 h."""
    return f"{round_hours(minutes)} h"


@register.filter
def round_hours(minutes: int) -> int:
    return (minutes + 30) // 60


@register.filter
def near(value: datetime | None) -> str:
    """The time of day where it is today, and only the day otherwise: nobody plans by the minute for next week."""
    if value is None:
        return "–"
    local = timezone.localtime(value)
    return clock(value) if local.date() == timezone.localdate() else day(local.date())


@cache
def _mark(state: State, word: bool, language: str | None) -> SafeString:
    with override(language):
        shown = render_to_string("parts/state.html", state_mark(state.value, word))
    # Escaped by the template that made it.
    return mark_safe(shown.strip())  # noqa: S308  # nosec B308 B703  # Rendered, thus escaped, above.


@register.filter
def mark(state: str, word: bool = True) -> SafeString:
    """The mark of a state as parts/state.html draws it. There are ten of them in a language, and hundreds on a page."""
    return _mark(State(state), word, get_language())


@lru_cache(maxsize=4096)
def cell(name: str, state: str, left: str, over: str, back: str) -> SafeString:
    """A cell of the matrix of panels: the hours left, those over, and the day it is back; empty where there are none.
    Most of a page's hundreds of cells are those of the last time it was shown."""
    shown = render_to_string(
        "panels/cell.html",
        {"name": name, "mark": mark(state, False), "left": left, "over": over, "back": back},
    )
    return mark_safe(shown.strip())  # noqa: S308  # nosec B308 B703  # Rendered, thus escaped, above.


@dataclass(frozen=True, slots=True)
class Outline:
    """A drawing small enough for a list, for an SVG: its view box, the border's size, and all pieces as one path,
    those that are done as another; whole millimeters. `numbers`: of its pieces, as far as they can be read."""

    box: str
    width: int
    height: int
    path: str
    done: str
    numbers: tuple[PieceNumber, ...] = ()


# How long the longer side of a drawing is shown in a list, and where a list has few rows, in pixels: see the CSS.
LIST_PX = 44
LARGE_PX = 120
Paths = tuple[tuple[str, ...], tuple[PieceNumber, ...]]


@lru_cache(maxsize=512)
def _kept_paths(drawing: str, longest_mm: float, px: int) -> Paths:
    return _paths(json.loads(drawing), longest_mm, px)


def _paths(drawing: dict[str, Any] | None, longest_mm: float, px: int) -> Paths:
    pieces = (drawing or {}).get("pieces", [])
    paths = tuple(
        "M" + "L".join(f"{round(x)} {round(y)}" for x, y in piece["points"]) + "Z" for piece in pieces
    )
    return paths, piece_numbers(pieces, longest_mm, px=px, all_or_none=px <= LIST_PX)


def outline(panel: Panel, share: float = 0.0, px: int = LIST_PX) -> Outline:
    """The panel's own drawing, a share of 0 to 1 of its pieces shown as done; only the border where there is none.

    Its longer side is shown about `px` pixels long: numbers too small to be read are left out, and in a list all are
    where one is. Quickest for a panel of `panels_drawn()`.
    """
    width, height = round(panel.width_mm), round(panel.height_mm)
    margin = max(width, height) // 30
    longest = float(max(width, height))
    if "drawing_text" in panel.__dict__:
        pieces, numbers = _kept_paths(panel.__dict__["drawing_text"] or "{}", longest, px)
    else:
        pieces, numbers = _paths(panel.drawing, longest, px)
    done = int(share * len(pieces))
    box = f"{-margin} {-margin} {width + 2 * margin} {height + 2 * margin}"
    return Outline(box, width, height, "".join(pieces[done:]), "".join(pieces[:done]), numbers)


@register.inclusion_tag("panels/picture.html")
def small_picture(panel: Panel, share: float = 0.0) -> dict[str, Any]:
    return {"drawing": outline(panel, share)}
