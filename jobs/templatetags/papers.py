"""Parts of papers: pictures with words for those who do not see them. `{% load papers %}`."""

from base64 import b64encode
from functools import lru_cache
from io import BytesIO

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

register = template.Library()
SVG = "data:image/svg+xml;base64,"
PNG = "data:image/png;base64,"


@lru_cache(maxsize=1024)
def qr_address(address: str) -> str:
    """A `data:` address of a picture of the code: the address and nothing else, with the quiet zone of four modules
    that ISO/IEC 18004 asks for, and a quarter of it may be smeared (level Q).

    Dots, four a module, since a path of all the modules takes three times as long to lay on paper. Kept, because a
    code takes five milliseconds and stands on several papers.
    """
    import segno

    buffer = BytesIO()
    code = segno.make(address, error="q", micro=False, boost_error=False)
    code.save(buffer, kind="png", border=4, scale=4)
    return PNG + b64encode(buffer.getvalue()).decode()


@register.filter
def css_string(text: str) -> SafeString:
    """The text as a string of CSS, whatever is in it."""
    plain = "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in str(text))
    return mark_safe(f'"{plain}"')  # noqa: S308  # nosec B308 B703  # Letters, digits and escapes of CSS.


@register.simple_tag
def qr(address: str, words: str, css: str = "qr") -> SafeString:
    """The QR code of an address; `words` is what a reader hears instead of it."""
    return format_html('<img class="{}" alt="{}" src="{}">', css, words, qr_address(address))


@register.simple_block_tag
def vector(content: str, css: str = "") -> SafeString:
    """The `<svg>` between the tags as a picture of its own, whose words are its `<title>`: within the page each of its
    lines and letters would be an element to be styled."""
    words = content.partition("<title>")[2].partition("</title>")[0]
    return mark_safe(f'<img class="{css}" alt="{words}" src="{SVG}{b64encode(content.encode()).decode()}">')  # noqa: S308  # nosec B308 B703  # Rendered, thus escaped, above.
