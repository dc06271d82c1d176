"""How a figure is measured, and shown beside the limit it has to keep."""

import time
from collections.abc import Callable, Sequence
from typing import NamedTuple


class Spent(NamedTuple):
    """Seconds by the clock, and of all processors together."""

    wall: float
    worked: float


def spent(act: Callable[[], object], rounds: int = 1) -> Spent:
    """The least of a few rounds, each of the two by itself."""
    found = []
    for _ in range(rounds):
        wall, worked = time.perf_counter(), time.process_time()
        act()
        found.append(Spent(time.perf_counter() - wall, time.process_time() - worked))
    return Spent(min(each.wall for each in found), min(each.worked for each in found))


def at_most(value: float, limit: float, unit: str = "") -> str:
    word = "kept" if value <= limit else "BROKEN"
    return f"{value:.2f}{unit} (at most {limit:g}{unit}: {word})"


def wanted(value: float, aim: float, limit: float) -> str:
    """A figure that does not reach what is wanted: both are said, and it may not become worse than `limit`."""
    if value <= aim:
        return at_most(value, aim)
    return (
        f"{value:.2f} (wanted {aim:g}, not had; at most {limit:g}: {'kept' if value <= limit else 'BROKEN'})"
    )


def in_time(seconds: Sequence[float], limit: float) -> str:
    """`seconds`: as Spent. Where a machine is busy with other things the clock says more about them than about us, so
    that the limit is kept too if all processors together worked no longer: nothing else then takes part of them away,
    and on two of them it would not have taken longer by the clock."""
    wall, worked = seconds
    return f"{at_most(min(wall, worked), limit, ' s')}; clock {wall:.2f} s, processors {worked:.2f} s"


def at_least(value: float, limit: float, unit: str = "") -> str:
    word = "kept" if value >= limit else "BROKEN"
    return f"{value:.2f}{unit} (at least {limit:g}{unit}: {word})"
