"""Who takes a task, who takes it up again, and what a task comes to.

A task is taken under a lock on its row by one process, which holds a lease of its own name as long as it lives
(jobs.actions.leases). What belongs to a process without one is taken up again by whoever looks next: once, since that
too is done under the lock. A process that slept so long that others took it for dead may go on and end its task, but
what it says of it then is not written down.
"""

import logging
import os
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from django.db import close_old_connections, connections, transaction
from django.db.models import QuerySet
from django.tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from jobs.actions.leases import WORKER, Held, hold, workers_live
from jobs.models import Lease

logger = logging.getLogger(__name__)

type Row = DBTaskResult[..., Any]

DATES, PAPERS = "dates", "papers"
# A task whose processes ended so often most likely ends them. Machines are also switched off and killed by others, and
# a long task may meet with that more than once.
MOST_ATTEMPTS = 6
KEPT_FOR = timedelta(days=2)
ASIDE = "aside"


class EndsItsProcess(Exception):
    """What such a task is said to have failed with."""


@contextmanager
def alive(kind: str = WORKER) -> Iterator[Held]:
    """Live as somebody who takes tasks, under the name that is given: others see that it lives. Whatever is in hand at
    the end is given back."""
    name = f"{kind}-{socket.gethostname()[:30]}-{os.getpid()}-{uuid4().hex[:8]}"
    with hold(name) as life:
        assert life is not None, "Nobody else has this name."
        try:
            yield life
        finally:
            give_back(name)


def take(name: str, *queues: str, task: UUID | None = None) -> Row | None:
    """The next task of these queues (or only `task`), now in the hands of `name`; None where nothing waits."""
    waiting = DBTaskResult.objects.ready().filter(queue_name__in=queues)
    waiting = waiting.filter(pk=task) if task else waiting
    # Looked at first without a lock: most looks find nothing, and SQLite has one lock for all.
    if not waiting.exists():
        return None
    with transaction.atomic():
        row = waiting.get_locked()
        if row is not None:
            row.claim(name)
    return row


def carry_out(row: Row) -> bool:
    """Do what was taken, and write down what came of it. False: it failed, and why is in the log and in the row."""
    try:
        value = row.task.call(*row.args_kwargs["args"], **row.args_kwargs["kwargs"])
    except Exception as error:
        logger.exception("%s failed", row.task_name)
        failed = error
        _settle(row, lambda mine: mine.set_failed(failed))
        return False
    _settle(row, lambda mine: mine.set_successful(value))
    return True


def _settle(row: Row, write: Callable[[Row], None]) -> None:
    with transaction.atomic():
        mine = DBTaskResult.objects.select_for_update().filter(pk=row.pk).first()
        if mine is None or not _is_in_hand(mine, row.worker_ids):
            logger.warning("%s was taken up by somebody else meanwhile", row.task_name)
            return
        write(mine)


def _is_in_hand(row: Row, worker_ids: list[str]) -> bool:
    return bool(row.status == TaskResultStatus.RUNNING and row.worker_ids == worker_ids)


def take_up_from_the_dead() -> int:
    """Have what dead processes had in hand wait for somebody else; gives how many tasks those were."""
    if not _of_the_dead(DBTaskResult.objects.running()):
        return 0
    with transaction.atomic():
        # Tasks first, then who lives: whoever has one of these was alive before it took it.
        left = _of_the_dead(DBTaskResult.objects.running().select_for_update(skip_locked=True))
        for row in left:
            logger.warning("%s was left by %s, which is dead", row.task_name, row.worker_ids[-1])
            if len(row.worker_ids) >= MOST_ATTEMPTS:
                row.set_failed(EndsItsProcess(f"It ended {len(row.worker_ids)} processes."))
            else:
                row.status = TaskResultStatus.READY
                row.save(update_fields=["status"])
    return len(left)


def _of_the_dead(running: QuerySet[Row]) -> list[Row]:
    rows = list(running)
    names = {row.worker_ids[-1] for row in rows}
    living = set(Lease.objects.living().filter(name__in=names).values_list("name", flat=True))
    return [row for row in rows if row.worker_ids[-1] not in living]


def give_back(name: str) -> None:
    """What `name` has in hand waits again, as if it had not been begun: it ended in good order."""
    with transaction.atomic():
        for row in DBTaskResult.objects.running().select_for_update():
            if row.worker_ids[-1] == name:
                row.status, row.worker_ids = TaskResultStatus.READY, row.worker_ids[:-1]
                row.save(update_fields=["status", "worker_ids"])


def is_open(task: UUID) -> bool:
    """Whether something may come of it still."""
    return DBTaskResult.objects.filter(pk=task).exclude(status__in=_ENDED).exists()


_ENDED = [TaskResultStatus.SUCCESSFUL, TaskResultStatus.FAILED]


def see_to(task: UUID, queue: str) -> None:
    """Where no worker lives, have a thread of this process do what somebody waits for. Asked again each time that
    somebody looks how far it is, so that it goes on also where this process or a worker ended on the way."""
    if workers_live():
        return
    take_up_from_the_dead()
    if DBTaskResult.objects.ready().filter(pk=task).exists():
        start(lambda: _do_aside(task, queue))


def _do_aside(task: UUID, queue: str) -> None:
    with alive(ASIDE) as life:
        row = take(life.name, queue, task=task)
        if row is not None:
            carry_out(row)


def start(work: Callable[[], None]) -> None:
    """Do it beside the request, on a connection of its own."""

    def apart() -> None:
        try:
            work()
        finally:
            connections.close_all()

    threading.Thread(target=apart, name="aside", daemon=True).start()


def work_until(ended: Callable[[], bool], name: str, queue: str, pause: Callable[[], object]) -> None:
    """Do what comes into the queue; for a thread of a worker. Trouble is in the log, and ends nothing."""
    try:
        while not ended():
            row = None
            try:
                row = take(name, queue)
                if row is not None:
                    carry_out(row)
            except Exception:
                logger.exception("The queue of %s could not be worked", queue)
            close_old_connections()
            if row is None:
                pause()
    finally:
        connections.close_all()


def forget_ended(at: datetime) -> int:
    """Delete what has ended long ago; gives how many."""
    return DBTaskResult.objects.filter(status__in=_ENDED, finished_at__lt=at - KEPT_FOR).delete()[0]
