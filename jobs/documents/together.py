"""All papers that go with the work of a job in one PDF, with a list of them in front and an outline.

Many papers take a minute or more. They are made beside the requests, and how far they are is told in a small file next
to where the PDF will lie, so that every process of the server can answer whoever waits.
"""

import json
import logging
from collections.abc import Callable, Sequence
from contextvars import copy_context
from dataclasses import asdict, dataclass, field, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from threading import Thread
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.db import connections
from django.utils import timezone

from jobs.models import Job, Studio

from .binding import Binding
from .render import lay_out

logger = logging.getLogger(__name__)

KEPT_FOR = timedelta(hours=1)
# One paper or the binding of some thousand pages takes less; whatever is silent for longer has gone with its process.
SILENT = timedelta(minutes=5)


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
    """How far a bundle is: papers done of all, pages so far, names of those that could not be made, and whether the
    PDF is there. `owner`: the id of the account it is for; `told_at`: seconds since 1970, when this was so."""

    job: int
    owner: int
    total: int
    patterns: bool
    done: int = 0
    pages: int = 0
    failed: list[str] = field(default_factory=list)
    bound: bool = False
    broken: bool = False
    told_at: float = 0.0

    @property
    def binding(self) -> bool:
        return self.done == self.total and not self.bound

    def stopped(self, at: datetime) -> bool:
        """Nothing more will come of it."""
        return self.broken or (not self.bound and at.timestamp() - self.told_at > SILENT.total_seconds())


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


def begin(bundle: Bundle, *, owner: int, patterns: bool, studio: Studio, day: date, at: datetime) -> str:
    """Begin to make it, and give the name by which `owner` finds it; what they have begun already goes on instead."""
    _forget(at)
    progress = Progress(bundle.job.pk, owner, len(bundle.papers), patterns, told_at=at.timestamp())
    for key, other in _all():
        same = (other.job, other.owner, other.patterns) == (progress.job, owner, patterns)
        if same and not other.bound and not other.stopped(at):
            return key
    key = uuid4().hex
    _tell(key, progress)
    context = copy_context()
    start(lambda: context.run(_make, key, bundle, progress, studio, day))
    return key


def keep(data: bytes, progress: Progress, at: datetime) -> str:
    """Under which name a PDF that is made already is found again."""
    _forget(at)
    key = uuid4().hex
    _bind(key, data, progress)
    return key


def find(key: str, job: Job, owner: int, at: datetime) -> Progress | None:
    """Nothing where it is somebody else's, another job's, or too old."""
    _forget(at)
    progress = dict(_all()).get(key)
    return progress if progress is not None and (progress.job, progress.owner) == (job.pk, owner) else None


def bound(key: str) -> bytes:
    """The PDF of one that `find` says is bound."""
    return _pdf(key).read_bytes()


def start(work: Callable[[], None]) -> None:
    """Do it beside the request, on a connection of its own."""

    def apart() -> None:
        try:
            work()
        finally:
            connections.close_all()

    Thread(target=apart, name="papers", daemon=True).start()


def _make(key: str, bundle: Bundle, progress: Progress, studio: Studio, day: date) -> None:
    last = progress

    def tell(now: Progress) -> None:
        nonlocal last
        last = now
        _tell(key, now)

    try:
        data, done = make(bundle, progress, studio=studio, day=day, tell=tell)
        _bind(key, data, done)
    except Exception:
        logger.exception("The papers of job %s could not be bound", bundle.job.number)
        _tell(key, replace(last, broken=True))


def _bind(key: str, data: bytes, progress: Progress) -> None:
    path = _pdf(key)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    path.write_bytes(data)
    path.chmod(0o600)
    _tell(key, replace(progress, bound=True))


def _folder() -> Path:
    return Path(settings.MEDIA_ROOT) / "passing"


def _pdf(key: str) -> Path:
    return _folder() / f"{key}.pdf"


def _tell(key: str, progress: Progress) -> None:
    """Written beside and moved, so that nobody reads half of it."""
    told = replace(progress, told_at=max(progress.told_at, timezone.now().timestamp()))
    path = _folder() / f"{key}.json"
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    fresh = path.with_suffix(".new")
    fresh.write_text(json.dumps(asdict(told)))
    fresh.chmod(0o600)
    fresh.replace(path)


def _all() -> list[tuple[str, Progress]]:
    found = []
    for path in _folder().glob("*.json"):
        try:
            found.append((path.stem, Progress(**json.loads(path.read_text()))))
        except (FileNotFoundError, TypeError, ValueError):
            # Forgotten by another process in this instant, or of another version.
            continue
    return found


def _forget(at: datetime) -> None:
    for path in _folder().glob("*"):
        try:
            if at.timestamp() - path.stat().st_mtime > KEPT_FOR.total_seconds():
                path.unlink()
        except FileNotFoundError:
            continue
