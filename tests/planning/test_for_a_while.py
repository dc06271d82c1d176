"""What lasts for a while: a bench that is down, and somebody who was moved to another station. To the minute."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from jobs import planning
from jobs.planning import whatif
from jobs.planning.why import Cause, why
from tests.planning.runs import checked, laid_out, run_once
from tests.planning.shops import (
    ANN,
    BEN,
    BEVEL,
    BEVELING,
    BUILD,
    BUILDING,
    CUT,
    CUTTING,
    MONDAY,
    ROUND_THE_CLOCK,
    STATIONS,
    generated,
    person,
    shop,
    work,
)

HOUR = 60
CAT = person(3, "Cat", {BEVELING: 1.0})
NOON = MONDAY + timedelta(hours=4)
WEDNESDAY = MONDAY + timedelta(days=2)


def seen(of: planning.Shop) -> dict[int, tuple[int, int, tuple[int, ...]]]:
    return run_once(laid_out(of, MONDAY), {o.id: o.minutes for o in of.operations}, shop=of)


def down(station: int, *back: datetime) -> tuple[planning.Station, ...]:
    return tuple(replace(s, back=back) if s.id == station else s for s in STATIONS)


def test_one_bench_less_is_one_piece_of_work_less_at_a_time() -> None:
    rows = [work(n, n, BEVEL, 2 * HOUR) for n in (1, 2)]
    free = seen(shop(*rows, people=(ANN, BEN, CAT)))
    assert (free[1][:2], free[2][:2]) == ((0, 120), (0, 120))
    one_down = seen(shop(*rows, people=(ANN, BEN, CAT), stations=down(BEVELING, WEDNESDAY)))
    assert (one_down[1][:2], one_down[2][:2]) == ((0, 120), (120, 240))


def test_the_bench_is_used_from_the_minute_it_is_back() -> None:
    rows = [work(n, n, BEVEL, 6 * HOUR) for n in (1, 2)]
    found = seen(shop(*rows, people=(ANN, BEN, CAT), stations=down(BEVELING, NOON)))
    assert found[1][0] == 0
    assert found[2][0] == 4 * HOUR


def test_where_every_bench_is_down_nothing_is_begun() -> None:
    found = seen(shop(work(1, 1, BEVEL, HOUR), stations=down(BEVELING, NOON, WEDNESDAY)))
    assert found[1][:2] == (4 * HOUR, 5 * HOUR)


def test_what_lies_on_the_bench_is_set_down_and_its_person_does_other_work() -> None:
    both = person(2, "Ben", {BEVELING: 1.0, BUILDING: 1.0})
    kept = work(1, 1, BEVEL, 2 * HOUR, keeper=2)
    other = work(2, 2, BUILD, HOUR)
    of = shop(kept, other, people=(both,), stations=down(BEVELING, NOON, NOON))
    found = seen(of)
    assert found[2] == (0, HOUR, (2,))
    assert found[1] == (4 * HOUR, 6 * HOUR, (2,))
    (problem,) = checked(of, MONDAY).problems
    assert problem.sentence == (
        "0401: beveling lies on a bench of beveling, of which too many are down; it is planned as set down."
    )


def test_as_much_stays_on_benches_as_there_are_up_the_most_urgent_first() -> None:
    kept = [work(1, 1, BEVEL, HOUR, keeper=2), work(2, 2, BEVEL, HOUR, keeper=3)]
    due = (planning.Job(1, "0401", None), planning.Job(2, "0402", date(2026, 3, 5)))
    of = shop(*kept, people=(BEN, CAT), jobs=due, stations=down(BEVELING, WEDNESDAY))
    assert {o.id: o.keeper for o in checked(of, MONDAY).operations} == {1: None, 2: 3}


@pytest.mark.parametrize("seed", range(40))
def test_no_more_is_worked_on_than_there_are_benches_up(seed: int) -> None:
    of, now = generated(seed)
    rows = checked(of, now).operations
    found = run_once(laid_out(of, now), {o.id: o.minutes for o in rows}, shop=of)
    for station in of.stations:
        on = [o for o in rows if o.station == station.id and o.id in found]
        kept = sum(o.keeper is not None for o in on)
        for at in {found[o.id][0] for o in on if o.keeper is None}:
            taken = sum(
                (0 if o.keeper is not None else found[o.id][0]) <= at < found[o.id][1] or found[o.id][0] == at
                for o in on
                if found[o.id][1] > at
            )
            up = station.benches - sum((back - now) > timedelta(minutes=at) for back in station.back)
            assert taken <= max(up, kept)


def test_what_somebody_may_be_asked_is_the_station_they_were_moved_to() -> None:
    rows = [work(1, 1, CUT, HOUR), work(2, 2, BUILD, HOUR)]
    assert seen(shop(*rows, people=(ANN,)))[1][:2] == (0, HOUR)
    moved = replace(ANN, stays=(BUILDING, NOON))
    found = seen(shop(*rows, people=(moved,)))
    assert found[2][:2] == (0, HOUR)
    assert found[1][:2] == (4 * HOUR, 5 * HOUR)


def test_what_they_keep_elsewhere_waits_for_them() -> None:
    rows = [work(1, 1, CUT, HOUR, keeper=1), work(2, 2, BUILD, HOUR)]
    found = seen(shop(*rows, people=(replace(ANN, stays=(BUILDING, NOON)),)))
    assert (found[1], found[2]) == ((4 * HOUR, 5 * HOUR, (1,)), (0, HOUR, (1,)))


def test_what_they_have_begun_there_they_finish() -> None:
    rows = [work(1, 1, CUT, HOUR), work(2, 2, BUILD, 6 * HOUR)]
    found = seen(shop(*rows, people=(replace(ANN, stays=(BUILDING, NOON)),)))
    assert found[1][0] == 6 * HOUR


def test_no_crew_elsewhere_calls_them_away() -> None:
    bob = person(2, "Bob", {CUTTING: 1.0})
    rows = [work(1, 1, CUT, HOUR, crew=2), work(2, 2, BUILD, 2 * HOUR)]
    assert seen(shop(*rows, people=(ANN, bob)))[1][0] == 0
    assert seen(shop(*rows, people=(replace(ANN, stays=(BUILDING, NOON)), bob)))[1][0] == 4 * HOUR


def test_a_bench_down_tells_why() -> None:
    of = shop(work(1, 1, BEVEL, HOUR), stations=down(BEVELING, NOON, NOON))
    found = why(of, now=MONDAY, job=1)
    assert found is not None
    assert [(s.cause, s.minutes) for s in found.segments] == [(Cause.STATION, 240), (Cause.WORK, 60)]


def test_what_a_station_could_do_counts_the_benches_that_are_up() -> None:
    always = person(2, "Ben", {BEVELING: 1.0}, shifts=ROUND_THE_CLOCK)
    rows = [work(1, 1, BEVEL, 60)]

    def could(*back: datetime) -> int:
        of = shop(*rows, people=(always,), stations=down(BEVELING, *back))
        return planning.plan(of, now=MONDAY, seed=1, futures=2).load[0].capacity_minutes

    assert could() - could(WEDNESDAY, WEDNESDAY) == 2 * 24 * 60
    assert could(WEDNESDAY) == could()


def test_the_changes_make_the_same_of_a_shop() -> None:
    plain = shop(work(1, 1, CUT, HOUR))
    tuesday = date(2026, 3, 3)
    over = datetime(2026, 3, 4, tzinfo=UTC)
    changed = whatif.apply(
        plain,
        whatif.BenchesDown(BEVELING, tuesday, 2),
        whatif.PersonMoved(1, BUILDING, tuesday),
        now=MONDAY,
    )
    assert changed.stations[1].back == (over, over)
    assert changed.people[0].stays == (BUILDING, over)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (whatif.BenchesDown(BEVELING, date(2026, 3, 1)), "over"),
        (whatif.BenchesDown(BEVELING, date(2026, 3, 3), 3), "more benches down than it has"),
        (whatif.BenchesDown(99, date(2026, 3, 3)), "no station 99"),
        (whatif.PersonMoved(1, BEVELING, date(2026, 3, 3)), "Ann does not work at station 2"),
        (whatif.PersonMoved(1, BUILDING, date(2026, 3, 1)), "over"),
        (whatif.PersonMoved(9, BUILDING, date(2026, 3, 3)), "no person 9"),
    ],
)
def test_changes_that_cannot_be(change: whatif.Change, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        change.applied(shop(work(1, 1, CUT, HOUR)), MONDAY)
