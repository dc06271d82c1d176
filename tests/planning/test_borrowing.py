"""The kernel where numba has changed what borrowing reaches into, and where nothing compiled can be kept: slower, and
the same numbers."""

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
# A process of its own, since numba keeps what it has compiled, and no folder to keep it in, so that it has to compile.
# That takes most of half a minute; so both are shown at once.
SCRIPT = """
import logging, sys
import numpy as np
from jobs.planning import borrowing

logging.basicConfig(level=logging.WARNING)

def changed(context, builder, kind, value):
    raise AttributeError("make_array is not there any more")

borrowing._uncounted = changed
from jobs.planning.futures import KERNEL
from tests.planning.test_borrowing import run

assert type(KERNEL._cache).__name__ == "NullCache"
np.save(sys.argv[1], run())
"""


def run() -> np.ndarray:
    """Starts, finishes and people of some futures of a typical shop, and the load."""
    made, now = typical()
    layout = laid_out(made, now)
    minutes = sample(layout.operations, made.kinds, now=now, seed=1, futures=FUTURES)
    return np.concatenate([part.ravel() for part in simulate(layout.floor, minutes, weeks=layout.weeks)])


def test_without_numbas_internals_and_without_a_folder_the_kernel_finds_the_same(tmp_path: Path) -> None:
    found, nowhere = tmp_path / "found.npy", tmp_path / "file"
    nowhere.write_text("")
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(found)],
        env={**os.environ, "NUMBA_CACHE_DIR": str(nowhere)},
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "make_array is not there any more" in done.stderr
    np.testing.assert_array_equal(np.load(found), run())
