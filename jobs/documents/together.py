"""All papers that go with the work of a job in one PDF, with a list of them in front and an outline.

Many papers take a minute or more: jobs.tasks.bundles has them made by a worker.
"""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from jobs.models import Job, Studio

from .binding import Binding
from .render import lay_out

logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Paper:
    """`name` as the list in front has it; `lay_out` gives its pages."""

    name: str
    lay_out: Callable[[], Any]


@dataclass(frozen=True, slots=True)
class Bundle:
    """Papers of one job. `left_out`: those there are none of now, and why, in words."""

    job: Job
    papers: Sequence[Paper]
    left_out: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a bundle is: papers done, pages so far, names of those that could not be made."""

    done: int = 0
    pages: int = 0
    failed: list[str] = field(default_factory=list)


def make(
    bundle: Bundle,
    progress: Progress,
    *,
    studio: Studio,
    day: date,
    tell: Callable[[Progress], None] = lambda _: None,
) -> tuple[bytes, Progress]:
    """Make all and bind them in the order given behind the list of them; `tell` hears after each how far it is.

    A paper that fails is named in the list and holds up none of the others.
    """
    binding = Binding()
    made: list[tuple[str, int]] = []
    for paper in bundle.papers:
        try:
            pages = _bound_into(binding, paper)
        except Exception:
            logger.exception("%s of job %s could not be made", paper.name, bundle.job.number)
            progress = replace(progress, done=progress.done + 1, failed=[*progress.failed, paper.name])
        else:
            made.append((paper.name, pages))
            progress = replace(progress, done=progress.done + 1, pages=progress.pages + pages)
        tell(progress)
    context = {
        "job": bundle.job,
        "day": day,
        "papers": made,
        "pages": progress.pages,
        "failed": progress.failed,
        "left_out": bundle.left_out,
    }
    front = lay_out("documents/together.html", context, studio=studio, title=f"Papers of {bundle.job.number}")
    return binding.bound(front), progress


def _bound_into(binding: Binding, paper: Paper) -> int:
    """Lay the paper out and write it; nothing but what was written is kept. The number of its pages."""
    laid_out = paper.lay_out()
    binding.add(laid_out)
    return len(laid_out.pages)
