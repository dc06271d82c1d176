"""The kernel against queueing theory: waiting times that have been known for a century.

A station with c benches and c people of its own, round the clock; work arrives as releases and is taken up in the order
of arrival. Time is in thousandths of a mean service, so that whole minutes round nothing that matters.
Formulas: Erlang 1917 (M/M/c), Pollaczek 1930 and Khinchine 1932 (M/D/1), Cobham 1954 (priorities), Little 1961.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from jobs.planning.arrays import Floor
from jobs.planning.futures import simulate

UNIT = 1000
CUSTOMERS = 4000
WARM = 400
FUTURES = 250


def queue(benches: int, releases: NDArray[np.int64], first: NDArray[np.int64]) -> Floor:
    """One station; operation i, by priority, is released at releases[first[i]]."""
    n = len(releases)
    zeros, ones = np.zeros(n, np.int64), np.ones(n, np.int64)
    people = np.arange(benches + 1, dtype=np.int64)
    return Floor(
        station=zeros,
        crew=ones,
        pinned=zeros - 1,
        kept=zeros,
        needs=zeros,
        then_at=np.zeros(n + 1, np.int64),
        then=np.zeros(0, np.int64),
        release=releases[first],
        gated=zeros - 1,
        crew_at=np.arange(n + 1, dtype=np.int64),
        benches=np.array([benches]),
        able_at=np.array([0, benches]),
        able=people[:-1].copy(),
        queue_at=np.array([0, n]),
        pace=np.ones((benches, 1)),
        hours_at=people,
        opens=np.zeros(benches, np.int64),
        closes=np.full(benches, 1 << 29, np.int64),
        week=np.zeros(benches, np.int64),
        stays=np.full(benches, -1, np.int64),
        stays_until=np.zeros(benches, np.int64),
        back=np.zeros(0, np.int64),
        back_at=np.zeros(0, np.int64),
    )


def waits(benches: int, load: float, services: str, classes: tuple[float, ...] = (1.0,)) -> list[float]:
    """The mean wait of each class in units of a mean service; `classes`: their shares of the arrivals."""
    random = np.random.default_rng(7)
    totals = [list[float]() for _ in classes]
    for _ in range(FUTURES):
        gaps = random.exponential(UNIT / (load * benches), CUSTOMERS)
        arrival = np.rint(np.cumsum(gaps)).astype(np.int64)
        of = random.choice(len(classes), CUSTOMERS, p=classes)
        first = np.lexsort((np.arange(CUSTOMERS), of))
        minutes = (
            np.full(CUSTOMERS, UNIT) if services == "D" else np.rint(random.exponential(UNIT, CUSTOMERS))
        )
        row = minutes[first].astype(np.int32)[None]
        start, _, _, _ = simulate(queue(benches, arrival, first), row, weeks=1, threads=1)
        wait = np.empty(CUSTOMERS)
        wait[first] = start[0] - arrival[first]
        kept = np.arange(CUSTOMERS) >= WARM
        for number, total in enumerate(totals):
            total.append(float(wait[kept & (of == number)].mean()) / UNIT)
    return [float(np.mean(total)) for total in totals]


def test_one_bench_with_random_work_waits_four_services_at_load_080() -> None:
    """M/M/1: rho / (1 - rho) = 4."""
    assert waits(1, 0.8, "M") == [pytest.approx(4, rel=0.03)]


def test_two_benches_wait_12857_at_load_075() -> None:
    """M/M/2 (Erlang 1917): C(2, 1.5) / (2 (1 - .75)) = 1.2857."""
    assert waits(2, 0.75, "M") == [pytest.approx(1.2857, rel=0.03)]


def test_three_benches_wait_10787_at_load_080() -> None:
    """M/M/3 (Erlang 1917): C(3, 2.4) / (3 (1 - .8)) = 1.0787."""
    assert waits(3, 0.8, "M") == [pytest.approx(1.0787, rel=0.03)]


def test_even_work_waits_half_as_long() -> None:
    """M/D/1 (Pollaczek-Khinchine): rho / (2 (1 - rho)) = 2 at .8."""
    assert waits(1, 0.8, "D") == [pytest.approx(2, rel=0.03)]


def test_work_that_goes_first_waits_less_at_the_expense_of_the_other() -> None:
    """Cobham 1954, two classes of load .4 each: .8 / .6 = 1.333 and .8 / (.6 x .2) = 6.667."""
    first, second = waits(1, 0.8, "M", (0.5, 0.5))
    assert first == pytest.approx(1.3333, rel=0.03)
    assert second == pytest.approx(6.6667, rel=0.06)


def test_littles_law_holds_exactly_for_a_shop_that_empties() -> None:
    """Little 1961: the time-average in the shop equals arrivals a minute times the mean time in the shop."""
    random = np.random.default_rng(3)
    arrival = np.rint(np.cumsum(random.exponential(UNIT, 500))).astype(np.int64)
    row = np.rint(random.exponential(1.6 * UNIT, (1, 500))).astype(np.int32)
    _, finish, _, _ = simulate(queue(2, arrival, np.arange(500)), row, weeks=1, threads=1)
    end = int(finish.max())
    steps = np.zeros(end + 1, np.int64)
    np.add.at(steps, arrival, 1)
    np.add.at(steps, finish[0], -1)
    inside = np.cumsum(steps)[:-1].sum()  # Minute by minute, how many are in the shop.
    mean_time = (finish[0] - arrival).mean()
    assert inside / end == pytest.approx(500 / end * mean_time, rel=1e-12)
    assert inside > 0
