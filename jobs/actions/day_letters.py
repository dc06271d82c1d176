"""The letter that gives a customer another day: which days it tells, and a reason that speaks of nobody else."""

from datetime import datetime

from jobs.models import Job, OperationKind
from jobs.models.changed_days import ChangedDay, changed_day_of, others_named
from jobs.planning.plain import plain_reason
from jobs.planning.why import why

from .base import Refused
from .plan import read

LONGEST = 600


def changed_day(job: Job) -> ChangedDay:
    """From the last promise and the last one of another day. Refuses where the promised day has not changed."""
    found = changed_day_of(job)
    if found is None:
        raise Refused(
            f"No other day than the first has been promised for {job.number}: promise the new one first."
        )
    return found


def reason_for(job: Job, *, at: datetime) -> str:
    """Why it takes so long, by the plan as it stands, in words for the customer; "" where the plan does not say."""
    try:
        shop = read(at).shop
        found = why(shop, now=at, job=job.pk)
    except ValueError:
        return ""
    told = dict(OperationKind.objects.exclude(told="").values_list("pk", "told"))
    return plain_reason(found, shop, told) if found else ""


def checked_reason(job: Job, reason: str) -> str:
    """The reason as it goes out. Refuses one that names another job, another customer or somebody who works here."""
    reason = reason.strip()
    if not reason:
        raise Refused("Say why the day changes.", "reason")
    if len(reason) > LONGEST:
        raise Refused(f"Say it in {LONGEST} letters or fewer.", "reason")
    named = others_named(job, reason)
    if named.startswith("job "):
        raise Refused(f"It names {named}: a customer reads nothing about other jobs.", "reason")
    if named:
        raise Refused(f"It names {named}: leave others out of a letter to a customer.", "reason")
    return reason
