"""All papers that go with the work of a job in one PDF, with a list of them in front and an outline."""

from collections.abc import Callable, Sequence
from datetime import date

from jobs.models import Job, Operation, Panel, Studio

from .render import lay_out, write
from .road import delivery_pages, installation_pages
from .traveler import traveler_pages


def job_papers(
    job: Job,
    panels: Sequence[tuple[Panel, Sequence[Operation]]],
    *,
    studio: Studio,
    day: date,
    address: Callable[[str], str],
) -> bytes:
    """A traveler for each of `panels`, its operations in the order of the route; then delivery and installation."""
    papers = [
        (f"Traveler {panel.code} {panel.name}", traveler_pages(panel, work, studio=studio, address=address))
        for panel, work in panels
    ]
    papers.append((f"Delivery note {job.number}", delivery_pages(job, studio=studio, day=day)))
    papers.append((f"Installation {job.number}", installation_pages(job, studio=studio, day=day)))
    counted = [(name, len(laid_out.pages)) for name, laid_out in papers]
    context = {"job": job, "day": day, "papers": counted, "pages": sum(pages for _, pages in counted)}
    front = lay_out("documents/together.html", context, studio=studio, title=f"Papers of {job.number}")
    return write([front, *(laid_out for _, laid_out in papers)])
