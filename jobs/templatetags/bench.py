"""What the bench's templates need beside the filters of every page; `{% load bench %}`."""

from typing import Any
from uuid import uuid4

from django import template
from django.template import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString

from jobs.estimating.glass import glass_kg
from jobs.models import Panel
from jobs.templatetags.studio import mass

register = template.Library()

# Recommended weight limit of a two-handed lift before any multiplier: DHHS (NIOSH) 94-110.
HEAVY_KG = 23


@register.simple_tag(takes_context=True)
def tap_id(context: Context) -> SafeString:
    """The hidden id of one tap: sent again, it is known again. In a part that is kept, its mark (views/kept.py)."""
    tap = format_html('<input type="hidden" name="client_id" value="{}">', context.get("tap_mark") or uuid4())
    return tap + scanned_field(context)


@register.simple_tag(takes_context=True)
def scanned_field(context: Context) -> SafeString:
    """The panel that was scanned, in the forms about it, so that it stays where it is after a tap on one of them.
    `scanned_panel` is its key."""
    panel = context.get("scanned_panel")
    return format_html('<input type="hidden" name="panel" value="{}">', panel) if panel else SafeString("")


@register.simple_tag(takes_context=True)
def form_of(context: Context, verb: str, pk: int) -> Any:
    """The form of a verb for one operation: as it was typed where it was refused, empty otherwise.

    The view puts the classes of the forms into the context, as `forms`, and what was refused, as `wrong`.
    """
    wrong = context.get("wrong")
    if wrong and wrong.verb == verb and wrong.pk == pk and wrong.form is not None:
        return wrong.form
    return context["forms"][verb](auto_id=f"{verb}-{pk}-%s")


@register.simple_tag(takes_context=True)
def heavy(context: Context, panel: Panel | None) -> str:
    """What a panel weighs, where its glass alone is more than one person should lift; empty otherwise."""
    if panel is None:
        return ""
    kg = glass_kg(panel.width_mm, panel.height_mm, panel.thickness_mm)
    return mass(context, kg) if kg > HEAVY_KG else ""
