"""Rows of a list that are drawn again only when what they show has changed; `{% load kept %}`."""

from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import fields, is_dataclass
from datetime import date, datetime, time
from decimal import Decimal
from functools import cache
from typing import Any

from django import template
from django.db.models import Model
from django.template import Context
from django.template.loader import get_template
from django.utils import timezone
from django.utils.safestring import SafeString
from django.utils.translation import get_language

register = template.Library()

MOST = 4000
PLAIN = {str, int, float, bool, type(None), Decimal, datetime, date, time, SafeString}
_drawn: OrderedDict[Hashable, SafeString] = OrderedDict()


@register.simple_tag(takes_context=True)
def kept(context: Context, template_name: str, **values: Any) -> SafeString:
    """The template of this name, drawn from these values and the studio alone.

    Within a part that is drawn for everybody (views/kept.py) it is kept under all that the values hold: whatever
    changes in one of their rows, it is drawn anew. It may read nothing else, and make no query. Elsewhere it is an
    ordinary include, which has the whole context: a form as it was typed and refused, for instance.
    """
    drawing: Any = get_template(template_name).template  # type: ignore[attr-defined]
    if "tap_mark" not in context:
        with context.push(**values):
            return SafeString(drawing.render(context))  # nosec B703  # Rendered, thus escaped.
    studio = context["studio"]
    # The day: times of today are shown without it.
    key = (
        template_name,
        get_language(),
        timezone.localdate(),
        facts(studio),
        tuple((k, facts(v)) for k, v in values.items()),
    )
    shown = _drawn.get(key)
    if shown is None:
        marks = {mark: context[mark] for mark in ("csrf_token", "tap_mark")}
        _drawn[key] = shown = drawing.render(context.new({**values, "studio": studio, **marks}))
        while len(_drawn) > MOST:
            _drawn.popitem(last=False)
    return shown


def forget_rows() -> None:
    """Draw every row anew from here on."""
    _drawn.clear()


def facts(value: Any, above: tuple[int, ...] = ()) -> Any:
    """All that a value holds, rows it was read with included, so that two with equal facts are shown alike."""
    if isinstance(value, Model):
        if id(value) in above:
            return value.pk
        above = (*above, id(value))
        held = vars(value)
        own = tuple([_plain(v, above) for k, v in held.items() if k != "_state"])
        return (type(value), own, tuple([facts(v, above) for v in value._state.fields_cache.values()]))
    if is_dataclass(value) and not isinstance(value, type):
        return (type(value), *[_plain(getattr(value, name), above) for name in _names(type(value))])
    return _plain(value, above)


def _plain(value: Any, above: tuple[int, ...]) -> Any:
    if type(value) in PLAIN:
        return value
    match value:
        case list() | tuple():
            return tuple([facts(each, above) for each in value])
        case dict():
            return tuple([(key, facts(each, above)) for key, each in value.items()])
        case Model():
            return facts(value, above)
        case type():
            return value
    return facts(value, above) if is_dataclass(value) else value


@cache
def _names(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind))
