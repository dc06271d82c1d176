"""How long work done outside takes in the plan: as many days as the supplier takes who is chosen for it."""

from datetime import datetime

from jobs.models import Need

from .base import Actor
from .operations import change_estimate

MINUTES_A_DAY = 24 * 60


def follow_supplier(need: Need, *, by: Actor, at: datetime) -> None:
    """For actions that chose a supplier and hold the lock of the job: the work is out for the days of that supplier.

    What is out already or back keeps its estimate, and so does work whose supplier nobody knows.
    """
    row, days = need.outside, need.lead_days
    if row is None or not days or row.started_at is not None or row.finished_at is not None:
        return
    if row.estimate != days * MINUTES_A_DAY:
        whose = need.supplier.name if need.supplier else "the supplier"
        why = f"{whose} takes {days} day{'s' if days > 1 else ''}"
        change_estimate(row, days * MINUTES_A_DAY, why=why, by=by, at=at)
