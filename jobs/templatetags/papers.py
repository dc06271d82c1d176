"""Parts of papers. `{% load papers %}`."""

from django import template
from django.utils.safestring import SafeString, mark_safe

register = template.Library()


@register.filter
def css_string(text: str) -> SafeString:
    """The text as a string of CSS, whatever is in it."""
    plain = "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in str(text))
    return mark_safe(f'"{plain}"')  # noqa: S308  # Letters, digits and escapes of CSS.
