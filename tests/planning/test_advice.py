"""Which single change helps a job most: in shops where the answer is plain, and held to whole plans in a usual one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from jobs.planning import Gate, plan
from jobs.planning.advice import STATIONS, best_change
from jobs.planning.whatif import ExtraHours, GateCleared, JobFirst, MoreBenches, MorePeople, apply
from tests.planning.shops import BEVEL, BEVELING, BUILD, CUT, MONDAY, job, loaded, shop, typical, work


def test_a_gate_that_everything_waits_for() -> None:
    made = shop(work(1, 1, CUT, 60, gates=(7,)), gates=(Gate(7, "glass in", 1, date(2026, 3, 12), False),))
    first = best_change(made, now=MONDAY, job=1, futures=50)[0]
    assert first.change == GateCleared(7)
    # Ten days less the eight hours from midnight, when the gate opens, to the shift; the work is the same.
    assert first.days == pytest.approx(10, abs=0.01)
    assert (first.before, first.after) == (date(2026, 3, 12), date(2026, 3, 2))
    assert first.sentence == "0401 would be ready 10 days sooner with “glass in” today."


def test_a_job_behind_a_longer_one_goes_first() -> None:
    made = shop(
        work(1, 1, BEVEL, 2400),
        work(2, 2, BEVEL, 60),
        jobs=(job(1, date(2026, 3, 3)), job(2, date(2026, 4, 1))),
    )
    found = best_change(made, now=MONDAY, job=2, futures=50)
    assert {type(advice.change) for advice in found} == {JobFirst, MorePeople, ExtraHours}
    assert found[0].change in (JobFirst(2), MorePeople(BEVELING))
    assert found[0].days > found[-1].days > 0
    sentences = [advice.sentence for advice in found]
    assert any("its work taken first at every station" in sentence for sentence in sentences)
    assert any("one more person at beveling" in sentence for sentence in sentences)
    assert any("the next 2 Saturday mornings worked at beveling" in sentence for sentence in sentences)


def test_what_others_pay_is_told_too() -> None:
    """Going first moves the job that is passed by what it takes; another bench or person takes nothing from anybody."""
    made = shop(
        work(1, 1, BEVEL, 2400),
        work(2, 2, BEVEL, 960),
        jobs=(job(1, date(2026, 3, 3)), job(2, date(2026, 4, 1))),
    )
    found = {type(advice.change): advice for advice in best_change(made, now=MONDAY, job=2, futures=50)}
    first = found[JobFirst]
    # Two working days, on average; a weekend lies behind the week in some of the futures.
    assert [number for number, _ in first.costs] == [1]
    assert 1.5 < first.costs[0][1] < 4.5
    assert first.cost.startswith("Later would be: 0401 by ")
    assert found[MorePeople].costs == ()
    assert found[MorePeople].cost == "No other job would be later by half a day."


def test_one_bench_too_few() -> None:
    """Ann and two others could cut at once, but there is one bench; more people do not help."""
    helpers = tuple(replace(shop().people[0], id=n, name=f"A{n}") for n in (11, 12))
    rows = [work(n, n, CUT, 960) for n in (1, 2, 3)]
    due = (job(1, date(2026, 3, 3)), job(2, date(2026, 3, 4)), job(3, date(2026, 3, 5)))
    made = shop(*rows, jobs=due, people=(*shop().people, *helpers))
    changes = [type(advice.change) for advice in best_change(made, now=MONDAY, job=3, futures=50)]
    assert MoreBenches in changes
    assert MorePeople not in changes


def test_where_nothing_helps_nothing_is_named() -> None:
    made = shop(work(1, 1, CUT, 60))
    assert best_change(made, now=MONDAY, job=1, futures=20) == ()


def test_a_job_without_a_date_has_no_advice() -> None:
    stuck = shop(work(1, 1, BUILD, 60, after=(2,)), work(2, 1, BUILD, 60, after=(1,)), jobs=(job(1), job(2)))
    assert best_change(stuck, now=MONDAY, job=1, futures=10) == ()
    assert best_change(stuck, now=MONDAY, job=2, futures=10) == ()
    with pytest.raises(KeyError):
        best_change(stuck, now=MONDAY, job=99)


def test_the_gains_are_those_of_whole_plans() -> None:
    made, now = typical()
    last = max(made.jobs, key=lambda each: (each.due or date.min, each.id)).id
    found = best_change(made, now=now, job=last, futures=60)
    assert found
    before = plan(made, now=now, futures=60)
    for advice in found:
        after = plan(apply(made, advice.change, now=now), now=now, futures=60)
        days = (before.samples[last] - after.samples[last]).mean() / 1440
        assert advice.days == pytest.approx(days)
        assert advice.days > 2 * advice.error
        assert (advice.before, advice.after) == (before.day_for(last, 0.8), after.day_for(last, 0.8))
    assert [advice.days for advice in found] == sorted((advice.days for advice in found), reverse=True)


def test_the_tries_are_bounded_and_the_same_again(monkeypatch: pytest.MonkeyPatch) -> None:
    made, now = loaded()
    tried = []
    monkeypatch.setattr(
        "jobs.planning.advice.apply", lambda *args, now: tried.append(args) or apply(*args, now=now)
    )
    first, again = (best_change(made, now=now, job=5, futures=10) for _ in range(2))
    assert first == again
    assert len(tried) <= 2 * (2 + 2 * STATIONS)
