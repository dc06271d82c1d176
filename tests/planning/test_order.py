"""Order rules and list scheduling, through the planner's own floor, against what has been proved of them."""

from __future__ import annotations

import itertools
import random
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from jobs.planning import Job, Kind, Nature, Operation, Person, Shop, Station
from jobs.planning.futures import simulate
from jobs.planning.order import Ahead, apparent_tardiness, earliest_due, least_slack, weighted_shortest
from tests.planning.runs import laid_out, run_once
from tests.planning.shops import ROUND_THE_CLOCK

NOW = datetime(2026, 3, 2, tzinfo=UTC)


def always_open(
    operations: list[Operation],
    jobs: list[Job],
    benches: tuple[int, ...] = (1,),
    kinds: tuple[Kind, ...] = (),
) -> Shop:
    """Stations 1, 2, ... with so many benches and as many people, round the clock."""
    people, stations = [], []
    for number, count in enumerate(benches, 1):
        stations.append(Station(number, f"station {number}", count))
        people += [
            Person(10 * number + k, f"P{number}{k}", {number: 1.0}, ROUND_THE_CLOCK) for k in range(count)
        ]
    kinds = kinds or (Kind(1, "work", Nature.ATTENDED),)
    return Shop("UTC", tuple(stations), tuple(people), kinds, (), tuple(jobs), tuple(operations))


def finishes(
    shop: Shop, minutes: dict[int, int] | None = None, rank: dict[int, float] | None = None
) -> dict[int, int]:
    minutes = minutes or {o.id: o.minutes for o in shop.operations}
    return {i: seen[1] for i, seen in run_once(laid_out(shop, NOW, rank=rank), minutes).items()}


@pytest.mark.parametrize("seed", range(15))
def test_the_default_order_has_the_least_largest_lateness_on_one_bench(seed: int) -> None:
    """Jackson 1955: earliest due date first minimizes the largest lateness; checked against every permutation."""
    draw = random.Random(seed)
    work = [draw.randint(100, 4000) for _ in range(5)]
    due = [draw.randint(1, 9) for _ in range(5)]
    jobs = [Job(j, f"{j}", NOW.date() + timedelta(days=due[j])) for j in range(5)]
    shop = always_open([Operation(j, j, None, 1, 1, work[j]) for j in range(5)], jobs)
    ours = max(end - due[j] * 1440 for j, end in finishes(shop).items())
    assert ours == min(
        max(sum(work[i] for i in order[: k + 1]) - due[j] * 1440 for k, j in enumerate(order))
        for order in itertools.permutations(range(5))
    )


def test_weighted_shortest_first_on_one_bench() -> None:
    """Smith 1956, with (p, w) = (3,1), (1,2), (2,4), (5,3): the order 2, 3, 4, 1 and 49 for the sum of w C."""
    table = {1: (3, 1), 2: (1, 2), 3: (2, 4), 4: (5, 3)}
    order = weighted_shortest(Ahead(j, p, None, w) for j, (p, w) in table.items())
    assert order == [2, 3, 4, 1]
    shop = always_open(
        [Operation(j, j, None, 1, 1, p) for j, (p, _) in table.items()], [Job(j, f"{j}", None) for j in table]
    )
    ends = finishes(shop, rank={j: k for k, j in enumerate(order)})
    assert sum(table[j][1] * end for j, end in ends.items()) == 49


@pytest.mark.parametrize("seed", range(15))
def test_weighted_shortest_first_is_the_best_of_all_permutations(seed: int) -> None:
    """Smith 1956; equal weights make it shortest first."""
    draw = random.Random(seed)
    p = [draw.randint(1, 300) for _ in range(5)]
    w = [draw.randint(1, 5) if seed % 2 else 1 for _ in range(5)]
    order = weighted_shortest(Ahead(j, p[j], None, w[j]) for j in range(5))
    shop = always_open(
        [Operation(j, j, None, 1, 1, p[j]) for j in range(5)], [Job(j, f"{j}", None) for j in range(5)]
    )
    ends = finishes(shop, rank={j: k for k, j in enumerate(order)})
    assert sum(w[j] * end for j, end in ends.items()) == min(
        sum(w[j] * sum(p[i] for i in row[: k + 1]) for k, j in enumerate(row))
        for row in itertools.permutations(range(5))
    )


def test_the_rules_that_look_at_promises() -> None:
    """Worked out by hand from the definitions."""
    rows = [Ahead(1, 100, 1000), Ahead(2, 900, 1100), Ahead(3, 10, None), Ahead(4, 100, 1000, 2.0)]
    assert earliest_due(rows) == [4, 1, 2, 3]
    assert least_slack(rows) == [2, 4, 1, 3]
    # So short-sighted that only what is late or nearly late counts: job 2 has the least to spare.
    assert apparent_tardiness(rows, k=0.1)[0] == 2
    # So far-sighted that it becomes weighted shortest first, whatever the promise.
    assert apparent_tardiness(rows, k=1e6) == [4, 1, 2, 3]
    assert apparent_tardiness([], k=1) == []
    with pytest.raises(ValueError, match="above zero"):
        apparent_tardiness(rows, k=0)


GRAHAM_TIMES = (3, 2, 2, 2, 4, 4, 4, 4, 9)
GRAHAM_AFTER = {9: (1,), 5: (4,), 6: (4,), 7: (4,), 8: (4,)}


@pytest.mark.parametrize(
    ("benches", "order", "times", "after", "makespan"),
    [
        (3, range(1, 10), GRAHAM_TIMES, GRAHAM_AFTER, 12),
        (3, (1, 2, 4, 5, 6, 3, 9, 7, 8), GRAHAM_TIMES, GRAHAM_AFTER, 14),
        (4, range(1, 10), GRAHAM_TIMES, GRAHAM_AFTER, 15),
        (3, range(1, 10), tuple(t - 1 for t in GRAHAM_TIMES), GRAHAM_AFTER, 13),
        (3, range(1, 10), GRAHAM_TIMES, {9: (1,), 7: (4,), 8: (4,)}, 16),
    ],
    ids=["base", "another list", "a bench more", "shorter work", "less to wait for"],
)
def test_the_five_makespans_of_graham(
    benches: int, order: list[int], times: tuple[int, ...], after: dict[int, tuple[int, ...]], makespan: int
) -> None:
    """Graham 1969, "Bounds on multiprocessing timing anomalies": every improvement makes it later."""
    places = {number: k for k, number in enumerate(order)}
    rows = [
        Operation(n, 1, None, 1, 1, t, after=after.get(n, ()), place=places[n])
        for n, t in enumerate(times, 1)
    ]
    assert max(finishes(always_open(rows, [Job(1, "1", None)], (benches,))).values()) == makespan


def johnson(table: list[tuple[int, int]]) -> list[int]:
    """Johnson 1954: what is quicker at the first station goes first, by that time; the rest last, by the second."""
    early = sorted((i for i, (a, b) in enumerate(table) if a < b), key=lambda i: table[i][0])
    late = sorted((i for i, (a, b) in enumerate(table) if a >= b), key=lambda i: -table[i][1])
    return early + late


def flow(table: list[tuple[int, int]], order: list[int]) -> int:
    """The makespan of a flow through two stations, on the planner's floor."""
    rows = []
    for i, (a, b) in enumerate(table):
        rows.append(Operation(2 * i, i, None, 1, 1, a))
        rows.append(Operation(2 * i + 1, i, None, 1, 2, b, after=(2 * i,)))
    shop = always_open(rows, [Job(i, f"{i}", None) for i in range(len(table))], (1, 1))
    return max(finishes(shop, rank={j: k for k, j in enumerate(order)}).values())


def test_the_flow_shop_of_johnson() -> None:
    """Johnson 1954, the example in the paper: 47."""
    table = [(4, 5), (4, 1), (30, 4), (6, 30), (2, 3)]
    assert johnson(table) == [4, 0, 3, 2, 1]
    assert flow(table, johnson(table)) == 47


def test_two_hundred_flow_shops_against_every_permutation() -> None:
    """Johnson 1954 proves his order the best; the best permutation is found here by trying them all."""
    draw = random.Random(1954)
    for _ in range(200):
        table = [(draw.randint(1, 99), draw.randint(1, 99)) for _ in range(draw.randint(2, 5))]
        best = 1 << 30
        for order in itertools.permutations(table):
            first = second = 0
            for a, b in order:
                first += a
                second = max(first, second) + b
            best = min(best, second)
        assert flow(table, johnson(table)) == best


def last_of(draws: np.ndarray, unit: int) -> float:
    """The mean finish of a step that waits for one operation for each column of `draws`, on the planner's floor."""
    count = draws.shape[1]
    kinds = (Kind(1, "supplier", Nature.OUTSIDE),)
    rows = [Operation(n, 1, None, 1, None, 1) for n in range(count)]
    rows.append(Operation(count, 1, None, 1, None, 0, after=tuple(range(count))))
    layout = laid_out(always_open(rows, [Job(1, "1", None)], (), kinds), NOW)
    at = {operation.id: i for i, operation in enumerate(layout.operations)}
    minutes = np.zeros((len(draws), count + 1), np.int32)
    for n in range(count):
        minutes[:, at[n]] = np.rint(draws[:, n] * unit)
    _, finish, _, _ = simulate(layout.floor, minutes, weeks=layout.weeks)
    return float(finish[:, at[count]].mean()) / unit


def test_the_later_of_two_is_later_than_either() -> None:
    """Clark 1961: the mean of the larger of N(10, 2^2) and N(11, 3^2) is 11.993."""
    random = np.random.default_rng(1)
    draws = random.normal((10, 11), (2, 3), (200_000, 2)).clip(min=0)
    assert last_of(draws, 1000) == pytest.approx(11.993, abs=0.02)


def test_the_last_of_five_suppliers() -> None:
    """The mean of the largest of five unit exponentials is 1 + 1/2 + 1/3 + 1/4 + 1/5 = 2.2833."""
    draws = np.random.default_rng(2).exponential(1, (200_000, 5))
    assert last_of(draws, 1000) == pytest.approx(2.2833, abs=0.01)
