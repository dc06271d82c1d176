"""The kernel where numba has changed what borrowing reaches into: slower, and the same numbers."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np

from jobs.planning.durations import sample
from jobs.planning.futures import simulate
from tests.planning.runs import laid_out
from tests.planning.shops import typical

FUTURES = 20
# A process of its own, since numba keeps what it has compiled; a cache of its own, so that it has to compile.
SCRIPT = """
import logging, sys
import numpy as np
from jobs.planning import borrowing

logging.basicConfig(level=logging.WARNING)

def changed(context, builder, kind, value):
    raise AttributeError("make_array is not there any more")

borrowing._uncounted = changed
from tests.planning.test_borrowing import run

np.save(sys.argv[1], run())
"""


def run() -> np.ndarray:
    """Starts, finishes and people of some futures of a typical shop, and the load."""
    made, now = typical()
    layout = laid_out(made, now)
    minutes = sample(layout.operations, made.kinds, now=now, seed=1, futures=FUTURES)
    return np.concatenate([part.ravel() for part in simulate(layout.floor, minutes, weeks=layout.weeks)])


def test_without_numbas_internals_the_kernel_counts_and_finds_the_same(tmp_path: Path) -> None:
    found = tmp_path / "found.npy"
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(found)],
        env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path / "cache")},
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "make_array is not there any more" in done.stderr
    np.testing.assert_array_equal(np.load(found), run())
