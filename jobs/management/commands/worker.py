"""`manage.py worker`: keep the dates fresh and the outbox empty until told to stop."""

import logging
import signal
import threading
from argparse import ArgumentParser
from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections
from django.utils import timezone

from jobs.actions.mail_drafts import notice_done
from jobs.actions.outbox import deliver_due
from jobs.actions.photos import sweep_photo_files
from jobs.actions.plan import is_aged, replan
from jobs.actions.taps import forget_taps
from jobs.actions.throttle import forget_asked
from jobs.models import PlanState

logger = logging.getLogger(__name__)

PAUSE = 2.0
# After trouble the pause doubles up to this, so that a database that is down is not asked all the time.
LONGEST_PAUSE = 60.0
SWEEPS = timedelta(hours=1)


class Command(BaseCommand):
    help = "Make the dates anew within seconds of a change, and every hour. Ends on SIGTERM or Ctrl-C."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="look once and end")
        parser.add_argument("--pause", type=float, default=PAUSE, metavar="SECONDS", help="between two looks")

    def handle(self, *args: Any, **options: Any) -> None:
        stop = threading.Event()
        if threading.current_thread() is threading.main_thread():
            for number in (signal.SIGTERM, signal.SIGINT):
                signal.signal(number, lambda *_: stop.set())
        pause = options["pause"]
        swept = None
        while not stop.is_set():
            fine = look()
            if fine and (swept is None or timezone.now() - swept > SWEEPS):
                swept = timezone.now()
                forget_taps(swept)
                sweep_photo_files(swept)
                forget_asked(at=swept)
            if options["once"]:
                return
            pause = options["pause"] if fine else min(pause * 2, LONGEST_PAUSE)
            # A connection that broke or has become old is not used for the next look.
            close_old_connections()
            stop.wait(pause)


def look() -> bool:
    """Make the dates anew if they are out of date or have aged, and send what is to be sent. False: there was
    trouble, which is in the log; mail goes out all the same."""
    planned = True
    try:
        at = timezone.now()
        state = PlanState.current()
        if state.out_of_date or is_aged(state, at):
            replan(at=at, force=True)
    except Exception:
        # Of any kind: the next change may be one that can be planned.
        logger.exception("The dates could not be made anew; they stay as they are")
        planned = False
    return send_out() and planned


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
