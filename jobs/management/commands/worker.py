"""`manage.py worker`: keep the dates fresh, the outbox empty and whoever waits for many papers waiting no longer than
they take, until told to stop. There may be several, on one machine or many."""

import logging
import signal
import threading
from argparse import ArgumentParser
from datetime import datetime, timedelta
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections
from django.utils import timezone

from jobs.actions.leases import Held, clear_away
from jobs.actions.mail_drafts import notice_done
from jobs.actions.outbox import deliver_due
from jobs.actions.photos import sweep_photo_files
from jobs.actions.taps import forget_taps
from jobs.actions.throttle import forget_asked
from jobs.tasks import queue
from jobs.tasks.bundles import forget_old, sweep_passing_files
from jobs.tasks.dates import ask_if_due

logger = logging.getLogger(__name__)

PAUSE = 2.0
# After trouble the pause doubles up to this, so that a database that is down is not asked all the time.
LONGEST_PAUSE = 60.0
SWEEPS = timedelta(hours=1)


class Command(BaseCommand):
    help = (
        "Make the dates anew within seconds of a change, and every hour, send mail, and make what takes long for "
        "whoever waits for it. Ends on SIGTERM or Ctrl-C; several may run."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="look once and end")
        parser.add_argument("--pause", type=float, default=PAUSE, metavar="SECONDS", help="between two looks")

    def handle(self, *args: Any, **options: Any) -> None:
        stop = threading.Event()
        if threading.current_thread() is threading.main_thread():
            for number in (signal.SIGTERM, signal.SIGINT):
                signal.signal(number, lambda *_: stop.set())
        if options["once"]:
            with queue.alive() as life:
                look(life.name, queue.DATES, queue.PAPERS)
                sweep(timezone.now())
            return
        while not stop.is_set():
            try:
                with queue.alive() as life:
                    _work(stop, life, options["pause"])
            except Exception:
                # The database is away, or was for so long that this worker was taken for dead.
                logger.exception("This worker begins anew")
                close_old_connections()
                stop.wait(options["pause"])


def _work(stop: threading.Event, life: Held, least: float) -> None:
    """Until told to stop, or taken for dead."""

    def ended() -> bool:
        return stop.is_set() or life.lost.is_set()

    # Papers take minutes, in which dates would become old and mail lie.
    papers = (ended, life.name, queue.PAPERS, lambda: stop.wait(least))
    threading.Thread(target=queue.work_until, args=papers, name="papers", daemon=True).start()
    pause, swept = least, None
    while not ended():
        fine = look(life.name, queue.DATES)
        if fine and (swept is None or timezone.now() - swept > SWEEPS):
            swept = timezone.now()
            sweep(swept)
        pause = least if fine else min(pause * 2, LONGEST_PAUSE)
        # A connection that broke or has become old is not used for the next look.
        close_old_connections()
        stop.wait(pause)


def look(name: str, *queues: str) -> bool:
    """Do what waits in the queues, dates that are due among it, and send what is to be sent. False: there was trouble,
    which is in the log; mail goes out all the same."""
    done = True
    try:
        queue.take_up_from_the_dead()
        ask_if_due(timezone.now())
        while (row := queue.take(name, *queues)) is not None:
            # Of any kind: the next change may be one that can be planned.
            done = queue.carry_out(row) and done
    except Exception:
        logger.exception("The tasks could not be read; all of them stay where they are")
        done = False
    return send_out() and done


def sweep(at: datetime) -> None:
    """Delete what is of no use any more."""
    forget_taps(at)
    forget_asked(at=at)
    forget_old(at)
    queue.forget_ended(at)
    clear_away()
    sweep_photo_files(at)
    sweep_passing_files(at)


def send_out() -> bool:
    """Draft what has become due to be told, and work the outbox. False: there was trouble, which is in the log."""
    try:
        at = timezone.now()
        notice_done(at=at)
        deliver_due(at=at)
    except Exception:
        logger.exception("The outbox could not be read; all of it stays where it is")
        return False
    return True
