"""All papers that go with the work of a job in one PDF, with a list of them in front and an outline.

Many papers take a minute or more: jobs.tasks.bundles has them made by a worker.
"""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from jobs.models import Job, Studio

from .render import lay_out, write

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
    """Lay out all and bind them in the order given behind the list of them; `tell` hears after each how far it is.

    A paper that fails is named in the list and holds up none of the others.
    """
    made: list[tuple[str, Any]] = []
    for paper in bundle.papers:
        try:
            laid_out = paper.lay_out()
        except Exception:
            logger.exception("%s of job %s could not be made", paper.name, bundle.job.number)
            progress = replace(progress, done=progress.done + 1, failed=[*progress.failed, paper.name])
        else:
            made.append((paper.name, laid_out))
            progress = replace(progress, done=progress.done + 1, pages=progress.pages + len(laid_out.pages))
        tell(progress)
    context = {
        "job": bundle.job,
        "day": day,
        "papers": [(name, len(laid_out.pages)) for name, laid_out in made],
        "pages": progress.pages,
        "failed": progress.failed,
        "left_out": bundle.left_out,
    }
    front = lay_out("documents/together.html", context, studio=studio, title=f"Papers of {bundle.job.number}")
    return write([front, *(laid_out for _, laid_out in made)]), progress
