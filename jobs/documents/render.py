"""HTML to PDF: tagged (PDF/UA-1), fonts embedded, fetching nothing."""

from collections.abc import Mapping
from functools import cache
from typing import Any

from django.contrib.staticfiles import finders
from django.template.loader import render_to_string

from jobs.models import Studio


@cache
def _sheet() -> list[Any]:
    from weasyprint import CSS

    return [CSS(filename=finders.find(f"css/{name}.css")) for name in ("documents", "letters")]


def pdf(
    template: str, context: Mapping[str, Any], *, studio: Studio, title: str, language: str = "en"
) -> bytes:
    """The template, which extends documents/base.html, as a tagged PDF."""
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher

    html = render_to_string(template, {**context, "studio": studio, "title": title, "language": language})
    made = HTML(string=html, url_fetcher=URLFetcher(allowed_protocols=()))
    found: bytes = made.write_pdf(stylesheets=_sheet(), pdf_variant="pdf/ua-1")
    return found
