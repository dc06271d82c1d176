"""Filters and parts that templates of every page use; loaded everywhere, so `{% load %}` is not needed."""

import json
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django import template
from django.template import Context
from django.utils import timezone
from django.utils.formats import date_format

from jobs.estimating.glass import pounds
from jobs.estimating.hours import format_hours
from jobs.estimating.lengths import format_length, format_size, in_units
from jobs.models import Panel, Person, Projection, Studio

register = template.Library()


def _studio(context: Context) -> Studio:
    return context.get("studio") or Studio.current()


@register.simple_tag(takes_context=True)
def hours(context: Context, minutes: int | None) -> str:
    """Minutes as the studio shows hours; a dash where there are none to tell."""
    return "–" if minutes is None else format_hours(int(minutes), _studio(context).hours)


@register.simple_tag(takes_context=True)
def length(context: Context, mm: Decimal) -> str:
    return format_length(mm, _studio(context).units)


@register.simple_tag(takes_context=True)
def size(context: Context, panel: Panel) -> str:
    """Width by height of a panel in the studio's units."""
    return format_size(panel.width_mm, panel.height_mm, _studio(context).units)


@register.simple_tag(takes_context=True)
def in_our_units(context: Context, sentence: str) -> str:
    """A sentence whose lengths were written down in millimeters, with them in the studio's units."""
    return in_units(sentence, _studio(context).units)


@register.simple_tag(takes_context=True)
def mass(context: Context, kg: Decimal) -> str:
    if _studio(context).units == Studio.Units.INCH:
        return f"{pounds(kg):.0f} lb"
    return f"{kg:.1f} kg"


@register.filter
def day(value: date | datetime | None) -> str:
    """“Fri 4 Dec”, with the year only where it is not this one; a dash where there is no day."""
    if value is None:
        return "–"
    if isinstance(value, datetime):
        value = timezone.localtime(value).date()
    style = "D j M" if value.year == timezone.localdate().year else "D j M Y"
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
        return "under 1 %"
    if 0.99 < number < 1:
        return "over 99 %"
    return f"{number * 100:.0f} %"


@register.inclusion_tag("parts/state.html")
def state_mark(state: str, word: bool = True) -> dict[str, Any]:
    """An operation's state as a small pane of glass in its came, with its word beside it or in its name."""
    return {"state": str(state), "word": word}


@register.inclusion_tag("parts/hours_pair.html", takes_context=True)
def hours_pair(context: Context, spent: int, estimate: int) -> dict[str, Any]:
    """Hours spent of hours estimated, with a bar; what goes over is said in words as well."""
    style = _studio(context).hours
    over = spent - estimate if estimate else 0
    return {
        "spent": format_hours(spent, style),
        "estimate": format_hours(estimate, style),
        "share": min(100, round(100 * spent / estimate)) if estimate else 0,
        "over": format_hours(over, style) if over > 0 else "",
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
            "words": f"50 % by {day(p50)}, 80 % by {day(p80)}, 95 % by {day(p95)}"
            + (f", promised for {day(promise)}" if promise else ""),
        }
    return shown


def _number(piece: dict[str, Any], largest: float) -> dict[str, Any]:
    """The number of a piece at its place, as large as the piece lets it be and no larger than it has to be; `points`
    are as an SVG has them."""
    xs, ys = zip(*((float(n) for n in point.split(",")) for point in piece["points"].split()), strict=True)
    size = min((max(xs) - min(xs)) / len(str(piece["number"])), 0.6 * (max(ys) - min(ys)), 0.035 * largest)
    x, y = piece["at"]
    return {"number": piece["number"], "x": f"{x:g}", "y": f"{y:g}", "size": f"{size:.1f}"}


@register.inclusion_tag("parts/panel_picture.html", takes_context=True)
def panel_picture(context: Context, panel: Panel, done: int = 0) -> dict[str, Any]:
    """The panel's own drawing, the first `done` pieces of it filled; a plain pane where there is no drawing."""
    width, height = float(panel.width_mm), float(panel.height_mm)
    margin = max(width, height) * 0.015
    if "drawing_text" in vars(panel):
        drawn = _kept_pieces(vars(panel)["drawing_text"] or "{}")
    else:
        drawn = _pieces(panel.drawing)
    pieces = [piece | {"done": number < done} for number, piece in enumerate(drawn)]
    return {
        "numbers": [_number(piece, max(width, height)) for piece in drawn if "at" in piece],
        "box": f"{-margin:g} {-margin:g} {width + 2 * margin:g} {height + 2 * margin:g}",
        "edge": {"x": 0, "y": 0, "width": f"{width:g}", "height": f"{height:g}"},
        "pieces": pieces,
        "words": f"Drawing of {panel.name}, {size(context, panel)}",
    }


@lru_cache(maxsize=512)
def _kept_pieces(drawing: str) -> tuple[dict[str, Any], ...]:
    return _pieces(json.loads(drawing))


def _pieces(drawing: dict[str, Any] | None) -> tuple[dict[str, Any], ...]:
    return tuple(
        piece | {"points": " ".join(f"{x:g},{y:g}" for x, y in piece["points"])}
        for piece in (drawing or {}).get("pieces", [])
    )
