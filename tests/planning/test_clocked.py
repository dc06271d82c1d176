"""The kernel against a floor without events, which goes from minute to minute: equal operation by operation."""

from __future__ import annotations

import pytest

from tests.planning.clocked_floor import ClockedFloor
from tests.planning.runs import checked, drawn_minutes, laid_out, run_once
from tests.planning.shops import generated

SEEDS = (*range(10), 11, 15, 17, 18, 19)


@pytest.mark.parametrize("seed", SEEDS)
def test_start_finish_and_people_are_those_of_the_floor_without_events(seed: int) -> None:
    shop, now = generated(seed, jobs=3)
    minutes = drawn_minutes(shop, seed)
    ours = run_once(laid_out(shop, now), minutes, shop=shop)
    theirs = ClockedFloor(shop, checked(shop, now).operations, minutes, now).run()
    assert ours == theirs
    assert ours
