"""The paper of a quote: as it was sent where it was kept, else made from what its page shows."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.utils import timezone

from jobs.actions import Refused
from jobs.actions.quote_lines import ShownLine, changed_since, lines_of
from jobs.actions.sent_quotes import keep_quote, kept_quote
from jobs.documents.quote import Offered, quote_pdf
from jobs.estimating.pricing import cents
from jobs.forms.quotes import LinesForm
from jobs.models import Quote, QuoteState
from jobs.views.middleware import StudioRequest

logger = logging.getLogger(__name__)


@dataclass(slots=True)
class Part:
    """The lines of one panel, all its `copies` together, or of the whole job where `name` is empty."""

    name: str
    lines: list[tuple[ShownLine, Any]] = field(default_factory=list)
    amount: Decimal = Decimal(0)
    copies: int = 1

    @property
    def each(self) -> Decimal:
        """What one copy comes to, to the cent."""
        return cents(self.amount / self.copies)

    @property
    def is_even(self) -> bool:
        return self.each * self.copies == self.amount


def parts_of(lines: Sequence[ShownLine], form: LinesForm | None = None) -> list[Part]:
    """Panel by panel, the whole job last; each line with its two fields where it is typed anew."""
    parts: dict[str, Part] = {}
    for line in lines:
        if not line.is_foot:
            part = parts.setdefault(line.panel, Part(line.panel, copies=line.copies))
            part.lines.append((line, form.of_line(line.pk) if form else None))
            part.amount += line.amount
    return sorted(parts.values(), key=lambda part: not part.name)


def version_before(quote: Quote) -> Quote | None:
    """The last version that was sent before this one."""
    return quote.job.quotes.filter(version__lt=quote.version).exclude(state=QuoteState.DRAFT).last()


def rounding_of(lines: Sequence[ShownLine]) -> Decimal | None:
    return next((line.amount for line in lines if line.is_foot), None)


def paper_of(request: StudioRequest, quote: Quote) -> bytes:
    """Byte for byte what was sent, or made now. Refused where what was sent is lost."""
    kept = kept_quote(quote)
    return _made(request, quote) if kept is None else kept


def keep_paper(request: StudioRequest, quote: Quote) -> bool:
    """Make the paper of a version that has just been sent, and keep it. It is sent also where that fails."""
    quote.refresh_from_db()
    try:
        keep_quote(quote, _made(request, quote), by=request.actor, at=request.now)
    except (OSError, Refused):
        logger.exception("The paper of quote %s, version %s, is not kept", quote.job.number, quote.version)
        return False
    return True


def _made(request: StudioRequest, quote: Quote) -> bytes:
    lines, before = lines_of(quote), version_before(quote)
    changes = changed_since(before, quote) if before else ()
    offered = Offered(parts_of(lines), rounding_of(lines), before, changes)
    day = timezone.localdate(quote.sent_at or request.now)
    return quote_pdf(quote, offered, studio=request.studio, day=day)
