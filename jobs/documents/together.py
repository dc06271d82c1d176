"""All papers that go with the work of a job in one PDF, with a list of them in front and an outline.

They are laid out one after another, so that whoever waits is told how many there are already. What is laid out stays
in the memory of this process until it is bound and taken, or until it is forgotten.
"""

import logging
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from threading import Lock
from typing import Any
from uuid import uuid4

from jobs.models import Job, Studio

from .render import lay_out, write

logger = logging.getLogger(__name__)

# Of a job of thirty panels one holds some hundreds of pages.
MOST_KEPT = 4
KEPT_FOR = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Paper:
    """`name` as the list in front has it; `lay_out` gives its pages."""

    name: str
    lay_out: Callable[[], Any]


@dataclass(slots=True)
class Bundle:
    """Papers of one job. `left_out`: those there are none of now, and why, in words; `failed`: names of those that
    could not be made."""

    job: Job
    papers: Sequence[Paper]
    left_out: Sequence[str] = ()
    failed: list[str] = field(default_factory=list)
    _made: list[tuple[str, Any]] = field(default_factory=list)
    _pages: int = 0
    _bytes: bytes = b""
    _lock: Any = field(default_factory=Lock)

    @property
    def total(self) -> int:
        return len(self.papers)

    @property
    def done(self) -> int:
        return len(self._made) + len(self.failed)

    @property
    def pages(self) -> int:
        """Of what is laid out so far."""
        return self._pages

    @property
    def finished(self) -> bool:
        return self.done == self.total

    def go_on(self, many: int) -> None:
        """Lay out the next papers, at most so many. One that fails is named and holds up none of the others."""
        with self._lock:
            for paper in self.papers[self.done : self.done + many]:
                try:
                    laid_out = paper.lay_out()
                    self._made.append((paper.name, laid_out))
                    self._pages += len(laid_out.pages)
                except Exception:
                    logger.exception("%s of job %s could not be made", paper.name, self.job.number)
                    self.failed.append(paper.name)

    def bound(self, *, studio: Studio, day: date) -> bytes:
        """All that were laid out, in the order given, behind the list of them: once, and then the same bytes again."""
        with self._lock:
            if not self._bytes:
                counted = [(name, len(laid_out.pages)) for name, laid_out in self._made]
                context = {
                    "job": self.job,
                    "day": day,
                    "papers": counted,
                    "pages": self._pages,
                    "failed": self.failed,
                    "left_out": self.left_out,
                }
                title = f"Papers of {self.job.number}"
                front = lay_out("documents/together.html", context, studio=studio, title=title)
                self._bytes = write([front, *(laid_out for _, laid_out in self._made)])
                # The pages are many times as large as the file.
                self._made = [(name, None) for name, _ in self._made]
            return self._bytes


_kept: "OrderedDict[str, tuple[datetime, int, Bundle]]" = OrderedDict()
_keeping = Lock()


def keep(bundle: Bundle, owner: int, at: datetime) -> str:
    """Under which name `owner` (the id of an account) finds it again; the oldest make room."""
    key = uuid4().hex
    with _keeping:
        _kept[key] = (at, owner, bundle)
        while len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    return key


def find(key: str, job: Job, owner: int, at: datetime) -> Bundle | None:
    """Nothing where it is somebody else's, another job's, too old, or was begun before this process."""
    with _keeping:
        for old in [each for each, (since, _, _) in _kept.items() if at - since > KEPT_FOR]:
            del _kept[old]
        _, whose, bundle = _kept.get(key, (at, 0, None))
    return bundle if bundle is not None and whose == owner and bundle.job.pk == job.pk else None
