"""The letter that gives a customer another day: which days it tells, and a reason that speaks of nobody else."""

import re
from dataclasses import dataclass
from datetime import date, datetime

from jobs.models import Customer, Job, OperationKind, Person, Promise
from jobs.planning.plain import plain_reason
from jobs.planning.why import why

from .base import Refused
from .plan import read

LONGEST = 600
# A figure or a word that is the name of something else by chance is let pass where it is shorter.
SHORTEST = 3


@dataclass(frozen=True, slots=True)
class ChangedDay:
    """The day that was promised before, and the one that holds now."""

    before: date
    now: date

    @property
    def later(self) -> bool:
        return self.now > self.before


def changed_day(job: Job) -> ChangedDay:
    """From the last promise and the last one of another day. Refuses where the promised day has not changed."""
    days = list(Promise.objects.filter(job=job).order_by("-given_at", "-pk").values_list("day", flat=True))
    before = next((day for day in days if day != days[0]), None)
    if before is None:
        raise Refused(
            f"No other day than the first has been promised for {job.number}: promise the new one first."
        )
    return ChangedDay(before, days[0])


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
    numbers = Job.objects.exclude(pk=job.pk).values_list("number", flat=True)
    told = set(re.findall(r"[A-Za-z0-9][A-Za-z0-9.-]*[A-Za-z0-9]", reason.casefold()))
    for number in numbers:
        if len(number) >= SHORTEST and number.casefold() in told:
            raise Refused(f"It names job {number}: a customer reads nothing about other jobs.", "reason")
    others = Customer.objects.exclude(pk=job.customer_id).values_list("name", flat=True)
    for name in (*others, *Person.objects.values_list("name", flat=True)):
        if len(name) >= SHORTEST and _has_words(reason, name):
            raise Refused(f"It names {name}: leave others out of a letter to a customer.", "reason")
    return reason


def _has_words(text: str, name: str) -> bool:
    return re.search(rf"(?<!\w){re.escape(name.casefold())}(?!\w)", text.casefold()) is not None
