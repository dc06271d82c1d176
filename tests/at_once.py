"""Calls that happen at once, each on a connection of its own, as requests of several processes do."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from django.db import connection

from jobs.actions import Refused


def in_threads(*calls: Callable[[], Any]) -> list[Any]:
    """Each call in a thread of its own, all at once; gives their results or refusals, in the order of the calls.

    For tests with `transactional_db`: other connections see only what is committed.
    """
    together = threading.Barrier(len(calls))

    def run(call: Callable[[], Any]) -> Any:
        together.wait()
        try:
            return call()
        except Refused as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return [done.result() for done in [pool.submit(run, call) for call in calls]]
