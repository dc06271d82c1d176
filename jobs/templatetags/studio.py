"""Filters and parts that templates of every page use; loaded everywhere, so `{% load %}` is not needed."""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django import template
from django.template import Context
from django.template.defaultfilters import floatformat
from django.utils import timezone
from django.utils.formats import date_format, get_format
from django.utils.translation import gettext, pgettext

from jobs.estimating.areas import shown_unit
from jobs.estimating.glass import format_mass
from jobs.estimating.hours import format_hours
from jobs.estimating.lengths import format_length, format_size, in_units
from jobs.estimating.shares import format_share
from jobs.models import Panel, Person, Projection, Studio
from jobs.models.shipped import named

register = template.Library()


def _studio(context: Context) -> Studio:
    return context.get("studio") or Studio.current()


_POINT = re.compile(r"(?<=\d)\.(?=\d)")


def in_form(shown: str) -> str:
    """Numbers as the language of the page writes them: 4.5 h, or 4,5 h."""
    sign = get_format("DECIMAL_SEPARATOR")
    return shown if sign == "." else _POINT.sub(sign, shown)


@register.simple_tag(takes_context=True)
def hours(context: Context, minutes: int | None) -> str:
    """Minutes as the studio shows hours; a dash where there are none to tell."""
    return "–" if minutes is None else in_form(format_hours(int(minutes), _studio(context).hours))


@register.simple_tag(takes_context=True)
def length(context: Context, mm: Decimal) -> str:
    return in_form(format_length(mm, _studio(context).units))


@register.simple_tag(takes_context=True)
def size(context: Context, panel: Panel) -> str:
    """Width by height of a panel in the studio's units."""
    return in_form(format_size(panel.width_mm, panel.height_mm, _studio(context).units))


@register.simple_tag(takes_context=True)
def in_our_units(context: Context, sentence: str) -> str:
    """A sentence whose lengths were written down in millimeters, with them in the studio's units."""
    return in_units(sentence, _studio(context).units)


@register.simple_tag(takes_context=True)
def amount(context: Context, number: Decimal, unit: str) -> str:
    """So much of what is kept in this unit, in the unit that the studio uses: “3.88 sq ft”, “2 sticks”."""
    shown = shown_unit(unit, _studio(context).units)
    several = "s" if shown.word == "stick" and number != 1 else ""
    digits = "-3g" if shown.size == 1 else "-2g"
    return f"{floatformat(shown.amount(number), digits)} {shown.word}{several}"


@register.simple_tag(takes_context=True)
def mass(context: Context, kg: Decimal) -> str:
    return in_form(format_mass(kg, _studio(context).units))


register.filter("named", named)


@register.filter
def day(value: date | datetime | None) -> str:
    """“Fri 4 Dec”, with the year only where it is not this one; a dash where there is no day."""
    if value is None:
        return "–"
    if isinstance(value, datetime):
        value = timezone.localtime(value).date()
    this_year = value.year == timezone.localdate().year
    style = pgettext("form of a day", "D j M") if this_year else pgettext("form of a day", "D j M Y")
    return date_format(value, style)


@register.filter
def clock(value: datetime | None) -> str:
    """The time of day, on the studio's clock."""
    return "–" if value is None else date_format(timezone.localtime(value), "H:i")


@register.filter
def moment(value: datetime | None) -> str:
    """The time of day where it is today, day and time otherwise."""
    if value is None:
        return "–"
    local = timezone.localtime(value)
    return clock(value) if local.date() == timezone.localdate() else f"{day(local)}, {clock(value)}"


@register.filter
def dialed(phone: str) -> str:
    """A telephone number as a link dials it (RFC 3966): its digits, and the plus where it begins with one."""
    plus = "+" if phone.lstrip().startswith("+") else ""
    return plus + "".join(character for character in phone if character in "0123456789")


@register.filter
def percent(share: float | Decimal | None) -> str:
    """A chance in whole percent; what is not certain is never shown as 0 or 100."""
    if share is None:
        return "–"
    number = float(share)
    if 0 < number < 0.01:
        return f"under {format_share(0.01)}"
    if 0.99 < number < 1:
        return f"over {format_share(0.99)}"
    return format_share(number)


@register.inclusion_tag("parts/state.html")
def state_mark(state: str, word: bool = True) -> dict[str, Any]:
    """An operation's state as a small pane of glass in its came, with its word beside it or in its name."""
    return {"state": str(state), "word": word, "said": state_word(str(state))}


def state_word(state: str) -> str:
    """The word of an operation's state, in the language of the page."""
    match state:
        case "waiting":
            return pgettext("work", "waiting")
        case "ready":
            return pgettext("work", "ready")
        case "on-bench":
            return pgettext("work", "on the bench")
        case "held":
            return pgettext("work", "held")
        case "done":
            return pgettext("work", "done")
    return state


@register.inclusion_tag("parts/hours_pair.html", takes_context=True)
def hours_pair(context: Context, spent: int, estimate: int) -> dict[str, Any]:
    """Hours spent of hours estimated, with a bar; what goes over is said in words as well."""
    style = _studio(context).hours
    over = spent - estimate if estimate else 0
    return {
        "spent": in_form(format_hours(spent, style)),
        "estimate": in_form(format_hours(estimate, style)),
        "share": min(100, round(100 * spent / estimate)) if estimate else 0,
        "over": in_form(format_hours(over, style)) if over > 0 else "",
    }


@register.inclusion_tag("parts/person.html")
def person_mark(person: Person) -> dict[str, Any]:
    return {"person": person}


@register.inclusion_tag("parts/date_window.html")
def date_window(
    first: date,
    last: date,
    projection: Projection | None,
    promise: date | None = None,
    today: date | None = None,
) -> dict[str, Any]:
    """A window of dates on a time axis from `first` to `last`: a bar from the 50 % to the 95 % day, a tick at 80 %,
    and the promise as a flag. Mondays are the axis' ticks. Without a projection only the axis and the flag."""
    span = max((last - first).days, 1)

    def place(value: date) -> float:
        return round(min(max((value - first).days / span, 0), 1) * 1000, 1)

    mondays = [
        first + timedelta(days=n) for n in range(span + 1) if (first + timedelta(days=n)).weekday() == 0
    ]
    shown: dict[str, Any] = {
        "ticks": [place(monday) for monday in mondays],
        "today": place(today) if today else None,
        "flag": place(promise) if promise else None,
        "words": f"promised for {day(promise)}" if promise else "no date yet",
    }
    if projection is not None:
        p50, p80, p95 = (
            timezone.localtime(at).date() for at in (projection.p50, projection.p80, projection.p95)
        )
        shown |= {
            "left": place(p50),
            "width": max(place(p95) - place(p50), 6),
            "middle": place(p80),
            "late": promise is not None and p80 > promise,
            "words": ", ".join(
                f"{format_share(share)} by {day(at)}" for share, at in ((0.5, p50), (0.8, p80), (0.95, p95))
            )
            + (f", promised for {day(promise)}" if promise else ""),
        }
    return shown


# Below this many pixels a number is not read: it is left out. Common practice, no published source.
READABLE_PX = 7.0
_USUAL_PX = 9.0
LINE_PX = 64  # The pictures in the lines of a bench: numbers here and there would say nothing.


@dataclass(frozen=True, slots=True)
class PieceNumber:
    """The number of a piece as an SVG has it: its place and how high it is, in millimeters of the panel."""

    number: int
    x: str
    y: str
    size: str


def piece_numbers(
    pieces: Iterable[Mapping[str, Any]], longest_mm: float, *, px: float = 0, all_or_none: bool = False
) -> tuple[PieceNumber, ...]:
    """Each number at its place, as large as its piece lets it be and no larger than it has to be.

    Where the longer side of the picture is shown `px` pixels long, a number that comes out lower than READABLE_PX is
    left out; with `all_or_none` all are where any is. 0: all are there, in a picture that is shown large.
    """
    mm_per_px = longest_mm / px if px else 0.0
    largest = max(0.035 * longest_mm, _USUAL_PX * mm_per_px)
    found, asked = [], 0
    for piece in pieces:
        if "at" not in piece or not piece.get("number"):
            continue
        asked += 1
        xs, ys = zip(*piece["points"], strict=True)
        digits = len(str(piece["number"]))
        size = min((max(xs) - min(xs)) / digits, 0.6 * (max(ys) - min(ys)), largest)
        if size >= READABLE_PX * mm_per_px:
            x, y = piece["at"]
            found.append(PieceNumber(piece["number"], f"{x:g}", f"{y:g}", f"{size:.1f}"))
    return () if all_or_none and len(found) < asked else tuple(found)


@register.inclusion_tag("parts/panel_picture.html", takes_context=True)
def panel_picture(
    context: Context, panel: Panel, done: int = 0, px: int = 0, marked: Mapping[int, bool] | str | None = None
) -> dict[str, Any]:
    """The panel's own drawing with the numbers of its pieces; a plain pane where there is no drawing.

    Filled are the pieces that are `marked`: by the number of a piece that is begun, whether it is done; where none is,
    the first `done` of them. `px`: how long its longer side is shown, where that is so short that numbers may be left
    out.
    """
    width, height = float(panel.width_mm), float(panel.height_mm)
    margin = max(width, height) * 0.015
    if "drawing_text" in vars(panel):
        drawn, numbers = _kept_pieces(vars(panel)["drawing_text"] or "{}", max(width, height), px)
    else:
        drawn, numbers = _pieces(panel.drawing, max(width, height), px)
    if isinstance(marked, Mapping):
        pieces = [_as_marked(piece, marked.get(piece.get("number", 0))) for piece in drawn]
    else:
        pieces = [piece | {"done": number < done} for number, piece in enumerate(drawn)]
    return {
        "numbers": numbers,
        "box": f"{-margin:g} {-margin:g} {width + 2 * margin:g} {height + 2 * margin:g}",
        "edge": {"x": 0, "y": 0, "width": f"{width:g}", "height": f"{height:g}"},
        "pieces": pieces,
        "words": gettext("Drawing of %(panel)s, %(size)s")
        % {"panel": panel.name, "size": size(context, panel)},
    }


def _as_marked(piece: dict[str, Any], done: bool | None) -> dict[str, Any]:
    return piece | {"done": done is True, "begun": done is False}


Pieces = tuple[tuple[dict[str, Any], ...], tuple[PieceNumber, ...]]


@lru_cache(maxsize=512)
def _kept_pieces(drawing: str, longest_mm: float, px: int) -> Pieces:
    return _pieces(json.loads(drawing), longest_mm, px)


def _pieces(drawing: dict[str, Any] | None, longest_mm: float, px: int) -> Pieces:
    pieces = (drawing or {}).get("pieces", [])
    drawn = tuple(
        piece | {"points": " ".join(f"{x:g},{y:g}" for x, y in piece["points"])} for piece in pieces
    )
    return drawn, piece_numbers(pieces, longest_mm, px=px, all_or_none=0 < px <= LINE_PX)
