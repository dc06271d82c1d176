"""The number of late jobs on one machine (Moore 1968, with Hodgson's algorithm), on the planner's floor."""

from __future__ import annotations

import itertools
import random
from datetime import UTC, datetime

import pytest

from jobs.planning import Job, Kind, Nature, Operation, Person, Shop, Station
from tests.planning.runs import laid_out, run_once
from tests.planning.shops import ROUND_THE_CLOCK

NOW = datetime(2026, 3, 2, tzinfo=UTC)
Table = list[tuple[int, int]]


def least_late(table: Table) -> list[int]:
    """Hodgson's algorithm: by due date; whenever one would be late, the longest so far goes to the end."""
    on_time: list[int] = []
    late: list[int] = []
    for i in sorted(range(len(table)), key=lambda i: table[i][1]):
        on_time.append(i)
        if sum(table[j][0] for j in on_time) > table[i][1]:
            longest = max(on_time, key=lambda j: table[j][0])
            on_time.remove(longest)
            late.append(longest)
    return on_time + late


def late_jobs(table: Table, order: list[int]) -> int:
    """How many jobs (hours of work, hours until due) are late when the floor takes them in this order."""
    made = Shop(
        "UTC",
        (Station(1, "machine", 1),),
        (Person(1, "P", {1: 1.0}, ROUND_THE_CLOCK),),
        (Kind(1, "work", Nature.ATTENDED),),
        (),
        tuple(Job(i, f"{i}", None) for i in range(len(table))),
        tuple(Operation(i, i, None, 1, 1, 60 * hours) for i, (hours, _) in enumerate(table)),
    )
    rank = {number: float(k) for k, number in enumerate(order)}
    seen = run_once(laid_out(made, NOW, rank=rank), {i: 60 * hours for i, (hours, _) in enumerate(table)})
    return sum(seen[i][1] > 60 * due for i, (_, due) in enumerate(table))


def test_the_example_of_the_textbook() -> None:
    """Pinedo, "Scheduling", the example of 1 || sum of U (from memory): 3, 4, 5 on time and two jobs late."""
    table = [(7, 9), (8, 17), (4, 18), (6, 19), (6, 21)]
    order = least_late(table)
    assert order[:3] == [2, 3, 4]
    assert late_jobs(table, order) == 2
    assert late_jobs(table, [0, 1, 2, 3, 4]) == 3  # By due date alone.


@pytest.mark.parametrize("seed", range(10))
def test_no_order_has_fewer_late_jobs(seed: int) -> None:
    draw = random.Random(seed)
    table = [(draw.randint(1, 12), draw.randint(4, 30)) for _ in range(5)]
    least = min(late_jobs(table, list(order)) for order in itertools.permutations(range(5)))
    assert late_jobs(table, least_late(table)) == least
