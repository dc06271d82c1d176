"""Many futures of the floor: the kernel compiled, and run on every processor.

Numba is imported here and in what the kernel is made of only, and this module within the functions that run the floor:
whoever needs no dates does not pay for it. With NUMBA_DISABLE_JIT=1 the same functions run uncompiled.
"""

from __future__ import annotations

import hashlib
import itertools
import os
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numba
import numpy as np
from numba import types

from jobs.planning.arrays import Floor, Run, Small, room_for
from jobs.planning.floor import run_futures

WORTH_A_THREAD = 10_000  # Operations simulated; for fewer it takes longer to begin a thread.
SOURCES = ("arrays.py", "borrowing.py", "floor.py", "footing.py", "futures.py")


def cache_name() -> str:
    """The name of the cache's folder, another one whenever the kernel could be: numba itself only notices a change
    in the file of the one function that it was given."""
    seen = hashlib.sha256(f"{numba.__version__} {np.__version__}".encode())
    for name in SOURCES:
        seen.update((Path(__file__).parent / name).read_bytes())
    return f"kernel-{seen.hexdigest()[:16]}"


@contextmanager
def _cached_in(folder: Path) -> Iterator[None]:
    """Have numba keep what it compiles meanwhile in this folder."""
    before = numba.config.CACHE_DIR  # type: ignore[attr-defined]
    numba.config.CACHE_DIR = str(folder)  # type: ignore[attr-defined]
    try:
        yield
    finally:
        numba.config.CACHE_DIR = before  # type: ignore[attr-defined]


def _compiled() -> Callable[..., None]:
    """The compiled kernel, from a cache where a folder for one can be written, otherwise without."""
    flat, table = types.int64[::1], types.float64[:, ::1]
    fields = tuple(table if name == "pace" else flat for name in Floor._fields)
    signature = types.void(
        types.NamedTuple(fields, Floor),  # type: ignore[no-untyped-call]
        types.NamedUniTuple(flat, len(Run._fields), Run),  # type: ignore[no-untyped-call]
        types.int32[:, ::1],
        types.int32[:, ::1],
        types.int64,
        types.int64,
        types.int32[:, :, ::1],
        types.int32[:, :, ::1],
    )
    options: dict[str, Any] = {"nogil": True, "error_model": "numpy"}
    given = numba.config.CACHE_DIR  # type: ignore[attr-defined]
    own = Path.home() / ".cache" / "numba" if "HOME" in os.environ else Path(__file__).parent / "__pycache__"
    for place in (Path(given),) if given else (Path(__file__).parent / "__pycache__", own):
        try:
            # Numba would look for another folder of its own, one without the name.
            (place / cache_name()).mkdir(parents=True, exist_ok=True)
            tempfile.TemporaryFile(dir=place / cache_name()).close()
            with _cached_in(place / cache_name()):
                return numba.njit(signature, cache=True, **options)(run_futures)
        except (RuntimeError, OSError):
            continue
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
    opens: Small | None = None,
    threads: int | None = None,
    kernel: Callable[..., None] = KERNEL,
) -> tuple[Small, Small, Small, Small]:
    """Run one future for each row of `minutes` (futures x operations).

    `opens` (futures x columns of floor.gated): when what waits for gates is released; without it, as in the middle.
    Returns start and finish (futures x operations, NEVER where it did not come to that), the people (futures x places;
    an operation's crew stands at crew_at) and the minutes worked (futures x stations x weeks). What the result is does
    not depend on the number of threads.
    """
    futures, operations = minutes.shape
    places = max(int(floor.crew_at[-1]), operations)
    out = np.empty((futures, 3, max(places, 1)), np.int32)
    load = np.zeros((futures, max(len(floor.benches), 1), max(weeks, 1)), np.int32)
    threads = max(1, min(threads or _processors(), futures, futures * operations // WORTH_A_THREAD))
    minutes = np.ascontiguousarray(minutes, np.int32)
    opens = np.empty((futures, 0), np.int32) if opens is None else np.ascontiguousarray(opens, np.int32)
    bounds = [futures * k // threads for k in range(threads + 1)]
    if threads == 1:
        kernel(floor, room_for(floor), minutes, opens, 0, futures, out, load)
    else:
        with ThreadPoolExecutor(threads) as pool:
            jobs = [
                pool.submit(kernel, floor, room_for(floor), minutes, opens, first, last, out, load)
                for first, last in itertools.pairwise(bounds)
            ]
            for job in jobs:
                job.result()
    return out[:, 0, :operations], out[:, 1, :operations], out[:, 2, :], load
