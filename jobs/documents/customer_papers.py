"""The papers that a customer may take from their own page: a small register, so that the page links what there is.

A paper meant for customers adds a source to SOURCES: a function that gives the papers of its kind that a job has now,
without making any of them. What it imports to make one (WeasyPrint, say) it imports when it makes it.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from jobs.models import Job


@dataclass(frozen=True, slots=True)
class CustomerPaper:
    """`slug` is its name in addresses, one of a kind within the job; `make` gives the PDF; `has_prices` keeps it back
    from who is not shown prices."""

    slug: str
    title: str
    make: Callable[[], bytes]
    has_prices: bool = False


Source = Callable[[Job], Iterable[CustomerPaper]]
SOURCES: tuple[Source, ...] = ()


def customer_papers(job: Job, *, prices: bool = False) -> list[CustomerPaper]:
    """What there is for this customer to take, in the order of the register; priced papers only with `prices`."""
    papers = [paper for source in SOURCES for paper in source(job)]
    return [paper for paper in papers if prices or not paper.has_prices]
