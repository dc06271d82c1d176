"""Two workshops in one plan share nothing: whatever happens in one, no date of the other moves by a minute."""

from dataclasses import replace
from datetime import UTC, date, datetime, time
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs import planning
from jobs.planning import whatif

NOW = datetime(2026, 3, 2, 8, tzinfo=UTC)
WEEK = tuple(planning.Shift(day, time(8), time(16)) for day in range(5))
FUTURES = 8


def workshop(base: int, values: Any) -> dict[str, Any]:
    """The rows of one workshop, all of whose ids begin at `base`: two stations, and people, jobs and work as drawn."""
    stations = tuple(planning.Station(base + n, f"Station {base + n}", values["benches"]) for n in (1, 2))
    people = tuple(
        planning.Person(base + n, f"Person {base + n}", {base + 1: 1.0, base + 2: pace}, WEEK)
        for n, pace in enumerate(values["paces"], 1)
    )
    kinds = tuple(
        planning.Kind(base + n, f"Work {base + n}", planning.Nature.ATTENDED, tuple(values["ratios"]))
        for n in (1, 2)
    )
    jobs, operations = [], []
    for n, (minutes, due, gated) in enumerate(values["jobs"], 1):
        job = base + n
        jobs.append(planning.Job(job, f"{job}", due))
        first, second = base + 2 * n, base + 2 * n + 1
        gates = (base + 1,) if gated else ()
        operations.append(planning.Operation(first, job, None, base + 1, base + 1, minutes, gates=gates))
        crew = min(2, len(people)) if gated else 1
        operations.append(
            planning.Operation(second, job, None, base + 2, base + 2, minutes, crew=crew, after=(first,))
        )
    gate = planning.Gate(base + 1, "glass in", base + 1, values["gate"], cleared=False)
    return {
        "stations": stations,
        "people": people,
        "kinds": kinds,
        "jobs": tuple(jobs),
        "operations": tuple(operations),
        "gates": (gate,) if jobs else (),
    }


def one_roof(*workshops: dict[str, Any]) -> planning.Shop:
    rows = {name: tuple(row for each in workshops for row in each[name]) for name in workshops[0]}
    return planning.Shop(zone="UTC", **rows)


def dates(shop: planning.Shop, of: dict[str, Any]) -> dict[int, np.ndarray[Any, Any]]:
    plan = planning.plan(shop, now=NOW, seed=7, futures=FUTURES)
    return {job.id: plan.samples[job.id] for job in of["jobs"]}


days = st.none() | st.dates(date(2026, 3, 2), date(2026, 5, 1))
drawn = st.fixed_dictionaries(
    {
        "benches": st.integers(1, 2),
        "paces": st.lists(st.sampled_from((0.8, 1.0, 1.25)), min_size=1, max_size=3),
        "ratios": st.lists(st.floats(-0.5, 0.5), max_size=5),
        "jobs": st.lists(st.tuples(st.integers(30, 2000), days, st.booleans()), min_size=1, max_size=4),
        "gate": st.dates(date(2026, 2, 2), date(2026, 4, 1)),
    }
)


@settings(max_examples=40, deadline=None)
@given(ours=drawn, before=drawn, after=drawn)
def test_another_workshop_moves_no_date(ours: Any, before: Any, after: Any) -> None:
    mine, theirs, changed = workshop(1000, ours), workshop(5000, before), workshop(5000, after)
    was, now = dates(one_roof(mine, theirs), mine), dates(one_roof(mine, changed), mine)
    alone = dates(one_roof(mine), mine)
    for job in was:
        assert np.array_equal(was[job], now[job])
        assert np.array_equal(was[job], alone[job])


@settings(max_examples=20, deadline=None)
@given(ours=drawn, theirs=drawn)
def test_what_is_said_of_another_workshop_moves_no_date(ours: Any, theirs: Any) -> None:
    mine, other = workshop(1000, ours), workshop(5000, theirs)
    shop = one_roof(mine, other)
    was = dates(shop, mine)
    said = whatif.apply(
        shop,
        whatif.PersonAway(5001, date(2026, 3, 20)),
        whatif.BenchesDown(5001, date(2026, 3, 10)),
        whatif.GateLater(5001, date(2026, 4, 30)),
        whatif.JobFirst(5001),
        now=NOW,
    )
    now = dates(said, mine)
    assert all(np.array_equal(was[job], now[job]) for job in was)


def test_a_change_in_the_own_workshop_does_move_one() -> None:
    values = {
        "benches": 1,
        "paces": [1.0],
        "ratios": [],
        "jobs": [(600, None, False)],
        "gate": date(2026, 3, 2),
    }
    mine = workshop(1000, values)
    longer = mine | {"operations": tuple(replace(row, minutes=1200) for row in mine["operations"])}
    was, now = dates(one_roof(mine), mine), dates(one_roof(longer), mine)
    assert not np.array_equal(was[1001], now[1001])
