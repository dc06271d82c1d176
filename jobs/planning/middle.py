"""The floor run once, without drawing anything: what a chain is read off and what plans are told by."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import numpy as np

from jobs.planning.arrays import NEVER, Small
from jobs.planning.calendars import local_day, to_minute
from jobs.planning.layout import Layout, lay_out, next_working_day
from jobs.planning.planner import HORIZONS, _outlast_holds
from jobs.planning.shop import Operation, Shop


def middle_run(
    shop: Shop, operations: Iterable[Operation], minutes: Small, *, now: datetime
) -> tuple[Layout, Small, Small, Small]:
    """One run of the floor alone, for one row of minutes in the order of `operations`: its layout, start, finish and
    people, in the layout's order."""
    from jobs.planning.futures import simulate  # The compiler, for whoever runs the floor.

    rows = list(operations)
    origin = to_minute(now)
    today = local_day(origin, shop.zone)
    column = {operation.id: i for i, operation in enumerate(rows)}
    for days in HORIZONS:
        layout = lay_out(
            shop, rows, origin=origin, today=today, next_day=next_working_day(shop, today), days=days
        )
        ordered = np.ascontiguousarray(minutes[:, [column[o.id] for o in layout.operations]], np.int32)
        _outlast_holds(layout, shop, ordered)
        start, finish, people, _ = simulate(layout.floor, ordered, weeks=layout.weeks, threads=1)
        if int(finish.max(initial=0)) < NEVER:
            break
    return layout, start[0], finish[0], people[0]
