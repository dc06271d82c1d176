"""The planner: against SimPy on one core, how long a plan takes, and how that grows with the shop.

Ratios are of processor time in the same run. The SimPy model is the one that the tests compare the kernel with, and is
written to be plain, not to be fast. Seconds of a whole plan are the best of a few (see limits.in_time).
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from jobs.planning import Shop, plan
from jobs.planning.advice import best_change
from jobs.planning.better import Better, better, lateness
from jobs.planning.durations import sample
from jobs.planning.floor import run_futures
from jobs.planning.futures import simulate
from jobs.planning.planner import make_plan
from jobs.planning.search import Search
from tests.bench.limits import Spent, at_least, at_most, in_time, spent
from tests.planning.runs import laid_out, run_once
from tests.planning.shops import large, loaded, typical
from tests.planning.simpy_floor import SimpyFloor

FUTURES = 1000
TIMES_SIMPY, TYPICAL_SECONDS, LARGE_SECONDS, GROWTH = 100, 0.3, 4, 25
ORDER_SECONDS, CUT, ADVICE_SECONDS = 5, 50, 2
SHOPS = tuple(range(1, 9))  # Seeds of the loaded shops.
UNSEEN = 977  # A seed of futures that neither chose an order nor accepted it.


def _orders() -> Iterator[tuple[str, str]]:
    """What a better order is worth on futures that had no part in finding it, on loaded shops.

    How much can be saved differs from shop to shop: where all are late whatever goes first, least. The limit is on the
    weighted days of all shops together; each one's share stands beside it. Where all jobs matter alike less is saved,
    since the due date then says all that there is to say.
    """
    for label, shops, cut in (
        ("weights 1 to 4", [loaded(seed) for seed in SHOPS], CUT),
        ("equal weights", [_equal(seed) for seed in SHOPS[:3]], None),
    ):
        days = []
        for number, (made, now) in zip(SHOPS, shops, strict=False):
            seconds, due, by_rule, found = _order(made, now)
            days.append((due, found))
            what = f"shop {number}, {label}"
            yield (
                f"{what}: late days, due date / best rule / found",
                f"{due:.0f} / {by_rule:.0f} / {found:.0f}: {_saved(due, found):.0f} % saved",
            )
            yield f"{what}: found / best rule", at_most(found / by_rule, 1.0)
            yield f"{what}: time to find it", in_time(seconds, ORDER_SECONDS)
        saved = _saved(*(sum(column) for column in zip(*days, strict=True)))
        yield (
            f"{len(days)} shops, {label}: late days saved against due date",
            f"{saved:.0f} %" if cut is None else at_least(saved, cut, " %"),
        )


def _saved(before: float, after: float) -> float:
    return 100 * (1 - after / before)


def _order(made: Shop, now: datetime) -> tuple[Spent, float, float, float]:
    """How long it took to find one, and the late days by due date, by the best rule and in the order found."""
    answers: list[Better | None] = []
    seconds = spent(lambda: answers.append(better(made, now=now, futures=FUTURES)))
    search = Search(made, now, 1)
    rule = min(search.rules(), key=search.score)
    offered = rule if answers[0] is None else answers[0].order
    due, by_rule, found = (_late(made, now, order) for order in (None, rule, offered))
    return seconds, due, by_rule, found


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
    kernel = spent(lambda: simulate(layout.floor, minutes, weeks=layout.weeks, threads=1), 3).worked
    one = {o.id: int(minutes[0, i]) for i, o in enumerate(layout.operations)}
    simpy = spent(lambda: SimpyFloor(made, made.operations, one, now).run(), 3).worked
    plain = spent(lambda: run_once(layout, one, kernel=run_futures), 3).worked
    ordinary = spent(lambda: plan(made, now=now, futures=FUTURES), 5)
    big, later = large()
    huge = spent(lambda: plan(big, now=later, futures=FUTURES), 2)
    last = max(made.jobs, key=lambda job: (job.due is not None, job.due, job.id))
    advice = spent(lambda: best_change(made, now=now, job=last.id), 3)
    size = f"{len(made.operations)} operations"
    return [
        (f"floor, {size}: SimPy / compiled, one core", at_least(simpy * FUTURES / kernel, TIMES_SIMPY, " x")),
        (f"floor, {size}: plain Python / compiled, one core", f"{plain * FUTURES / kernel:.0f} x"),
        (f"plan, {size}, {FUTURES} futures", in_time(ordinary, TYPICAL_SECONDS)),
        (f"plan, {len(big.operations)} operations, {FUTURES} futures", in_time(huge, LARGE_SECONDS)),
        ("plan, large / typical, processor time", at_most(huge.worked / ordinary.worked, GROWTH, " x")),
        (f"which change helps a job most, {size}", in_time(advice, ADVICE_SECONDS)),
        *_orders(),
    ]
