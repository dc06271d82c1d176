"""Filters of the floor and the panels pages."""

from django import template

register = template.Library()


@register.filter
def whole_hours(minutes: int) -> str:
    """Minutes as whole hours, for loads of weeks: 41 h."""
    return f"{round(minutes / 60)} h"
