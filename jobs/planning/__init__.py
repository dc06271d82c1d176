"""Shop in, dates out. Pure: no database, no clock, no Django. Start with `plan`."""

from __future__ import annotations

from datetime import datetime

from jobs.planning.result import LoadWeek, OperationPlan, PersonWeek, Plan, Problem, Window
from jobs.planning.shop import Gate, Job, Kind, Nature, Operation, Person, Shift, Shop, Station

__all__ = [
    "Gate",
    "Job",
    "Kind",
    "LoadWeek",
    "Nature",
    "Operation",
    "OperationPlan",
    "Person",
    "PersonWeek",
    "Plan",
    "Problem",
    "Shift",
    "Shop",
    "Station",
    "Window",
    "plan",
]


def plan(shop: Shop, *, now: datetime, seed: int = 1, futures: int = 1000) -> Plan:
    """Run the floor `futures` times from `now` and say when each panel and job is ready, and how sure that is.

    Same shop, now, seed and futures: the same plan, byte for byte. ValueError for a `now` without a zone or for fewer
    than one future; whatever in the shop cannot be planned is a Problem in the plan, never an exception.
    """
    # The kernel and its compiler are loaded by whoever wants dates, not by whoever only names a shop.
    from jobs.planning.planner import make_plan

    return make_plan(shop, now=now, seed=seed, futures=futures)
