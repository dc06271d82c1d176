"""HTML to PDF: tagged (PDF/UA-1) with title and language, fonts embedded, fetching nothing from file or network."""

from collections.abc import Mapping
from functools import cache
from typing import Any

from django.contrib.staticfiles import finders
from django.template.loader import render_to_string

from jobs.models import Studio

SHEETS = ("documents", "letters")


@cache
def _sheets(paper: str) -> list[Any]:
    """The print stylesheets, read once, and the size of the paper."""
    from weasyprint import CSS

    found = [CSS(filename=finders.find(f"css/{name}.css")) for name in SHEETS]
    return [*found, CSS(string=f"@page {{ size: {paper} }}")]


def paper_of(studio: Studio) -> str:
    """Letter where lengths are in inches, A4 where they are in millimeters."""
    return "letter" if studio.units == Studio.Units.INCH else "A4"


def pdf(
    template: str, context: Mapping[str, Any], *, studio: Studio, title: str, language: str = "en"
) -> bytes:
    """The template, which extends documents/base.html, as a PDF on the studio's paper."""
    # More than half a second to import, which no page should wait for.
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher

    html = render_to_string(template, {**context, "studio": studio, "title": title, "language": language})
    made = HTML(string=html, url_fetcher=URLFetcher(allowed_protocols=()))
    found: bytes = made.write_pdf(stylesheets=_sheets(paper_of(studio)), pdf_variant="pdf/ua-1")
    return found
