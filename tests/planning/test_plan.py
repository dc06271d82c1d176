"""The plan of small named shops: windows, the rules of the floor, assumptions, and what is not an error."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from jobs.planning import Gate, Kind, Nature, Plan, Shift, futures, plan
from jobs.planning.floor import run_futures
from tests.planning.shops import (
    ANN,
    BEN,
    BEVEL,
    BEVELING,
    BUILD,
    BUILDING,
    CURE,
    CUT,
    CUTTING,
    KINDS,
    MONDAY,
    STATIONS,
    TEMPER,
    generated,
    job,
    person,
    shop,
    typical,
    work,
)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


def planned(*operations: object, now: datetime = MONDAY, runs: int = 50, **more: object) -> Plan:
    return plan(shop(*operations, **more), now=now, futures=runs)  # type: ignore[arg-type]


def test_a_panel_goes_through_the_floor() -> None:
    """By hand: Ann cuts until noon, Ben bevels to Tuesday noon, it cures a day, Ann builds on Wednesday."""
    got = planned(
        work(1, 1, CUT, 240),
        work(2, 1, BEVEL, 480, after=(1,)),
        work(3, 1, CURE, 1440, after=(2,)),
        work(4, 1, BUILD, 60, after=(3,)),
    )
    rows = {i: (o.start, o.finish, o.person, o.rank) for i, o in got.operations.items()}
    assert rows == {
        1: (at(2, 8), at(2, 12), 1, 0),
        2: (at(2, 12), at(3, 12), 2, 0),
        3: (at(3, 12), at(4, 12), None, 0),
        4: (at(4, 12), at(4, 13), 1, 0),
    }
    assert got.problems == ()
    assert set(got.jobs) == set(got.panels) == {1}


def test_windows_chances_and_days_agree_with_each_other() -> None:
    got = planned(work(1, 1, CUT, 2400), work(2, 2, BEVEL, 2400), runs=400)
    for number, window in got.jobs.items():
        assert window.p50 < window.p80 < window.p95
        assert got.samples[number].shape == (400,)
        for share, moment in ((0.5, window.p50), (0.8, window.p80), (0.95, window.p95)):
            day = got.day_for(number, share)
            assert day == moment.date()
            assert got.chance(number, day) >= share
            assert got.chance(number, day - timedelta(days=1)) < share
    assert got.chance(1, date(2026, 3, 1)) == 0.0
    assert got.chance(1, date(2027, 3, 1)) == 1.0
    with pytest.raises(ValueError, match="confidence"):
        got.day_for(1, 0)
    with pytest.raises(KeyError):
        got.chance(7, date(2026, 3, 1))


def test_a_finish_at_midnight_belongs_to_the_day_that_ends() -> None:
    """A cure of exactly 16 hours from eight in the morning, in a zone of its own."""
    zone = ZoneInfo("America/Chicago")
    now = datetime(2026, 3, 2, 8, tzinfo=zone)
    got = planned(work(1, 1, CURE, 960), now=now, zone="America/Chicago")
    assert got.jobs[1].p50 == datetime(2026, 3, 3, 0, tzinfo=zone)
    assert got.jobs[1].p50.tzinfo == zone
    assert got.chance(1, date(2026, 3, 2)) == 1.0
    assert got.day_for(1, 0.8) == date(2026, 3, 2)


def test_the_bench_is_shared_in_the_order_of_promises_and_a_place_goes_first() -> None:
    rows = [work(n, n, CUT, 60) for n in (1, 2, 3)]
    jobs = (job(1, date(2026, 3, 20)), job(2, date(2026, 3, 10)), job(3))
    assert [planned(*rows, jobs=jobs).operations[n].rank for n in (1, 2, 3)] == [1, 0, 2]
    rows[2] = replace(rows[2], place=5)
    assert [planned(*rows, jobs=jobs).operations[n].rank for n in (1, 2, 3)] == [2, 1, 0]


def test_weight_breaks_a_tie_of_promises() -> None:
    jobs = (job(1, date(2026, 3, 10)), job(2, date(2026, 3, 10), 2.0))
    got = planned(work(1, 1, CUT, 60), work(2, 2, CUT, 60), jobs=jobs)
    assert got.operations[2].start < got.operations[1].start


def test_the_fastest_is_asked_first_then_who_can_do_least_else() -> None:
    cat = person(3, "Cat", {CUTTING: 1.5})
    dan = person(4, "Dan", {CUTTING: 1.0})
    stations = (replace(STATIONS[0], benches=3), *STATIONS[1:])
    got = planned(
        *(work(n, n, CUT, 90) for n in (1, 2, 3)), people=(ANN, BEN, cat, dan), stations=stations
    ).operations
    assert [got[n].person for n in (1, 2, 3)] == [3, 4, 1]
    assert [got[n].finish for n in (1, 2, 3)] == [at(2, 9), at(2, 9, 30), at(2, 9, 30)]


def test_work_on_the_bench_goes_on_with_its_keeper_who_finishes_one_thing_after_the_other() -> None:
    rows = (
        work(1, 1, BEVEL, 120, keeper=2, started=at(1, 9)),
        work(2, 2, BEVEL, 60, keeper=2, started=at(1, 10)),
        work(3, 3, BEVEL, 60),
    )
    jobs = (job(1, date(2026, 3, 30)), job(2, date(2026, 3, 20)), job(3, date(2026, 3, 3)))
    got = planned(*rows, jobs=jobs).operations
    assert [got[n].finish for n in (2, 1, 3)] == [at(2, 9), at(2, 11), at(2, 12)]
    assert got[1].start == at(1, 9)
    # Both benches are taken by the two; an eager second person waits for one.
    eve = person(5, "Eve", {BEVELING: 1.0})
    assert planned(*rows, jobs=jobs, people=(ANN, BEN, eve)).operations[3].start == at(2, 9)


def test_a_hold_on_the_bench_frees_the_keeper_until_it_ends() -> None:
    got = planned(
        work(1, 1, BEVEL, 60, keeper=2, started=at(1, 9), held=True, held_until=date(2026, 3, 3)),
        work(2, 2, BEVEL, 540),
    ).operations
    assert got[2].start == at(2, 8)
    assert (got[2].finish, got[1].finish) == (at(3, 9), at(3, 10))


def test_a_crew_works_only_while_all_of_it_is_there() -> None:
    late = replace(BEN, skills={BUILDING: 1.0}, shifts=tuple(Shift(d, time(12), time(20)) for d in range(5)))
    got = planned(work(1, 1, BUILD, 300, crew=2), people=(ANN, late)).operations[1]
    assert (got.start, got.finish) == (at(2, 12), at(3, 13))


def test_a_pin_waits_for_its_person() -> None:
    cat = person(3, "Cat", {CUTTING: 1.0}, days_off=frozenset({date(2026, 3, 2)}))
    got = planned(
        work(1, 1, CUT, 60, pinned_person=3), work(2, 2, CUT, 60), people=(ANN, BEN, cat)
    ).operations
    assert (got[1].start, got[1].person) == (at(3, 8), 3)
    assert got[2].start == at(2, 8)


@pytest.mark.parametrize(
    ("expected", "opens", "sentence"),
    [
        (date(2026, 3, 5), at(5, 8), None),
        (date(2026, 3, 2), at(3, 8), None),  # Today and not there yet: the next working day.
        (date(2026, 2, 20), at(3, 8), "0401: “glass in” was expected on 20 February; 3 March is assumed."),
        (None, at(16, 8), "0401: no day is given for “glass in”; 16 March is assumed."),
    ],
)
def test_gates_open_on_their_day(expected: date | None, opens: datetime, sentence: str | None) -> None:
    got = planned(work(1, 1, CUT, 60, gates=(1,)), gates=(Gate(1, "glass in", 1, expected, cleared=False),))
    assert got.operations[1].start == opens
    assert [p.sentence for p in got.problems] == ([sentence] if sentence else [])


def test_a_cleared_gate_and_a_waived_one_hinder_nothing() -> None:
    gates = (
        Gate(1, "glass in", 1, date(2026, 4, 1), cleared=True),
        Gate(2, "deposit in", 1, None, cleared=False),
    )
    got = planned(
        work(1, 1, CUT, 60, gates=(1,)),
        work(2, 1, BEVEL, 60, after=(1,), gates=(2,), early=True),
        gates=gates,
    )
    assert got.operations[1].start == got.operations[2].start == at(2, 8)
    assert got.problems == ()


@pytest.mark.parametrize(
    ("until", "starts", "sentences"),
    [
        (date(2026, 3, 4), at(4, 8), []),
        (date(2026, 3, 1), at(3, 8), []),
        (None, at(16, 8), ["0401: cutting is held without a day to go on; 16 March is assumed."]),
    ],
)
def test_holds_end_on_their_day(until: date | None, starts: datetime, sentences: list[str]) -> None:
    got = planned(work(1, 1, CUT, 60, held=True, held_until=until))
    assert got.operations[1].start == starts
    assert [p.sentence for p in got.problems] == sentences


def test_what_comes_back_at_night_is_ready_at_the_next_shift() -> None:
    kinds = (*KINDS[:4], Kind(TEMPER, "tempering", Nature.CURE))
    got = planned(work(1, 1, TEMPER, 19 * 60), work(2, 1, CUT, 60, after=(1,)), kinds=kinds).operations
    assert got[1].finish == at(3, 3)
    assert got[2].start == at(3, 8)


def test_a_held_cure_under_way_keeps_back_what_comes_after() -> None:
    got = planned(
        work(1, 1, CURE, 60, started=at(2, 7, 30), held=True, held_until=date(2026, 3, 4)),
        work(2, 1, CUT, 60, after=(1,)),
    ).operations
    assert (got[1].start, got[1].finish, got[2].start) == (at(2, 7, 30), at(4, 0), at(4, 8))


def test_finished_work_has_no_dates_and_hinders_nothing() -> None:
    got = planned(
        work(1, 1, CUT, 60, done=True), work(2, 1, BEVEL, 60, after=(1,)), work(3, 2, CUT, 5, done=True)
    )
    assert set(got.operations) == {2}
    assert set(got.jobs) == {1}
    assert got.operations[2].start == at(2, 8)


def test_an_empty_shop_has_an_empty_plan() -> None:
    got = plan(shop(people=(), stations=(), kinds=()), now=MONDAY, futures=3)
    assert (got.jobs, got.operations, got.load, got.tightest, got.problems) == ({}, {}, (), None, ())


def test_the_load_of_a_station_by_week_and_the_tightest() -> None:
    """By hand: 60 exact hours for Ben, who has 40 a week at one of two benches; Ann's 40 are split in two."""
    kinds = tuple(replace(kind, log_ratios=()) for kind in KINDS)
    got = planned(work(1, 1, BEVEL, 3600), work(2, 2, CUT, 60), kinds=kinds, runs=101)
    beveling = [week for week in got.load if week.station == BEVELING]
    assert [week.week for week in beveling[:2]] == [date(2026, 3, 2), date(2026, 3, 9)]
    assert beveling[0].work_minutes == beveling[0].work_minutes_80 == beveling[0].capacity_minutes == 2400
    assert beveling[1].work_minutes <= beveling[1].work_minutes_80 <= 2400
    cutting = [week for week in got.load if week.station == CUTTING]
    assert cutting[0].capacity_minutes == 2400  # No building is waiting, so Ann can cut all week.
    assert got.tightest == BEVELING


def test_the_same_again_byte_for_byte_and_another_seed_otherwise() -> None:
    made, now = generated(5)
    first, again = (plan(made, now=now, seed=11, futures=64) for _ in range(2))
    assert repr(first) == repr(again)
    assert all(np.array_equal(first.samples[j], again.samples[j]) for j in first.samples)
    other = plan(made, now=now, seed=12, futures=64)
    assert any(not np.array_equal(first.samples[j], other.samples[j]) for j in first.samples)


def test_the_order_in_which_things_are_listed_does_not_matter() -> None:
    made, now = generated(6)
    turned = replace(
        made,
        operations=made.operations[::-1],
        people=made.people[::-1],
        stations=made.stations[::-1],
        jobs=made.jobs[::-1],
        kinds=made.kinds[::-1],
    )
    first, again = plan(made, now=now, futures=32), plan(turned, now=now, futures=32)
    assert first.operations == again.operations
    assert first.jobs == again.jobs


def test_the_number_of_threads_does_not_matter(monkeypatch: pytest.MonkeyPatch) -> None:
    made, now = typical()
    first = plan(made, now=now, futures=16)
    monkeypatch.setattr("jobs.planning.futures._processors", lambda: 1)
    assert plan(made, now=now, futures=16).jobs == first.jobs


@pytest.mark.parametrize(
    ("more", "message"),
    [({"now": datetime(2026, 3, 2)}, "time zone"), ({"futures": 0}, "one future")],  # noqa: DTZ001
)
def test_a_plan_that_cannot_be_meant(more: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        plan(shop(), **{"now": MONDAY, **more})  # type: ignore[arg-type]


WITHOUT = """
import sys
class Refuse:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {names!r}:
            raise ImportError(name + " is not to be imported")
sys.meta_path.insert(0, Refuse())
{then}
"""


def in_a_new_interpreter(then: str, names: tuple[str, ...], **environment: str) -> str:
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT.format(names=names, then=then)],
        cwd=root,
        # The kernel as it is compiled here: to compile it takes a quarter of a minute.
        env={"PATH": "/usr/bin:/bin", "NUMBA_CACHE_DIR": os.environ["NUMBA_CACHE_DIR"], **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_planning_works_where_django_cannot_be_imported() -> None:
    then = """
import pkgutil, importlib, jobs.planning
for module in pkgutil.walk_packages(jobs.planning.__path__, "jobs.planning."):
    importlib.import_module(module.name)
print("django" in sys.modules)
"""
    assert in_a_new_interpreter(then, ("django",)).strip() == "False"


def test_naming_a_shop_does_not_load_the_compiler() -> None:
    then = "import jobs.planning.check, jobs.planning.calendars, jobs.planning.readiness, jobs.planning.durations"
    assert in_a_new_interpreter(then, ("django", "numba", "scipy")) == ""


PLANS = """
from tests.planning.shops import generated
from jobs.planning import plan
made, now = generated(5)
print(plan(made, now=now, futures=4).jobs)
"""


def test_it_plans_without_a_compiler() -> None:
    compiled = in_a_new_interpreter(PLANS, ("django",))
    assert in_a_new_interpreter(PLANS, ("django",), NUMBA_DISABLE_JIT="1") == compiled


def test_where_no_folder_for_compiled_code_can_be_written_it_is_compiled_without(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    asked = []

    def njit(*_: object, **options: object) -> Callable[[object], object]:
        asked.append(options.get("cache", False))
        if options.get("cache"):
            raise RuntimeError("cannot cache function: no locator available")
        return lambda function: function

    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setattr(futures.numba.config, "CACHE_DIR", "")
    monkeypatch.setattr(futures.numba, "njit", njit)
    assert futures._compiled() is run_futures
    assert asked == [True, True, False]


def test_what_is_compiled_is_kept_apart_for_each_state_of_the_sources(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    used = []

    def njit(*_: object, **__: object) -> Callable[[object], object]:
        used.append(futures.numba.config.CACHE_DIR)
        return lambda function: function

    monkeypatch.setattr(futures.numba.config, "CACHE_DIR", str(tmp_path))
    monkeypatch.setattr(futures.numba, "njit", njit)
    futures._compiled()
    assert used == [str(tmp_path / futures.cache_name())]
    assert (tmp_path / futures.cache_name()).is_dir()
    assert str(tmp_path) == futures.numba.config.CACHE_DIR


@pytest.mark.parametrize("name", futures.SOURCES)
def test_a_change_of_any_source_of_the_kernel_names_another_folder(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = futures.cache_name()
    read = Path.read_bytes
    monkeypatch.setattr(Path, "read_bytes", lambda path: read(path) + (b"#" if path.name == name else b""))
    assert futures.cache_name() != before
