"""The planner: against SimPy on one core, how long a plan takes, and how that grows with the shop.

Ratios are of processor time in the same run. The SimPy model is the one that the tests compare the kernel with, and is
written to be plain, not to be fast. Seconds of a whole plan are the best of a few, on whatever else the machine does.
"""

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from jobs.planning import Shop, plan
from jobs.planning.advice import best_change
from jobs.planning.better import better, lateness
from jobs.planning.durations import sample
from jobs.planning.floor import run_futures
from jobs.planning.futures import simulate
from jobs.planning.planner import make_plan
from jobs.planning.search import Search
from tests.bench.limits import at_least, at_most
from tests.planning.runs import laid_out, run_once
from tests.planning.shops import large, loaded, typical
from tests.planning.simpy_floor import SimpyFloor

FUTURES = 1000
TIMES_SIMPY, TYPICAL_SECONDS, LARGE_SECONDS, GROWTH = 100, 0.3, 4, 25
ORDER_SECONDS, CUT, ADVICE_SECONDS = 5, 50, 2
UNSEEN = 977  # A seed of futures that neither chose an order nor accepted it.


def _best(act: Callable[[], object], clock: Callable[[], float], times: int) -> float:
    found = []
    for _ in range(times):
        since = clock()
        act()
        found.append(clock() - since)
    return min(found)


def _orders() -> Iterator[tuple[str, str]]:
    """What a better order is worth on futures that had no part in finding it, on three loaded shops."""
    for seed in (1, 2, 3):
        for name, (made, now) in (("weights 1 to 4", loaded(seed)), ("equal weights", _equal(seed))):
            since = time.perf_counter()
            found = better(made, now=now, futures=FUTURES)
            seconds = time.perf_counter() - since
            search = Search(made, now, 1)
            rule = min(search.rules(), key=search.score)
            offered = rule if found is None else found.order
            due, by_rule, after = (_late(made, now, order) for order in (None, rule, offered))
            label = f"loaded shop {seed}, {name}"
            saved = 100 * (1 - after / due)
            shown = at_least(saved, CUT, " %") if name != "equal weights" else f"{saved:.0f} %"
            yield (
                f"{label}: late days, due date / best rule / found",
                f"{due:.0f} / {by_rule:.0f} / {after:.0f}",
            )
            yield f"{label}: late days saved against due date", shown
            yield f"{label}: found / best rule", at_most(after / by_rule, 1.0)
            yield f"{label}: time to find it", at_most(seconds, ORDER_SECONDS, " s")


def _equal(seed: int) -> tuple[Shop, datetime]:
    made, now = loaded(seed)
    return replace(made, jobs=tuple(replace(job, weight=1.0) for job in made.jobs)), now


def _late(made: Shop, now: datetime, order: Sequence[int] | None) -> float:
    rank = None if order is None else {number: float(k) for k, number in enumerate(order)}
    return float(lateness(make_plan(made, now=now, seed=UNSEEN, futures=FUTURES, rank=rank), made).mean())


def run() -> list[tuple[str, str]]:
    made, now = typical()
    layout = laid_out(made, now)
    minutes = sample(layout.operations, made.kinds, now=now, seed=1, futures=FUTURES)
    kernel = _best(
        lambda: simulate(layout.floor, minutes, weeks=layout.weeks, threads=1), time.process_time, 3
    )
    one = {o.id: int(minutes[0, i]) for i, o in enumerate(layout.operations)}
    simpy = _best(lambda: SimpyFloor(made, made.operations, one, now).run(), time.process_time, 3)
    plain = _best(lambda: run_once(layout, one, kernel=run_futures), time.process_time, 3)
    ordinary = _best(lambda: plan(made, now=now, futures=FUTURES), time.perf_counter, 5)
    plan_cpu = _best(lambda: plan(made, now=now, futures=FUTURES), time.process_time, 3)
    big, later = large()
    huge = _best(lambda: plan(big, now=later, futures=FUTURES), time.perf_counter, 2)
    huge_cpu = _best(lambda: plan(big, now=later, futures=FUTURES), time.process_time, 1)
    last = max(made.jobs, key=lambda job: (job.due is not None, job.due, job.id))
    advice = _best(lambda: best_change(made, now=now, job=last.id), time.perf_counter, 3)
    size = f"{len(made.operations)} operations"
    return [
        (f"floor, {size}: SimPy / compiled, one core", at_least(simpy * FUTURES / kernel, TIMES_SIMPY, " x")),
        (f"floor, {size}: plain Python / compiled, one core", f"{plain * FUTURES / kernel:.0f} x"),
        (f"plan, {size}, {FUTURES} futures", at_most(ordinary, TYPICAL_SECONDS, " s")),
        (f"plan, {len(big.operations)} operations, {FUTURES} futures", at_most(huge, LARGE_SECONDS, " s")),
        ("plan, the same two, processor time on all cores together", f"{plan_cpu:.2f} s, {huge_cpu:.2f} s"),
        ("plan, large / typical, processor time", at_most(huge_cpu / plan_cpu, GROWTH, " x")),
        (f"which change helps a job most, {size}", at_most(advice, ADVICE_SECONDS, " s")),
        *_orders(),
    ]
