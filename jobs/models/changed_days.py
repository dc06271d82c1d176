"""The day promised before and the one that holds now, and a reason for it that a customer may read."""

import re
from dataclasses import dataclass
from datetime import date

from .orders import Customer, Job, Promise
from .people import Person

# A figure or a word that is the name of something else by chance is let pass where it is shorter.
SHORTEST = 3


@dataclass(frozen=True, slots=True)
class ChangedDay:
    """The day that was promised before, and the one that holds now by `promise`."""

    before: date
    promise: Promise

    @property
    def now(self) -> date:
        return self.promise.day

    @property
    def later(self) -> bool:
        return self.now > self.before


def changed_day_of(job: Job) -> ChangedDay | None:
    """From the last promise and the last one of another day; None where the promised day has not changed."""
    promises = list(Promise.objects.filter(job=job).order_by("-given_at", "-pk"))
    before = next((each.day for each in promises if each.day != promises[0].day), None)
    return ChangedDay(before, promises[0]) if before else None


def others_named(job: Job, words: str) -> str:
    """What a text for the customer of `job` names that is none of theirs: another job, another customer or somebody
    who works here, in words; "" where it names nothing of the kind."""
    told = set(re.findall(r"[A-Za-z0-9][A-Za-z0-9.-]*[A-Za-z0-9]", words.casefold()))
    for number in Job.objects.exclude(pk=job.pk).values_list("number", flat=True):
        if len(number) >= SHORTEST and number.casefold() in told:
            return f"job {number}"
    others = Customer.objects.exclude(pk=job.customer_id).values_list("name", flat=True)
    for name in (*others, *Person.objects.values_list("name", flat=True)):
        if len(name) >= SHORTEST and _has_words(words, name):
            return str(name)
    return ""


def reason_told(job: Job, promise: Promise) -> str:
    """Why the day changed, as it was written down; "" where that is not fit for the customer."""
    return "" if not promise.reason or others_named(job, promise.reason) else promise.reason


def _has_words(text: str, name: str) -> bool:
    return re.search(rf"(?<!\w){re.escape(name.casefold())}(?!\w)", text.casefold()) is not None
