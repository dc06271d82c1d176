"""Which papers go with the work of a job: each named, none of them made yet."""

from collections.abc import Callable, Iterator
from datetime import date

from jobs.estimating.tiling import MOST_SHEETS
from jobs.models import Job, Operation, Panel, Pattern, Studio
from jobs.models.in_order import work_of

from .approval import approval_pages
from .cut_list import cut_list_pages
from .pattern_sheets import pattern_pages, sheets_of
from .pieces_shown import accepted_pattern, cut_pieces
from .road import delivery_pages, installation_pages
from .together import Bundle, Paper
from .traveler import cautions_of, traveler_pages

PATTERN = "Full-size pattern"


def papers_of(
    job: Job, *, patterns: bool, studio: Studio, day: date, address: Callable[[str], str]
) -> Bundle:
    """Travelers, cut lists, full-size patterns (unless not `patterns`) and approval sheets of every panel, delivery and
    installation; `address` makes a path of ours an address that a telephone finds."""
    papers: list[Paper] = []
    left_out: list[str] = []
    for panel in job.panels.select_related("route").order_by("number"):
        panel.job = job
        work = work_of(panel)
        for operation in work:
            operation.job, operation.panel = job, panel
        name = f"{panel.code} {panel.name}"
        papers.append(_traveler(name, panel, work, studio, address))
        papers += _drawn(name, panel, work, studio, patterns, left_out)
        papers += _approval(name, panel, studio, day, left_out)
    papers += [
        Paper(f"Delivery note {job.number}", lambda: delivery_pages(job, studio=studio, day=day)),
        Paper(f"Installation {job.number}", lambda: installation_pages(job, studio=studio, day=day)),
    ]
    return Bundle(job, papers, left_out)


def _traveler(
    name: str, panel: Panel, work: list[Operation], studio: Studio, address: Callable[[str], str]
) -> Paper:
    return Paper(f"Traveler {name}", lambda: traveler_pages(panel, work, studio=studio, address=address))


def _drawn(
    name: str, panel: Panel, work: list[Operation], studio: Studio, patterns: bool, left_out: list[str]
) -> Iterator[Paper]:
    """The papers of its accepted pattern; what there is none of is told in `left_out`."""
    shown = accepted_pattern(panel)
    if shown is None:
        left_out.append(f"Cut list and full-size pattern {name}: it has no accepted pattern yet.")
        return
    yield Paper(f"Cut list {name}", lambda: _cut_list(panel, shown, studio, work))
    count = len(sheets_of(panel, studio)[0])
    if not patterns:
        left_out.append(f"{PATTERN} {name}: {count} sheets, left out as asked.")
    elif count > MOST_SHEETS:
        left_out.append(f"{PATTERN} {name}: {count} sheets, have it plotted in one piece instead.")
    else:
        yield Paper(f"{PATTERN} {name}", lambda: pattern_pages(panel, shown, studio=studio))


def _approval(name: str, panel: Panel, studio: Studio, day: date, left_out: list[str]) -> Iterator[Paper]:
    if panel.drawing:
        yield Paper(
            f"Approval sheet {name}", lambda: approval_pages(panel.job, [panel], studio=studio, day=day)
        )
    else:
        left_out.append(f"Approval sheet {name}: it is not drawn yet.")


def _cut_list(panel: Panel, shown: Pattern, studio: Studio, work: list[Operation]) -> object:
    pieces, cutting = cut_pieces(shown, studio, work)
    return cut_list_pages(panel, shown, pieces, cautions_of(cutting), studio=studio)
