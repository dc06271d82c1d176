"""The quote on the customer's page: figures and words of the version that was sent, whatever has changed since."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from jobs.actions.quote_lines import lines_of
from jobs.actions.quotes import DRAWINGS
from jobs.models import Job, Quote, QuoteState
from jobs.models.quote_words import QuoteWords
from jobs.views.quote_paper import parts_of, rounding_of


@dataclass(frozen=True, slots=True)
class Quoted:
    """Whether the quote was accepted, and by the id of each panel the version of its drawing when that was sent."""

    accepted: bool = False
    drawings: Mapping[str, str] = field(default_factory=dict)


def quoted_of(quote: Quote | None) -> Quoted:
    """What a quote says of the drawings; nothing of its price."""
    if quote is None:
        return Quoted()
    return Quoted(quote.state == QuoteState.ACCEPTED, (quote.frozen or {}).get(DRAWINGS, {}))


def price_quote(job: Job) -> Quote | None:
    """The quote that holds: the accepted one, or else the last one sent."""
    quotes = list(job.quotes.filter(state__in=[QuoteState.ACCEPTED, QuoteState.SENT]).order_by("version"))
    return next(
        (quote for quote in quotes if quote.state == QuoteState.ACCEPTED), quotes[-1] if quotes else None
    )


def quote_part(quote: Quote) -> dict[str, Any]:
    """What the page says of it."""
    lines = lines_of(quote) if "lines" in (quote.frozen or {}) else []
    return {
        "quote": quote,
        "balance": quote.total - quote.deposit,
        "quote_words": QuoteWords.of(quote),
        "quote_parts": parts_of(lines),
        "quote_rounding": rounding_of(lines),
    }
