"""Holding what only one process may hold, for as long as this one lives.

A lease runs out LEASE_SECONDS (settings) after it was last renewed, and is renewed from a thread of its own: a process
that is killed loses what it held after that time, and whoever waits for it goes on. A process that only slept so long
finds that it holds nothing any more (`Held.still`), and must then keep nothing of what it did.
"""

import logging
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from django.conf import settings
from django.db import connection

from jobs.models import Lease

logger = logging.getLogger(__name__)

DATES = "dates"
WORKER = "worker"
_BEATS = 4
_LOOKS_EVERY = 0.1


@dataclass(frozen=True, slots=True)
class Held:
    """`lost` is set once it is found that somebody else has it, or cleared it away."""

    name: str
    holder: str
    lost: threading.Event = field(default_factory=threading.Event)

    def still(self) -> bool:
        """Whether it is held still; asked in a transaction, nobody takes it over before that ends."""
        rows = Lease.objects.select_for_update().filter(name=self.name, holder=self.holder)
        return rows.first() is not None


@contextmanager
def hold(name: str, *, wait: float = 0) -> Iterator[Held | None]:
    """Hold `name` meanwhile; None where somebody else holds it, and did so for `wait` seconds more."""
    held = _take(name, wait)
    if held is None:
        yield None
        return
    ended = threading.Event()
    beat = threading.Thread(target=_beat, args=(held, ended), name=f"holding {name}", daemon=True)
    beat.start()
    try:
        yield held
    finally:
        ended.set()
        beat.join()
        Lease.objects.end(held.name, held.holder)


def workers_live() -> bool:
    """Whether a worker of any machine has shown a sign of life."""
    return Lease.objects.living().filter(name__startswith=f"{WORKER}-").exists()


def clear_away() -> int:
    """Delete what ran out and nobody took over; gives how much."""
    return Lease.objects.exclude(pk__in=Lease.objects.living()).delete()[0]


def _take(name: str, wait: float) -> Held | None:
    until = time.monotonic() + wait
    while (holder := Lease.objects.take(name, settings.LEASE_SECONDS)) is None:
        if time.monotonic() >= until:
            return None
        time.sleep(_LOOKS_EVERY)
    return Held(name, holder)


def _beat(held: Held, ended: threading.Event) -> None:
    """On a connection of its own, which is opened only for work that takes long."""
    try:
        while not ended.wait(settings.LEASE_SECONDS / _BEATS):
            try:
                if not Lease.objects.renew(held.name, held.holder, settings.LEASE_SECONDS):
                    logger.warning("%s was lost: this process was away for too long", held.name)
                    held.lost.set()
                    return
            except Exception:
                # The database may be back before the lease runs out.
                logger.exception("%s could not be renewed", held.name)
                connection.close()
    finally:
        connection.close()
