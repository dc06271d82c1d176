"""The quote on the customer's page: figures and words of the version that was sent, whatever has changed since."""

from typing import Any

from jobs.actions.quote_lines import lines_of
from jobs.models import Job, Quote, QuoteState
from jobs.models.quote_words import QuoteWords
from jobs.views.quote_paper import parts_of, rounding_of


def price_quote(job: Job) -> Quote | None:
    """The quote that holds: the accepted one, or else the last one sent."""
    quotes = job.quotes.filter(state__in=[QuoteState.ACCEPTED, QuoteState.SENT])
    return quotes.filter(state=QuoteState.ACCEPTED).first() or quotes.order_by("version").last()


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
