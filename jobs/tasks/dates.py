"""Dates made by a worker."""

from datetime import datetime

from django.tasks import task
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from jobs.actions.plan import is_due, renew
from jobs.models import PlanState

from .queue import DATES


@task(queue_name=DATES)
def make_dates() -> int | None:
    """Which revision the dates are of that it made; None where there was nothing to make by then, or somebody else was
    making them."""
    at = timezone.now()
    state = renew(at=at)
    return state.planned_revision if state.planned_at == at else None


def ask_if_due(at: datetime) -> bool:
    """Ask for dates where they are out of date or have aged and nobody has asked yet; whether this did."""
    if not is_due(PlanState.current(), at):
        return False
    open_ones = DBTaskResult.objects.ready() | DBTaskResult.objects.running()
    if open_ones.filter(queue_name=DATES).exists():
        return False
    make_dates.enqueue()
    return True
