"""The paper of a quote is kept as it was sent, so that it can be shown again byte for byte."""

import hashlib
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import transaction

from jobs.models import Quote, QuoteState, SentQuote

from .base import Actor, Refused, record
from .graph import lock_job


@transaction.atomic
def keep_quote(quote: Quote, data: bytes, *, by: Actor, at: datetime) -> SentQuote:
    """Keep the PDF that goes to the customer. Refuses that of a draft, a second one, and what is no PDF."""
    if by.account is None or not by.is_office:
        raise Refused("Only the office sends quotes.")
    lock_job(quote.job)
    row = Quote.objects.select_for_update(of=("self",)).select_related("job").get(pk=quote.pk)
    if row.state == QuoteState.DRAFT:
        raise Refused(f"Version {row.version} has not been sent yet.")
    if SentQuote.objects.filter(quote=row).exists():
        raise Refused(f"The paper of version {row.version} is kept already.")
    if not data.startswith(b"%PDF-"):
        raise Refused("That is no PDF.")
    digest = hashlib.sha256(data).hexdigest()
    kept = SentQuote(quote=row, sha256=digest, made_at=at, made_by=by.account)
    name = f"{row.job.number}-{row.version}-{digest[:12]}.pdf"
    kept.file.save(name, ContentFile(data), save=False)
    kept.save(force_insert=True)
    record("paper kept", row, by=by, at=at, after={"version": row.version, "sha256": digest})
    return kept


def kept_quote(quote: Quote) -> bytes | None:
    """The paper as it was sent; None where none was kept. Refuses to show anything else in its place."""
    kept = SentQuote.objects.filter(quote=quote).first()
    if kept is None:
        return None
    data = kept.content()
    if data is None:
        raise Refused(
            f"The paper of version {quote.version} as it was sent is lost, or was changed since: "
            "it has to come back from a backup."
        )
    return data
