"""A better order: found where there is one, not where there is none, and judged on futures it was not chosen by."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from jobs.planning import Plan, plan
from jobs.planning.better import _Search, _turn, better, lateness, reordered
from jobs.planning.planner import make_plan
from tests.planning.runs import laid_out
from tests.planning.shops import BEVEL, CUT, MONDAY, generated, job, shop, typical, work

# Earliest first does the long job first and makes all the short ones late; Smith's order is far better.
TRAP = shop(
    work(1, 1, BEVEL, 4800),
    *(work(n, n, BEVEL, 240) for n in range(2, 7)),
    jobs=(job(1, date(2026, 3, 3)), *(job(n, date(2026, 3, 4)) for n in range(2, 7))),
)


def test_a_trap_for_the_due_date_is_found() -> None:
    found = better(TRAP, now=MONDAY, tries=60, futures=200)
    assert found is not None
    assert found.order[-1] == 1
    assert found.gain == pytest.approx(found.before - found.after)
    assert found.gain > 2 * found.error > 0
    later = [moved.job for moved in found.moved if moved.days > 0]
    assert later == [1]


def test_the_search_finds_the_best_of_all_orders() -> None:
    """Every one of the 720 orders scored on the same futures; the search may not know of a better one."""
    search = _Search(TRAP, MONDAY, 1)
    least = min(search.score(order) for order in itertools.permutations(search.jobs))
    found = better(TRAP, now=MONDAY, tries=200, futures=50)
    assert found is not None
    assert search.score(found.order) == pytest.approx(least, rel=0.02)


def test_where_nothing_is_late_nothing_is_better() -> None:
    calm = shop(work(1, 1, CUT, 60), work(2, 2, BEVEL, 60), jobs=(job(1, date(2026, 5, 1)), job(2)))
    assert better(calm, now=MONDAY, tries=20, futures=50) is None


def test_one_job_has_no_order() -> None:
    assert better(shop(work(1, 1, CUT, 60)), now=MONDAY) is None
    assert better(shop(), now=MONDAY) is None


def test_the_same_again() -> None:
    first, again = (better(TRAP, now=MONDAY, tries=30, futures=50) for _ in range(2))
    assert first == again


def test_lateness_by_hand() -> None:
    made = shop(jobs=(job(1, date(2026, 3, 2), 2.0), job(2, date(2026, 3, 9)), job(3)))
    end = int(MONDAY.timestamp()) // 60 + 16 * 60  # Midnight after Monday the 2nd.
    samples = {n: np.array([end + 720, end - 5], np.int64) for n in (1, 2, 3)}
    dates = Plan(MONDAY, 1, 2, {}, {}, {}, (), None, (), "UTC", samples)
    assert lateness(dates, made).tolist() == [1.0, 0.0]


@pytest.mark.parametrize("seed", range(12))
def test_an_order_on_arrays_is_the_order_on_operations(seed: int) -> None:
    made, now = generated(seed)
    order = [o.id for o in made.jobs][::-1]
    rank = {number: float(k) for k, number in enumerate(order)}
    layout, wanted = laid_out(made, now), laid_out(made, now, rank=rank)
    turn = _turn(layout, np.array([int(rank[o.job]) for o in layout.operations], np.int64))
    assert [layout.operations[i].id for i in turn] == [o.id for o in wanted.operations]
    got = reordered(layout.floor, turn)
    for name in ("station", "crew", "pinned", "kept", "needs", "release", "gated", "then_at", "crew_at"):
        assert np.array_equal(getattr(got, name), getattr(wanted.floor, name)), name
    for i in range(len(turn)):
        row = slice(got.then_at[i], got.then_at[i + 1])
        assert sorted(got.then[row]) == sorted(wanted.floor.then[row])


def test_an_ordinary_shop_has_a_better_order_than_the_due_date() -> None:
    easy, now = typical()
    half = {o.id: o.due and now.date() + (o.due - now.date()) / 2 for o in easy.jobs}
    made = replace(easy, jobs=tuple(replace(o, due=half[o.id]) for o in easy.jobs))
    found = better(made, now=now, tries=20, futures=200)
    assert found is not None
    rank = {number: float(k) for k, number in enumerate(found.order)}
    # Judged once more on futures that neither chose nor accepted it.
    before = lateness(plan(made, now=now, seed=77, futures=200), made).mean()
    after = lateness(make_plan(made, now=now, seed=77, futures=200, rank=rank), made).mean()
    assert after < before
