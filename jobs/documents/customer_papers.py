"""The papers that a customer may take from their own page: a small register, so that the page links what there is.

A paper meant for customers adds a source to SOURCES: a function that gives the papers of its kind that a job has now,
without making any of them. What it imports to make one (WeasyPrint, say) it imports when it makes it.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from jobs.models import Job, SentQuote, Stage, Studio
from jobs.models.changed_days import changed_day_of, reason_told


@dataclass(frozen=True, slots=True)
class CustomerPaper:
    """`slug` is its name in addresses, one of a kind within the job; `make` gives the PDF; `has_prices` keeps it back
    from who is not shown prices."""

    slug: str
    title: str
    make: Callable[[], bytes]
    has_prices: bool = False


Source = Callable[[Job], Iterable[CustomerPaper]]


def sent_quote(job: Job) -> Iterable[CustomerPaper]:
    """The last version that was sent, byte for byte."""
    kept = (
        SentQuote.objects.filter(quote__job=job).select_related("quote").order_by("-quote__version").first()
    )
    data = kept.content() if kept else None
    if kept and data is not None:
        slug = f"quote-{kept.quote.version}"
        yield CustomerPaper(slug, f"Quote, version {kept.quote.version}", lambda: data, has_prices=True)


def approval(job: Job) -> Iterable[CustomerPaper]:
    def make() -> bytes:
        from .approval import approval_sheet

        return approval_sheet(job, studio=Studio.current())

    if any(job.panels.values_list("drawing", flat=True)):
        yield CustomerPaper("drawings", "Drawings at scale", make)


def completion(job: Job) -> Iterable[CustomerPaper]:
    """With how to care for the work, dated the day on which it was completed."""
    closed_at = job.closed_at

    def make() -> bytes:
        from .letters import completion_letter

        studio = Studio.current()
        assert closed_at is not None
        return completion_letter(job, studio=studio, day=closed_at.astimezone(studio.zone).date())

    if job.stage == Stage.COMPLETE and closed_at is not None:
        yield CustomerPaper("care", "How to care for it", make)


def new_day(job: Job) -> Iterable[CustomerPaper]:
    """The letter that gives another day, dated the day on which that was promised. Not where the reason that was
    written down for it speaks of others: then it is written by hand, from the job's page."""
    days = changed_day_of(job) if job.stage == Stage.ORDERED else None
    reason = reason_told(job, days.promise) if days else ""

    def make() -> bytes:
        from .letters import new_day_letter

        studio = Studio.current()
        assert days is not None
        day = days.promise.given_at.astimezone(studio.zone).date()
        return new_day_letter(job, days.before, days.now, reason, studio=studio, day=day)

    if days and reason:
        yield CustomerPaper("new-day", "Letter of the new day", make)


SOURCES: tuple[Source, ...] = (sent_quote, approval, new_day, completion)


def customer_papers(job: Job, *, prices: bool = False) -> list[CustomerPaper]:
    """What there is for this customer to take, in the order of the register; priced papers only with `prices`."""
    papers = [paper for source in SOURCES for paper in source(job)]
    return [paper for paper in papers if prices or not paper.has_prices]
