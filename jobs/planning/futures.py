"""Many futures of the floor: the kernel compiled, and run on every processor.

Numba is imported here and in floor.py only, so that whoever needs no dates does not pay for it. With
NUMBA_DISABLE_JIT=1 the same functions run uncompiled.
"""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numba
import numpy as np
from numba import types

from jobs.planning.arrays import Floor, Run, Small, room_for
from jobs.planning.floor import run_futures


def _compiled() -> Callable[..., None]:
    """The compiled kernel, from numba's cache where a folder for one can be written, otherwise without a cache."""
    flat, table = types.int64[::1], types.float64[:, ::1]
    fields = tuple(table if name == "pace" else flat for name in Floor._fields)
    signature = types.void(
        types.NamedTuple(fields, Floor),  # type: ignore[no-untyped-call]
        types.NamedUniTuple(flat, len(Run._fields), Run),  # type: ignore[no-untyped-call]
        types.int32[:, ::1],
        types.int64,
        types.int64,
        types.int32[:, :, ::1],
        types.int32[:, :, ::1],
    )
    options: dict[str, Any] = {"nogil": True, "error_model": "numpy"}
    try:
        return numba.njit(signature, cache=True, **options)(run_futures)
    except (RuntimeError, OSError):
        return numba.njit(signature, **options)(run_futures)


KERNEL = _compiled()


def _processors() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # Not every system can say which processors are ours.
        return os.cpu_count() or 1


def simulate(
    floor: Floor,
    minutes: Small,
    *,
    weeks: int,
    threads: int | None = None,
    kernel: Callable[..., None] = KERNEL,
) -> tuple[Small, Small, Small, Small]:
    """Run one future for each row of `minutes` (futures x operations).

    Returns start and finish (futures x operations, NEVER where it did not come to that), the people (futures x places;
    an operation's crew stands at crew_at) and the minutes worked (futures x stations x weeks). What the result is does
    not depend on the number of threads.
    """
    futures, operations = minutes.shape
    places = max(int(floor.crew_at[-1]), operations)
    out = np.empty((futures, 3, max(places, 1)), np.int32)
    load = np.zeros((futures, max(len(floor.benches), 1), max(weeks, 1)), np.int32)
    threads = max(1, min(threads or _processors(), futures))
    minutes = np.ascontiguousarray(minutes, np.int32)
    bounds = [futures * k // threads for k in range(threads + 1)]
    if threads == 1:
        kernel(floor, room_for(floor), minutes, 0, futures, out, load)
    else:
        with ThreadPoolExecutor(threads) as pool:
            jobs = [
                pool.submit(kernel, floor, room_for(floor), minutes, first, last, out, load)
                for first, last in itertools.pairwise(bounds)
            ]
            for job in jobs:
                job.result()
    return out[:, 0, :operations], out[:, 1, :operations], out[:, 2, :], load
