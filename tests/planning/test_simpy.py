"""The kernel against an independent model of the same floor: equal operation by operation for equal durations."""

from __future__ import annotations

import pytest

from jobs.planning import Nature
from jobs.planning.floor import run_futures
from tests.planning.runs import checked, drawn_minutes, laid_out, run_once
from tests.planning.shops import generated, typical
from tests.planning.simpy_floor import SimpyFloor

SEEDS = range(80)


@pytest.mark.parametrize("seed", SEEDS)
def test_start_finish_and_people_are_those_of_the_independent_model(seed: int) -> None:
    shop, now = generated(seed)
    minutes = drawn_minutes(shop, seed)
    ours = run_once(laid_out(shop, now), minutes, shop=shop)
    theirs = SimpyFloor(shop, checked(shop, now).operations, minutes, now).run()
    assert ours == theirs
    assert ours


@pytest.mark.parametrize("seed", range(0, 80, 5))
def test_compiled_and_plain_python_do_the_same(seed: int) -> None:
    shop, now = generated(seed)
    minutes = drawn_minutes(shop, seed)
    layout = laid_out(shop, now)
    assert run_once(layout, minutes, shop=shop) == run_once(layout, minutes, kernel=run_futures, shop=shop)


def test_a_shop_of_ordinary_size_is_the_same_too() -> None:
    shop, now = typical()
    minutes = {o.id: o.minutes for o in shop.operations}
    ours = run_once(laid_out(shop, now, 300), minutes)
    assert ours == SimpyFloor(shop, shop.operations, minutes, now, 300).run()
    assert len(ours) == len(shop.operations)


def test_the_generated_shops_hold_everything_that_is_to_be_compared() -> None:
    """Without this the comparison could quietly stop covering something."""
    names = ("kept", "two kept", "pinned", "placed", "crew", "gate", "held", "early", "down", "stays")
    seen = dict.fromkeys(names, 0)
    natures = set()
    for seed in SEEDS:
        shop, now = generated(seed)
        kinds = {kind.id: kind.nature for kind in shop.kinds}
        rows = checked(shop, now).operations
        natures |= {kinds[o.kind] for o in rows}
        keepers = [o.keeper for o in rows if o.keeper is not None]
        seen["kept"] += len(keepers)
        seen["two kept"] += len(keepers) - len(set(keepers))
        seen["pinned"] += sum(o.pinned_person is not None for o in rows)
        seen["placed"] += sum(o.place is not None for o in rows)
        seen["crew"] += sum(o.crew > 1 for o in rows)
        seen["gate"] += sum(bool(o.gates) for o in rows)
        seen["held"] += sum(o.held for o in rows)
        seen["down"] += sum(len(station.back) for station in shop.stations)
        seen["stays"] += sum(p.stays is not None for p in shop.people)
        seen["early"] += sum(o.early for o in rows)
    assert min(seen.values()) >= 20, seen
    assert natures == set(Nature)
