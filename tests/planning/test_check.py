"""What cannot be planned: each sentence, and that the rest of the shop still is."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest

from jobs.planning import Gate, Operation, Plan, Shift, Station, plan
from tests.planning.shops import (
    ANN,
    BEN,
    BEVEL,
    BEVELING,
    BUILD,
    CURE,
    CUT,
    MONDAY,
    STATIONS,
    person,
    shop,
    work,
)

IDLE = replace(BEN, shifts=())


def with_another_job(*operations: Operation, **more: object) -> Plan:
    """The plan of job 0401's operations with a plain cutting of job 0402 beside them, which always has its date."""
    got = plan(shop(*operations, work(90, 2, CUT, 60), **more), now=MONDAY, futures=20)  # type: ignore[arg-type]
    assert 2 in got.jobs
    assert 90 in got.operations
    return got


@pytest.mark.parametrize(
    ("bad", "more", "sentence"),
    [
        (work(1, 1, BEVEL, 60), {"people": (ANN,)}, "nobody works at beveling, where beveling is done"),
        (work(1, 1, BEVEL, 60), {"people": (ANN, IDLE)}, "Ben could do beveling, but without working hours"),
        (work(1, 1, BEVEL, 60, crew=2), {}, "beveling takes 2 people together, and there is only Ben"),
        (work(1, 1, BEVEL, 60, station=None), {}, "beveling has no station"),
        (work(1, 1, BEVEL, 60, station=77), {}, "beveling has no station"),
        (
            work(1, 1, BEVEL, 60),
            {"stations": (STATIONS[0], Station(BEVELING, "the wheels", 0), STATIONS[2])},
            "the wheels has no bench for beveling",
        ),
        (work(1, 1, BEVEL, 60, after=(77,)), {}, "beveling waits for work that is not there"),
        (work(1, 1, BEVEL, 60, gates=(77,)), {}, "beveling waits for a gate that is not there"),
        (work(1, 1, BEVEL, 60, after=(1,)), {}, "beveling waits for itself"),
        (
            work(1, 1, BEVEL, 60, pinned_person=1),
            {},
            "beveling is pinned to Ann, who does not work at beveling",
        ),
        (
            work(1, 1, BEVEL, 60, pinned_person=77),
            {},
            "beveling is pinned to somebody who is not here any more",
        ),
        (
            work(1, 1, BEVEL, 60, keeper=2, started=MONDAY),
            {"people": (ANN, IDLE)},
            "Ben, who is to do beveling, has no working hours",
        ),
    ],
)
def test_one_operation_that_can_never_be_done(bad: Operation, more: dict[str, object], sentence: str) -> None:
    got = with_another_job(
        bad, work(2, 1, CUT, 60, after=(1,), panel=11), work(3, 1, CUT, 60, panel=12), **more
    )
    (problem,) = got.problems
    assert problem.sentence == f"0401: {sentence}."
    assert (problem.job, problem.operation) == (1, 1)
    # What comes after it has no dates either, nor has the job; the other panel of the job has.
    assert set(got.operations) == {3, 90}
    assert set(got.jobs) == {2}
    assert set(got.panels) == {12, 2}


def test_a_circle_is_named_once_and_what_follows_it_is_left_out() -> None:
    got = with_another_job(
        work(1, 1, CUT, 60, after=(3,)),
        work(2, 1, BEVEL, 60, after=(1,)),
        work(3, 1, BUILD, 60, after=(2,)),
        work(4, 1, CURE, 60, after=(3,)),
        work(5, 1, CUT, 60),
    )
    assert [p.sentence for p in got.problems] == [
        "0401: cutting, beveling and building wait for each other in a circle."
    ]
    assert set(got.operations) == {5, 90}


def test_a_circle_that_is_broken_by_starting_early_is_none() -> None:
    got = with_another_job(work(1, 1, CUT, 60, after=(2,), early=True), work(2, 1, BEVEL, 60, after=(1,)))
    assert got.problems == ()
    assert set(got.operations) == {1, 2, 90}


def test_who_keeps_it_but_is_gone_is_said_and_it_is_planned_as_set_down() -> None:
    got = with_another_job(work(1, 1, BEVEL, 60, keeper=77, started=MONDAY, spent=30))
    assert [p.sentence for p in got.problems] == [
        "0401: whoever has beveling on the bench is not here any more; it is planned as set down."
    ]
    assert got.operations[1].person == 2


def test_a_job_on_hold_is_one_sentence_not_one_for_each_operation() -> None:
    got = with_another_job(*(work(n, 1, kind, 60, held=True) for n, kind in ((1, CUT), (2, BEVEL), (3, CUT))))
    assert [p.sentence for p in got.problems] == [
        "0401: cutting and beveling are held without a day to go on; 16 March is assumed."
    ]
    assert 1 in got.jobs


def test_a_gate_that_several_wait_for_is_one_sentence() -> None:
    gates = (Gate(1, "drawing approved", 1, None, cleared=False),)
    got = with_another_job(work(1, 1, CUT, 60, gates=(1,)), work(2, 1, BEVEL, 60, gates=(1,)), gates=gates)
    assert [p.sentence for p in got.problems] == [
        "0401: no day is given for “drawing approved”; 16 March is assumed."
    ]


def test_more_work_than_the_longest_calendar_holds() -> None:
    """An hour a week is 520 hours in ten years; 800 hours with a day in between is not to be had."""
    hour = (Shift(0, time(8), time(9)),)
    got = with_another_job(
        work(1, 1, BEVEL, 48_000), work(2, 1, BEVEL, 60, after=(1,)), people=(ANN, replace(BEN, shifts=hour))
    )
    assert [p.sentence for p in got.problems] == ["0401: more than 10 years of work lie before its end."]
    assert set(got.operations) == {90}
    assert set(got.jobs) == {2}


def test_work_of_several_years_has_its_date() -> None:
    hour = (Shift(0, time(8), time(9)),)
    got = with_another_job(work(1, 1, BEVEL, 60 * 100), people=(ANN, replace(BEN, shifts=hour)))
    assert got.problems == ()
    assert got.jobs[1].p50.date() > date(2027, 11, 1)


def test_somebody_with_nothing_but_a_saturday_has_hours() -> None:
    saturday = person(3, "Cat", {BEVELING: 1.0}, shifts=(), extra=((date(2026, 3, 7), time(9), time(13)),))
    got = with_another_job(work(1, 1, BEVEL, 10, pinned_person=3), people=(ANN, saturday))
    assert got.problems == ()
    assert got.operations[1].start.date() == date(2026, 3, 7)


def test_a_gate_beyond_all_calendars_is_no_crash() -> None:
    got = with_another_job(
        work(1, 1, CUT, 60, gates=(1,)), gates=(Gate(1, "glass in", 1, date.max, cleared=False),)
    )
    assert [p.sentence for p in got.problems] == ["0401: more than 10 years of work lie before its end."]
