"""Which papers go with which mail: a small register over the papers that are meant for customers.

A paper that a kind of mail should take and that is not among them adds a source of its own to SOURCES.
"""

from collections.abc import Callable, Iterable

from jobs.models import Job, MailKind

from .customer_papers import CustomerPaper, customer_papers

Source = Callable[[Job], Iterable[CustomerPaper]]
# The beginnings of the names of the customer's papers that each kind of mail takes.
NAMES: dict[str, tuple[str, ...]] = {
    MailKind.QUOTE: ("quote",),
    MailKind.APPROVAL: ("drawings", "approval"),
    MailKind.NEW_DATE: ("new-day",),
    MailKind.INSTALLED: ("care", "completion"),
}
SOURCES: dict[str, tuple[Source, ...]] = {}


def attachments(kind: str, job: Job) -> list[CustomerPaper]:
    """The papers that may go with a mail of this kind about this job; none of them is made yet."""
    own = [paper for source in SOURCES.get(kind, ()) for paper in source(job)]
    names = NAMES.get(kind)
    theirs = customer_papers(job, prices=True) if names else []
    return own + [paper for paper in theirs if names and paper.slug.startswith(names)]
