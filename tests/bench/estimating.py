"""A pattern of 2,000 pieces, measured: seconds of processor time, the drawing being read already."""

import time
from collections.abc import Callable

from jobs.estimating.pattern import Pattern, measure, redrawn
from tests.bench.limits import at_most
from tests.estimating.drawings import H6, grid, lines, wavy


def _seconds(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun


def run() -> list[tuple[str, str]]:
    """Measures squares and pieces with four curved sides; the libraries are loaded beforehand."""
    measure(lines(grid(2, 2, 20)), came=H6)
    found = []
    for name, body in (("squares", grid(40, 50, 20)), ("curved pieces", wavy(40, 50, 20))):
        drawn = lines(body)
        best = min(_seconds(lambda drawn=drawn: measure(drawn, came=H6)) for _ in range(3))  # type: ignore[misc]
        found.append((f"2,000 {name} measured ({drawn.segments} segments)", at_most(best, 1.0, " s")))
        pattern: Pattern = measure(drawn, came=H6)
        found.append((f"2,000 {name} redrawn", f"{_seconds(lambda pattern=pattern: redrawn(pattern)):.2f} s"))  # type: ignore[misc]
    return found
