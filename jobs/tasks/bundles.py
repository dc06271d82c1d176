"""All papers of a job in one PDF, made by a worker while somebody waits."""

import logging
import secrets
from collections.abc import Callable
from dataclasses import asdict
from datetime import datetime, timedelta
from uuid import UUID

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction
from django.db.models import F
from django.tasks import task
from django.utils import timezone

from jobs.documents.job_papers import papers_of
from jobs.documents.together import Bundle, Progress, make
from jobs.models import Account, Job, PaperBundle, Studio
from jobs.models.bundles import KEPT_FOR

from .queue import PAPERS, is_open, see_to

logger = logging.getLogger(__name__)

FOLDER = "passing"
# One paper or the binding of some thousand pages takes less; whoever makes it and says nothing for longer hangs.
SILENT = timedelta(minutes=5)


class TakenOver(Exception):
    """Somebody else has begun to make it, who took this process for dead."""


def ask_for(
    job: Job, owner: Account, *, total: int, patterns: bool, address: str, at: datetime
) -> PaperBundle:
    """Have it made; what `owner` has asked for already goes on instead."""
    forget_old(at)
    asked = {"job": job, "owner": owner, "patterns": patterns}
    for row in PaperBundle.objects.filter(**asked, file="", broken=False):
        if not stopped(row, at):
            return row
        PaperBundle.objects.filter(pk=row.pk, file="").update(broken=True)
    try:
        with transaction.atomic():
            row = PaperBundle.objects.create(
                key=secrets.token_hex(16), total=total, address=address, asked_at=at, told_at=at, **asked
            )
            row.task = UUID(make_bundle.enqueue(row.pk).id)
            row.save(update_fields=["task"])
    except IntegrityError:
        # Tapped twice, and another process was quicker.
        return PaperBundle.objects.get(**asked, file="", broken=False)
    see_to(row.task, PAPERS)
    return row


def keep(
    job: Job, owner: Account, data: bytes, progress: Progress, *, total: int, patterns: bool, at: datetime
) -> PaperBundle:
    """A PDF that is made already, so that it is found again."""
    forget_old(at)
    row = PaperBundle(key=secrets.token_hex(16), job=job, owner=owner, patterns=patterns, total=total)
    row.asked_at = row.told_at = at
    row.done, row.pages, row.failed = progress.done, progress.pages, progress.failed
    row.file.save(_random_name(), ContentFile(data), save=False)
    row.save(force_insert=True)
    return row


def find(key: str, job: Job, owner: Account, at: datetime) -> PaperBundle | None:
    """Nothing where it is somebody else's, another job's, or too old. What waits for a worker where there is none is
    begun here."""
    forget_old(at)
    row = PaperBundle.objects.filter(key=key, job=job, owner=owner).first()
    if row is not None and row.task is not None and not (row.bound or row.broken):
        see_to(row.task, PAPERS)
    return row


def stopped(row: PaperBundle, at: datetime) -> bool:
    """Nothing more will come of it."""
    if row.bound or row.broken:
        return row.broken
    begun_and_silent = row.attempt > 0 and at - row.told_at > SILENT
    return row.task is None or begun_and_silent or not is_open(row.task)


def forget_old(at: datetime) -> int:
    """Delete bundles that nobody fetches any more, with their files; gives how many."""
    rows = list(PaperBundle.objects.filter(told_at__lt=at - KEPT_FOR))
    for row in rows:
        if row.file:
            row.file.delete(save=False)
        row.delete()
    return len(rows)


def sweep_passing_files(at: datetime) -> int:
    """Delete files without a row, left where a process was killed half way; gives how many."""
    try:
        found = {f"{FOLDER}/{name}" for name in default_storage.listdir(FOLDER)[1]}
    except FileNotFoundError:
        return 0
    left = [
        name
        for name in found - set(PaperBundle.objects.values_list("file", flat=True))
        if default_storage.get_modified_time(name) < at - KEPT_FOR
    ]
    for name in left:
        default_storage.delete(name)
    return len(left)


@task(queue_name=PAPERS)
def make_bundle(pk: int) -> str:
    """Make it; the name of its file, empty where it is not wanted any more."""
    if not PaperBundle.objects.filter(pk=pk, file="", broken=False).update(attempt=F("attempt") + 1):
        return ""
    row = PaperBundle.objects.select_related("job__customer", "owner").get(pk=pk)
    studio = Studio.current()
    try:
        with timezone.override(studio.zone):
            return _made(row, studio)
    except TakenOver:
        logger.warning("The papers of job %s are made by somebody else now", row.job.number)
        return ""
    except Exception:
        PaperBundle.objects.filter(pk=pk, attempt=row.attempt).update(broken=True)
        raise


def _made(row: PaperBundle, studio: Studio) -> str:
    day = timezone.localdate(row.asked_at)
    bundle = contents(row.job, patterns=row.patterns, studio=studio, at=row.asked_at, address=row.address)
    _tell(row, total=len(bundle.papers), done=0, pages=0, failed=[])
    data, done = make(bundle, Progress(), studio=studio, day=day, tell=lambda now: _tell(row, **asdict(now)))
    name = default_storage.save(f"{FOLDER}/{_random_name()}", ContentFile(data))
    try:
        _tell(row, file=name, **asdict(done))
    except BaseException:
        default_storage.delete(name)
        raise
    return name


def contents(job: Job, *, patterns: bool, studio: Studio, at: datetime, address: str) -> Bundle:
    """Which papers it has; `address` is what a path of ours begins with on paper."""
    begins: Callable[[str], str] = lambda path: f"{address}{path}"  # noqa: E731  # One line says it all.
    return papers_of(job, patterns=patterns, studio=studio, day=timezone.localdate(at), address=begins)


def _tell(row: PaperBundle, **now: object) -> None:
    told = {"told_at": timezone.now(), **now}
    if not PaperBundle.objects.filter(pk=row.pk, attempt=row.attempt, broken=False).update(**told):
        raise TakenOver


def _random_name() -> str:
    return f"{secrets.token_hex(16)}.pdf"
