"""On which day a gate opens: by hand, drawn as often as it happened, and run as an independent model runs it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from jobs.planning import Gate, Shop, plan
from jobs.planning.calendars import local_day, to_minute
from jobs.planning.futures import simulate
from jobs.planning.gates import PRIOR, draw_openings, opens_on, possible_days
from jobs.planning.layout import next_working_day, openings
from tests.planning.runs import checked, drawn_minutes, laid_out
from tests.planning.shops import CURE, CUT, MONDAY, generated, shop, work
from tests.planning.simpy_floor import SimpyFloor

TODAY, TOMORROW = date(2026, 3, 2), date(2026, 3, 3)
GLASS = "glass in"


def gate(expected: date | None, number: int = 1, kind: str = GLASS, cleared: bool = False) -> Gate:
    return Gate(number, kind, 1, expected, cleared)


def march(*days: int) -> list[date]:
    return [date(2026, 3, day) for day in days]


def test_a_gate_opens_as_late_as_others_of_its_kind_did_or_on_its_day() -> None:
    assert possible_days(gate(date(2026, 3, 10)), (5, 0, -3), TODAY, TOMORROW) == march(7, 10, 10, 10, 15)
    assert opens_on(gate(date(2026, 3, 10)), (5, 0, -3), TODAY, TOMORROW) == date(2026, 3, 10)
    assert opens_on(gate(date(2026, 3, 10)), (5, 6, 7, 8, 9), TODAY, TOMORROW) == date(2026, 3, 16)


def test_what_would_have_opened_it_by_now_is_out() -> None:
    """Expected in four days: that one of its kind came five days early says nothing about it any more."""
    assert possible_days(gate(date(2026, 3, 6)), (-5, -4, -3), TODAY, TOMORROW) == march(3, 6, 6)


def test_a_gate_past_its_day_opens_on_the_next_working_day_or_as_late_as_others_did() -> None:
    past = gate(date(2026, 2, 27))
    assert possible_days(past, (), TODAY, TOMORROW) == march(3, 3)
    assert possible_days(past, (0, 1, 3, 12), TODAY, TOMORROW) == march(3, 3, 11)
    assert opens_on(past, (), TODAY, TOMORROW) == TOMORROW


def test_an_open_gate_and_one_without_a_day_have_no_spread() -> None:
    assert possible_days(gate(TODAY, cleared=True), (9,), TODAY, TOMORROW) is None
    assert opens_on(gate(TODAY, cleared=True), (9,), TODAY, TOMORROW) is None
    assert possible_days(gate(None), (9,), TODAY, TOMORROW) == march(16)


def test_a_gate_at_the_end_of_the_calendar_is_no_trouble() -> None:
    assert opens_on(gate(date.max), (400,), TODAY, TOMORROW) == date.max


def drawn(*gates: Gate, past: dict[str, tuple[int, ...]], seed: int = 1, futures: int = 20_000) -> np.ndarray:
    return draw_openings(
        [(0, (each,)) for each in gates],
        past,
        lambda day: (day - TODAY).days,
        today=TODAY,
        next_day=TOMORROW,
        seed=seed,
        futures=futures,
    )


def test_days_are_drawn_as_often_as_they_happened() -> None:
    """Six days of history and PRIOR on the day: each has its share of 20,000 draws within four standard errors."""
    late = (0, 0, 1, 2, 7, 30)
    found = Counter(drawn(gate(date(2026, 3, 12)), past={GLASS: late})[:, 0].tolist())
    for days, times in Counter([*late, *[0] * PRIOR]).items():
        share = times / (len(late) + PRIOR)
        assert found[10 + days] / 20_000 == pytest.approx(
            share, abs=4 * (share * (1 - share) / 20_000) ** 0.5
        )


def test_draws_belong_to_the_gate_and_not_to_what_is_beside_it() -> None:
    past = {GLASS: (0, 3, 9), "deposit in": (1, 2)}
    one, other = gate(date(2026, 3, 12), 7), gate(date(2026, 3, 12), 8)
    alone = drawn(one, past=past)
    both = drawn(other, one, past=past)
    assert np.array_equal(alone[:, 0], both[:, 1])
    assert not np.array_equal(both[:, 0], both[:, 1])
    later = drawn(gate(date(2026, 3, 20), 7), past=past)
    assert np.array_equal(later, alone + 8)
    assert not np.array_equal(alone, drawn(one, past=past, seed=2))


def test_the_later_of_a_hold_and_of_all_gates_counts() -> None:
    gates = gate(date(2026, 3, 10), 1), gate(date(2026, 3, 12), 2)
    found = draw_openings(
        [(9, gates), (20, gates)],
        {},
        lambda day: (day - TODAY).days,
        today=TODAY,
        next_day=TOMORROW,
        seed=1,
        futures=3,
    )
    assert found.tolist() == [[10, 20]] * 3


def test_dates_spread_with_the_gates() -> None:
    """A cure of a minute that waits for a gate ends a minute into the day on which it opens: three days possible."""
    waits = shop(work(1, 1, CURE, 1, gates=(1,)), gates=(gate(date(2026, 3, 10)),))
    sure = plan(waits, now=MONDAY, futures=400)
    assert sure.jobs[1].p50 == sure.jobs[1].p95
    spread = plan(replace(waits, gate_days={GLASS: (2, 2, 2, 2, 2, 2, 2, 2, 8)}), now=MONDAY, futures=400)
    assert [at.day for at in (spread.jobs[1].p50, spread.jobs[1].p80, spread.jobs[1].p95)] == [12, 12, 18]
    assert spread.operations[1].finish.day == 12
    assert spread.chance(1, date(2026, 3, 11)) == pytest.approx(2 / 11, abs=0.08)


def test_work_that_may_start_early_or_is_begun_waits_for_no_draw() -> None:
    past = {GLASS: (5,) * 20}
    rows = work(1, 1, CUT, 60, gates=(1,), early=True), work(2, 2, CUT, 60, gates=(1,), keeper=1)
    made = shop(*rows, gates=(gate(date(2026, 3, 10)),), gate_days=past)
    assert {at.p95.date() for at in plan(made, now=MONDAY, futures=50).jobs.values()} == {TODAY}


def test_an_impossible_history_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot have been 40000 days late"):
        shop(gate_days={GLASS: (1, 40_000)})


def test_what_is_assumed_of_a_late_gate_is_said_with_its_history() -> None:
    late = gate(date(2026, 2, 20))
    made = shop(work(1, 1, CUT, 60, gates=(1,)), gates=(late,), gate_days={GLASS: (15,) * 9})
    sentences = [problem.sentence for problem in plan(made, now=MONDAY, futures=5).problems]
    assert sentences == ["0401: “glass in” was expected on 20 February; 7 March is assumed."]


def with_history(made: Shop) -> Shop:
    return replace(made, gate_days={GLASS: (-4, -1, 0, 0, 1, 2, 3, 6, 15)})


@pytest.mark.parametrize("seed", range(0, 80, 2))
def test_each_future_is_that_of_the_independent_model_with_the_days_drawn(seed: int) -> None:
    base, now = generated(seed)
    made = with_history(base)
    layout = laid_out(made, now)
    minutes = {i: max(m, 1) for i, m in drawn_minutes(made, seed).items()}
    futures = 6
    opens = openings(made, layout, seed=seed, futures=futures)
    rows = np.array([[minutes[o.id] for o in layout.operations]] * futures, np.int32).reshape(futures, -1)
    for i, operation in enumerate(layout.operations):
        if not layout.attended[i] and operation.started is not None:
            rows[:, i] = np.maximum(rows[:, i], layout.held_for[i])
    start, finish, _, _ = simulate(layout.floor, rows, weeks=layout.weeks, opens=opens)
    days = days_drawn(made, layout.today, layout.next_day, seed, futures)
    for future in range(futures):
        theirs = SimpyFloor(
            made, checked(made, now).operations, minutes, now, days_of_gates=days[future]
        ).run()
        ours = {
            o.id: (int(start[future, i]), int(finish[future, i]))
            for i, o in enumerate(layout.operations)
            if finish[future, i] < 1 << 30
        }
        assert ours == {i: row[:2] for i, row in theirs.items()}


def days_drawn(made: Shop, today: date, next_day: date, seed: int, futures: int) -> list[dict[int, date]]:
    """The same draws by gate, as days."""
    shut = [each for each in made.gates if not each.cleared]
    table = draw_openings(
        [(0, (each,)) for each in shut],
        made.gate_days,
        lambda day: (day - today).days,
        today=today,
        next_day=next_day,
        seed=seed,
        futures=futures,
    )
    return [{each.id: today + timedelta(days=int(row[k])) for k, each in enumerate(shut)} for row in table]


def test_the_generated_shops_have_gates_whose_days_differ() -> None:
    """Without this the comparison could quietly stop covering something."""
    differing = 0
    for seed in range(0, 80, 2):
        base, now = generated(seed)
        made = with_history(base)
        layout = laid_out(made, now)
        opens = openings(made, layout, seed=seed, futures=6)
        differing += bool(opens.size and (opens.max(axis=0) > opens.min(axis=0)).any())
        today = local_day(to_minute(now), made.zone)
        assert layout.today == today == now.astimezone(ZoneInfo(made.zone)).date()
        assert layout.next_day == next_working_day(made, today)
    assert differing >= 20
