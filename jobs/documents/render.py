"""A template and its context as a PDF: tagged (PDF/UA-1), fonts embedded, and nothing fetched but what is handed in."""

from collections.abc import Mapping
from functools import cache
from typing import Any

from django.template.loader import render_to_string

from jobs.models import Studio

from .tagging import finish

# Width and height in millimeters: ISO 216:2007 and ANSI/ASME Y14.1-2012.
PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


VARIANT = {"pdf_variant": "pdf/ua-1", "pdf_tags": True}


class NotHandedIn(ValueError):
    """A paper asked for something from a file or the network; WeasyPrint's own errors of that kind it leaves out."""


def page_size(studio: Studio, *, landscape: bool = False) -> tuple[float, float]:
    """Width and height in millimeters of the studio's paper."""
    width, height = PAPERS[studio.paper]
    return (height, width) if landscape else (width, height)


def pdf(template: str, context: Mapping[str, Any], *, studio: Studio, title: str, **how: Any) -> bytes:
    """The paper as bytes of a PDF: `lay_out`, written."""
    return write(lay_out(template, context, studio=studio, title=title, **how))


def lay_out(
    template: str,
    context: Mapping[str, Any],
    *,
    studio: Studio,
    title: str,
    language: str = "en",
    landscape: bool = False,
    files: Mapping[str, tuple[str, bytes]] | None = None,
) -> Any:
    """The paper laid out on pages, to be written by itself or bound with others.

    `files` is what the template may name in `src` and `href` as `handed:name`: its media type and its bytes, by name.
    Everything else that is neither that nor a `data:` address is left out.
    """
    from weasyprint import HTML

    width, height = page_size(studio, landscape=landscape)
    about = {"studio": studio, "title": title, "language": language}
    page = {"page_width": f"{width:g}", "page_height": f"{height:g}", "landscape": landscape}
    html = render_to_string(template, {**about, **page, **context})
    fetcher = _fetcher_class()(dict(files or {}))
    return HTML(string=html, base_url="handed:", url_fetcher=fetcher).render(**VARIANT)


def write(paper: Any) -> bytes:
    """What `lay_out` gave as bytes of a PDF; many are written into one by `binding`."""
    made: bytes = paper.write_pdf(finisher=finish, **VARIANT)
    return made


@cache
def _fetcher_class() -> Any:
    """Made at the first paper, so that WeasyPrint (0.6 s) is loaded by nobody who prints nothing."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class HandedIn(URLFetcher):  # type: ignore[misc]  # Without types of its own.
        def __init__(self, files: dict[str, tuple[str, bytes]]) -> None:
            super().__init__(allowed_protocols={"data"}, allow_redirects=False)
            self.files = files

        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            if url.startswith("handed:") and (name := url.removeprefix("handed:").lstrip("/")) in self.files:
                kind, data = self.files[name]
                return URLFetcherResponse(url, data, {"Content-Type": kind})
            if not url.startswith("data:"):
                raise NotHandedIn(f"A paper fetches nothing: {url}")
            return super().fetch(url, headers)

    return HandedIn
