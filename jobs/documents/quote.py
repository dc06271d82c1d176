"""The paper of a quote: one version, as its page shows it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from jobs.models import Quote, QuoteState, Studio
from jobs.models.quote_words import QuoteWords

from .drawing import drawn
from .render import pdf

# Two beside each other on a page.
ROOM_MM = (Decimal(76), Decimal(70))


@dataclass(frozen=True, slots=True)
class Offered:
    """What the page of the quote shows: its lines by panel, its rounding, and what changed since which version."""

    parts: Sequence[Any]
    rounding: Decimal | None
    before: Quote | None
    changes: Sequence[Any]


def quote_pdf(quote: Quote, offered: Offered, *, studio: Studio, day: date) -> bytes:
    """The quote as PDF, dated `day`. The panels are drawn as they are now; all else is the version's."""
    job, words = quote.job, QuoteWords.of(quote)
    context = {
        "job": job,
        "quote": quote,
        "day": day,
        "is_draft": quote.state == QuoteState.DRAFT,
        "parts": offered.parts,
        "rounding": offered.rounding,
        "before": offered.before,
        "changes": offered.changes,
        "balance": quote.total - quote.deposit,
        "words": words,
        "currency": words.currency,
        "pictures": [
            drawn(panel, *ROOM_MM, studio.units, numbered=True) for panel in job.panels.order_by("number")
        ],
    }
    title = f"Quote {job.number}, version {quote.version}"
    return pdf("documents/quote.html", context, studio=studio, title=title)
