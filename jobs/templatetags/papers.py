"""Parts of papers: pictures with words for those who do not see them. `{% load papers %}`."""

from base64 import b64encode
from functools import lru_cache
from io import BytesIO
from typing import Any

from django import template
from django.template import Context
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from jobs.models import Panel
from jobs.templatetags.studio import panel_picture

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


@register.simple_tag(takes_context=True)
def paper_picture(context: Context, panel: Panel, css: str = "picture") -> SafeString:
    """The panel's own drawing in lines alone, with the numbers of its pieces where they have some."""
    shown: dict[str, Any] = panel_picture(context, panel)
    longest = max(float(panel.width_mm), float(panel.height_mm))
    drawn = [_numbered(piece, longest) for piece in shown["pieces"]]
    svg = render_to_string("documents/parts/picture.svg", {**shown, "pieces": drawn, "line": longest / 400})
    return format_html(
        '<img class="{}" alt="{}" src="{}">', css, shown["words"], SVG + b64encode(svg.encode()).decode()
    )


def _numbered(piece: dict[str, Any], longest: float) -> dict[str, Any]:
    """The piece with where its number stands and how large: within it, and no larger than is read."""
    if not piece.get("number"):
        return piece
    xs, ys = zip(*_points(piece), strict=True)
    width, height = max(xs) - min(xs), max(ys) - min(ys)
    size = min(width / max(len(str(piece["number"])), 1), 0.6 * height, 0.035 * longest)
    middle = (max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2
    return piece | {"x": middle[0], "y": middle[1] + size * 0.35, "size": size}


def _points(piece: dict[str, Any]) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in piece["points"].split())]
