"""Each change against a shop made that way by hand, and what it moves."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest

from jobs.planning import Gate, Plan, Shop, plan
from jobs.planning.whatif import (
    Change,
    ExtraHours,
    GateCleared,
    GateLater,
    JobFirst,
    MoreBenches,
    MorePeople,
    Moved,
    NewJob,
    OutsideLater,
    PersonAway,
    Trained,
    apply,
    compare,
)
from tests.planning.shops import (
    ANN,
    BEN,
    BEVEL,
    BEVELING,
    CURE,
    CUT,
    DAY_SHIFT,
    MONDAY,
    STATIONS,
    TEMPER,
    job,
    shop,
    typical,
    work,
)

GATES = (Gate(1, "glass in", 1, None, cleared=True),)
BASE = shop(
    work(1, 1, CUT, 240, gates=(1,)),
    work(2, 1, BEVEL, 480, after=(1,)),
    work(3, 2, BEVEL, 480, place=3),
    work(4, 2, TEMPER, 1440, after=(3,)),
    gates=GATES,
)


def dated(made: Shop) -> Plan:
    return plan(made, now=MONDAY, futures=200)


@pytest.mark.parametrize(
    ("change", "by_hand"),
    [
        (
            PersonAway(2, date(2026, 3, 3)),
            replace(
                BASE, people=(ANN, replace(BEN, days_off=frozenset({date(2026, 3, 2), date(2026, 3, 3)})))
            ),
        ),
        (
            PersonAway(2, date(2026, 3, 5), since=date(2026, 3, 5)),
            replace(BASE, people=(ANN, replace(BEN, days_off=frozenset({date(2026, 3, 5)})))),
        ),
        (
            NewJob(job(7), (work(70, 7, CUT, 60),)),
            replace(BASE, jobs=(*BASE.jobs, job(7)), operations=(*BASE.operations, work(70, 7, CUT, 60))),
        ),
        (
            GateLater(1, date(2026, 3, 9)),
            replace(BASE, gates=(Gate(1, "glass in", 1, date(2026, 3, 9), cleared=False),)),
        ),
        (
            OutsideLater(4, 5),
            replace(BASE, operations=(*BASE.operations[:3], work(4, 2, TEMPER, 6 * 1440, after=(3,)))),
        ),
        (
            ExtraHours((date(2026, 3, 7),), (2,)),
            replace(BASE, people=(ANN, replace(BEN, extra=((date(2026, 3, 7), time(8), time(12)),)))),
        ),
        (
            Trained(1, BEVELING, 0.8),
            replace(BASE, people=(replace(ANN, skills={**ANN.skills, BEVELING: 0.8}), BEN)),
        ),
        (
            JobFirst(1),
            replace(
                BASE,
                operations=(
                    *(replace(o, place=2) for o in BASE.operations[:2]),
                    *BASE.operations[2:],
                ),
            ),
        ),
        (
            MoreBenches(BEVELING, 2),
            replace(BASE, stations=(STATIONS[0], replace(STATIONS[1], benches=4), STATIONS[2])),
        ),
    ],
    ids=lambda value: type(value).__name__,
)
def test_a_change_makes_the_shop_that_one_would_make_by_hand(change: Change, by_hand: Shop) -> None:
    assert apply(BASE, change, now=MONDAY) == by_hand


def test_more_people_have_the_hours_of_those_there_are() -> None:
    made = apply(BASE, MorePeople(BEVELING, 2), now=MONDAY)
    assert [(p.id, dict(p.skills), p.shifts) for p in made.people[2:]] == [
        (3, {BEVELING: 1.0}, DAY_SHIFT),
        (4, {BEVELING: 1.0}, DAY_SHIFT),
    ]


def test_somebody_who_is_away_does_not_come_for_extra_hours_either() -> None:
    both = apply(BASE, ExtraHours((date(2026, 3, 3),), (2,)), PersonAway(2, date(2026, 3, 4)), now=MONDAY)
    assert both.people[1].extra == ()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (PersonAway(77, date(2026, 3, 3)), "no person 77"),
        (PersonAway(1, date(2026, 3, 1)), "end before it begins"),
        (NewJob(job(1), ()), "Two jobs"),
        (GateLater(77, date(2026, 3, 3)), "no gate 77"),
        (GateCleared(77), "no gate 77"),
        (OutsideLater(77, 1), "no operation 77"),
        (ExtraHours((), (77,)), "no person 77"),
        (Trained(77, BEVELING), "no person 77"),
        (Trained(1, 77), "no station 77"),
        (JobFirst(77), "no job 77"),
        (MorePeople(77), "no station 77"),
        (MoreBenches(77), "no station 77"),
    ],
)
def test_a_change_of_what_is_not_there(change: Change, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        apply(BASE, change, now=MONDAY)


def test_hours_cannot_be_copied_from_nobody() -> None:
    with pytest.raises(ValueError, match="Nobody works at station"):
        apply(replace(BASE, people=(ANN,)), MorePeople(BEVELING), now=MONDAY)


def test_a_cure_that_takes_longer_moves_its_job_by_just_that_and_no_other() -> None:
    """By hand: exact cures, so the days are exact."""
    before = shop(work(1, 1, CURE, 1440), work(2, 2, CURE, 1440))
    after = apply(before, OutsideLater(1, 3), now=MONDAY)
    assert compare(dated(before), dated(after)) == (Moved(1, date(2026, 3, 3), date(2026, 3, 6), 3, 1.0),)


def test_the_one_who_goes_first_gains_what_the_other_loses() -> None:
    before = shop(work(1, 1, BEVEL, 960), work(2, 2, BEVEL, 960), jobs=(job(1, date(2026, 3, 3)), job(2)))
    later, sooner = compare(dated(before), dated(apply(before, JobFirst(2), now=MONDAY)))
    assert (later.job, sooner.job) == (1, 2)
    assert later.days > 0 > sooner.days
    assert (later.later, sooner.later) == (1.0, 0.0)


def test_a_change_that_changes_nothing_moves_nothing() -> None:
    """Common random numbers: job 0402 shares nothing with the new job, so not a minute of it moves."""
    before = shop(work(1, 1, CUT, 600), work(2, 2, BEVEL, 600))
    after = apply(before, NewJob(job(9), (work(90, 9, CUT, 600),)), now=MONDAY)
    old, new = dated(before), dated(after)
    assert np.array_equal(old.samples[2], new.samples[2])
    assert compare(old, new) == ()  # Job 0401 comes before it, and the new one has no day before.


def test_plans_of_different_chance_are_not_compared() -> None:
    made, now = typical()
    one = plan(made, now=now, futures=4)
    for other in (plan(made, now=now, futures=5), plan(made, now=now, futures=4, seed=2)):
        with pytest.raises(ValueError, match="same instant"):
            compare(one, other)


def test_a_cleared_gate_holds_nothing_up() -> None:
    shut = replace(BASE, gates=(Gate(1, "glass in", 1, date(2026, 3, 9), cleared=False),))
    assert apply(shut, GateCleared(1), now=MONDAY) == replace(
        BASE, gates=(Gate(1, "glass in", 1, date(2026, 3, 9), cleared=True),)
    )
