"""The chain back from a finish: worked out by hand for small shops, and without gaps for every shop."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from jobs.planning import Gate, Shop, plan
from jobs.planning.why import Cause, Why, why
from tests.planning.shops import (
    ANN,
    BEN,
    BEVEL,
    BUILD,
    BUILDING,
    CURE,
    CUT,
    CUTTING,
    MONDAY,
    STATIONS,
    TEMPER,
    generated,
    job,
    person,
    shop,
    work,
)

LATER = (job(1, date(2026, 5, 1)), job(2, date(2026, 3, 3)), job(3, date(2026, 3, 4)))


def asked(made: Shop, number: int = 1) -> Why:
    found = why(made, now=MONDAY, job=number)
    assert found is not None
    return found


def causes(found: Why) -> list[tuple[Cause, int]]:
    return [(segment.cause, segment.minutes) for segment in found.segments]


def test_a_job_that_waits_for_a_station_is_told_behind_whom() -> None:
    one_bench = (STATIONS[0], replace(STATIONS[1], benches=1), STATIONS[2])
    eve = person(5, "Eve", {2: 1.0})
    found = asked(
        shop(
            work(1, 1, BEVEL, 60),
            work(2, 2, BEVEL, 180),
            work(3, 3, BEVEL, 120),
            jobs=LATER,
            stations=one_bench,
            people=(ANN, BEN, eve),
        )
    )
    assert causes(found) == [(Cause.STATION, 300), (Cause.WORK, 60)]
    assert found.segments[0].behind == (2, 3)
    assert found.segments[0].works == (2, 3)
    assert found.sentence == "Mostly waiting for beveling behind 0402 and 0403."


def test_a_free_bench_and_nobody_for_it_is_waiting_for_a_person() -> None:
    found = asked(shop(work(1, 1, BEVEL, 60), work(2, 2, BEVEL, 240), jobs=LATER[:2]))
    assert causes(found) == [(Cause.PERSON, 240), (Cause.WORK, 60)]
    assert (found.segments[0].person, found.segments[0].behind) == (2, (2,))
    assert found.sentence == "Mostly waiting for Ben at beveling behind 0402."


def test_each_work_of_another_job_stands_in_the_way_by_itself() -> None:
    rows = [work(1, 1, BEVEL, 60), work(2, 2, BEVEL, 60), work(3, 2, BEVEL, 120)]
    found = asked(shop(*rows, jobs=LATER[:2]))
    assert (found.segments[0].behind, found.segments[0].works) == ((2,), (3, 2))


def test_somebody_busy_at_another_station_stands_in_the_way_too() -> None:
    found = asked(shop(work(1, 1, CUT, 30), work(2, 2, BUILD, 120), jobs=LATER[:2]))
    assert causes(found) == [(Cause.PERSON, 120), (Cause.WORK, 30)]
    assert found.segments[0].behind == (2,)


def test_a_gate_a_hold_a_cure_and_a_supplier() -> None:
    gates = (Gate(1, "drawing approved", 1, date(2026, 3, 10), cleared=False),)
    found = asked(
        shop(
            work(1, 1, CUT, 60, gates=(1,)),
            work(2, 1, CURE, 420, after=(1,)),
            work(3, 1, BUILD, 60, after=(2,), held=True, held_until=date(2026, 3, 12)),
            work(4, 1, TEMPER, 1440, after=(3,)),
            gates=gates,
        )
    )
    assert [cause for cause, _ in causes(found)] == [
        Cause.GATE,
        Cause.CLOSED,
        Cause.WORK,
        Cause.CURE,
        Cause.HOLD,
        Cause.CLOSED,
        Cause.WORK,
        Cause.SUPPLIER,
    ]
    assert found.segments[0].gate == 1
    assert found.segments[0].days == 6  # Tuesday the 3rd to Friday, Monday and Tuesday the 10th.
    assert found.sentence == "Mostly waiting for “drawing approved”."


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ((work(1, 1, CUT, 2400),), "Mostly its own work: cutting."),
        ((work(1, 1, CUT, 60), work(2, 1, CURE, 9000, after=(1,))), "Mostly curing."),
        ((work(1, 1, TEMPER, 14400),), "Mostly tempering at the supplier's."),
        ((work(1, 1, CUT, 60, held=True, held_until=date(2026, 3, 20)),), "Mostly on hold."),
        ((work(1, 1, CURE, 10, started=MONDAY - timedelta(hours=1)),), "It is finished now."),
    ],
)
def test_what_most_of_it_was(rows: tuple[object, ...], sentence: str) -> None:
    assert asked(shop(*rows)).sentence == sentence  # type: ignore[arg-type]


def test_somebody_on_holiday_is_waited_for() -> None:
    away = replace(BEN, days_off=frozenset(date(2026, 3, d) for d in range(2, 7)))
    found = asked(shop(work(1, 1, BEVEL, 60), people=(ANN, away)))
    assert causes(found)[0][0] is Cause.PERSON
    assert found.sentence == "Mostly waiting for Ben at beveling."
    assert found.segments[0].days == 5


def test_many_others_are_counted_not_listed() -> None:
    rows = [work(n, n, CUT, 60) for n in range(1, 8)]
    jobs = tuple(job(n, date(2026, 4 if n == 1 else 3, 1 + n)) for n in range(1, 8))
    found = asked(shop(*rows, jobs=jobs, people=(person(1, "Ann", {CUTTING: 1.0, BUILDING: 1.0}), BEN)))
    assert found.sentence == "Mostly waiting for cutting behind 0402, 0403, 0404 and 3 more."


def test_a_panel_has_its_own_chain() -> None:
    made = shop(work(1, 1, CUT, 60, panel=11), work(2, 1, BEVEL, 600, panel=12))
    found = why(made, now=MONDAY, panel=11)
    assert found is not None
    assert {segment.operation for segment in found.segments} == {1}
    assert {segment.operation for segment in asked(made).segments} == {2}


def test_what_has_no_date_has_no_chain() -> None:
    made = shop(work(1, 1, BEVEL, 60), work(2, 2, CUT, 5, done=True), people=(ANN,))
    assert why(made, now=MONDAY, job=1) is None
    assert why(made, now=MONDAY, job=2) is None


def test_one_thing_at_a_time() -> None:
    for more in ({}, {"job": 1, "panel": 1}):
        with pytest.raises(ValueError, match="one job or for one panel"):
            why(shop(), now=MONDAY, **more)


@pytest.mark.parametrize("seed", [0, 1, 2, 3, 5, 7, 8, 9])
def test_the_pieces_follow_each_other_from_now_to_the_finish(seed: int) -> None:
    made, now = generated(seed)
    dates = plan(made, now=now, futures=1)
    whole = 0
    for number in dates.jobs:
        found = why(made, now=now, job=number)
        assert found is not None
        ends = [dates.operations[o.id].finish for o in made.operations if o.job == number and not o.done]
        if not found.segments:
            continue
        whole += 1
        assert found.segments[-1].stop == max(ends)
        assert 0 <= (found.segments[0].start - now).total_seconds() < 60
        for one, two in zip(found.segments, found.segments[1:], strict=False):
            assert one.stop == two.start
        for segment in found.segments:
            assert 0 <= segment.open_minutes <= segment.minutes
            assert segment.minutes > 0
        assert found.sentence.startswith("Mostly ")
    assert whole, "None of its jobs has a date: take another seed"
