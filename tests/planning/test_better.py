"""A better order: found where there is one, not where there is none, and judged on futures it was not chosen by."""

from __future__ import annotations

import itertools
import random
from datetime import date

import numpy as np
import pytest

from jobs.planning import Plan, plan
from jobs.planning.better import better, lateness
from jobs.planning.planner import make_plan
from jobs.planning.search import Search, reordered
from tests.planning.runs import laid_out
from tests.planning.shops import BEVEL, CUT, MONDAY, generated, job, loaded, shop, work

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
    search = Search(TRAP, MONDAY, 1)
    least = min(search.score(order) for order in itertools.permutations(search.jobs))
    rule = min(search.rules(), key=search.score)
    found = search.anneal(rule, 200, random.Random(1))
    assert search.score(rule) > 1.005 * least  # Otherwise there would be nothing to find.
    assert search.score(found) == pytest.approx(least, rel=0.001)


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
    search = Search(made, now, 1)
    layout, wanted = search.layout, laid_out(made, now, days=1200, rank=rank)
    turn = search.turn([number for number in order if number in search.jobs])
    assert [layout.operations[i].id for i in turn] == [o.id for o in wanted.operations]
    got = reordered(layout.floor, turn)
    for name in ("station", "crew", "pinned", "kept", "needs", "release", "gated", "then_at", "crew_at"):
        assert np.array_equal(getattr(got, name), getattr(wanted.floor, name)), name
    for i in range(len(turn)):
        row = slice(got.then_at[i], got.then_at[i + 1])
        assert sorted(got.then[row]) == sorted(wanted.floor.then[row])


def test_a_loaded_shop_of_ordinary_size_is_half_as_late_in_a_better_order() -> None:
    made, now = loaded()
    found = better(made, now=now, tries=40, futures=200)
    assert found is not None
    # Judged once more on futures that neither chose nor accepted it.
    before = lateness(plan(made, now=now, seed=77, futures=200), made).mean()
    ranks = {number: float(k) for k, number in enumerate(found.order)}
    after = lateness(make_plan(made, now=now, seed=77, futures=200, rank=ranks), made).mean()
    assert after < 0.5 * before


def test_the_offer_is_no_worse_than_the_best_rule_on_the_futures_that_judge() -> None:
    made, now = loaded(2)
    found = better(made, now=now, tries=5, futures=100)
    assert found is not None
    search = Search(made, now, 1)
    rule = {number: float(k) for k, number in enumerate(min(search.rules(), key=search.score))}
    alone = lateness(make_plan(made, now=now, seed=1 + (1 << 40), futures=100, rank=rule), made).mean()
    assert found.after <= alone
    assert found.before > found.after


def test_the_work_of_the_search_is_bounded_by_the_size_of_the_shop(monkeypatch: pytest.MonkeyPatch) -> None:
    search = Search(TRAP, MONDAY, 1)
    monkeypatch.setattr("jobs.planning.search.MOST_WORK", 10 * 8 * len(search.layout.operations))
    looked = []
    late = search.late
    monkeypatch.setattr(search, "late", lambda *args: looked.append(1) or late(*args))
    search.anneal(search.jobs, 10_000, random.Random(1))
    assert len(looked) <= 1 + 2 * 10
