"""Run the planner's floor for a test, and read it by operation."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from datetime import datetime

import numpy as np

from jobs.planning import Shop
from jobs.planning.arrays import NEVER
from jobs.planning.calendars import local_day, to_minute
from jobs.planning.check import Checked, begun, check
from jobs.planning.futures import KERNEL, simulate
from jobs.planning.layout import Layout, lay_out, next_working_day


def checked(shop: Shop, now: datetime) -> Checked:
    today = local_day(to_minute(now), shop.zone)
    return check(shop, today, next_working_day(shop, today))


def laid_out(shop: Shop, now: datetime, days: int = 400, rank: Mapping[int, float] | None = None) -> Layout:
    origin = to_minute(now)
    today = local_day(origin, shop.zone)
    return lay_out(
        shop,
        checked(shop, now).operations,
        origin=origin,
        today=today,
        next_day=next_working_day(shop, today),
        days=days,
        rank=rank,
    )


def drawn_minutes(shop: Shop, seed: int) -> dict[int, int]:
    """A duration for each operation, some of them zero."""
    draw = random.Random(seed)
    return {
        o.id: draw.choice((0, 1, o.minutes, round(o.minutes * draw.lognormvariate(0, 0.4))))
        for o in shop.operations
    }


def run_once(
    layout: Layout, minutes: Mapping[int, int], kernel: Callable[..., None] = KERNEL, shop: Shop | None = None
) -> dict[int, tuple[int, int, tuple[int, ...]]]:
    """Operation id -> start, finish, people; without what never ends."""
    row = np.array([[minutes[o.id] for o in layout.operations]], np.int32).reshape(1, -1)
    if shop is not None:
        nature = {kind.id: kind.nature for kind in shop.kinds}
        for i, o in enumerate(layout.operations):
            if not layout.attended[i] and begun(o, nature[o.kind]):
                row[0, i] = max(row[0, i], layout.held_for[i])
    start, finish, people, _ = simulate(layout.floor, row, weeks=layout.weeks, threads=1, kernel=kernel)
    seen = {}
    for i, o in enumerate(layout.operations):
        crew: tuple[int, ...] = ()
        if layout.attended[i]:
            at = layout.floor.crew_at[i]
            crew = tuple(layout.people[p].id for p in people[0, at : at + o.crew])
        if finish[0, i] < NEVER:
            seen[o.id] = (int(start[0, i]), int(finish[0, i]), crew)
    return seen
