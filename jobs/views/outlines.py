"""Parts of long lists, made once instead of once a row: drawings as one path, and the marks of states."""

from dataclasses import dataclass
from functools import cache

from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from jobs.models import Panel, State


@dataclass(frozen=True, slots=True)
class Outline:
    """For an SVG: its view box, the border's size, and the path of the pieces; whole millimeters."""

    box: str
    width: int
    height: int
    path: str


def outline(panel: Panel) -> Outline:
    width, height = round(panel.width_mm), round(panel.height_mm)
    margin = max(width, height) // 30
    pieces = (panel.drawing or {}).get("pieces", [])
    path = "".join(
        "M" + "L".join(f"{round(x)} {round(y)}" for x, y in piece["points"]) + "Z" for piece in pieces
    )
    return Outline(f"{-margin} {-margin} {width + 2 * margin} {height + 2 * margin}", width, height, path)


@cache
def mark(state: State, word: bool) -> SafeString:
    """The mark of a state as templates/parts/state.html draws it; there are only ten of them."""
    return render_to_string("parts/state.html", {"state": state.value, "word": word}).strip()  # type: ignore[return-value]
