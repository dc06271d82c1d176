"""Days as a customer reads them, in the form of their language; `{% load told_days %}`.

A time is told by its day in the studio, as `expects_localtime` has it.
"""

from datetime import date

from django import template
from django.utils.dateformat import format as format_day
from django.utils.formats import get_format

register = template.Library()


@register.filter(expects_localtime=True)
def full_day(day: date) -> str:
    """Friday, March 20, 2026; Friday, 20 March 2026; Freitag, 20. März 2026."""
    return format_day(day, f"l, {_form('DATE_FORMAT')}")


@register.filter(expects_localtime=True)
def plain_day(day: date) -> str:
    """March 20, 2026; 20 March 2026; 20. März 2026."""
    return format_day(day, _form("DATE_FORMAT"))


@register.filter(expects_localtime=True)
def near_day(day: date) -> str:
    """Friday, March 20: of a year that nobody doubts."""
    return format_day(day, f"l, {_form('MONTH_DAY_FORMAT')}")


@register.filter(expects_localtime=True)
def day_of_month(day: date) -> str:
    """March 20."""
    return format_day(day, _form("MONTH_DAY_FORMAT"))


def _form(name: str) -> str:
    """The form of the language that is spoken, with months in full."""
    return str(get_format(name)).replace("N", "F")
