"""How much of an hour at work becomes logged work.

Estimates are learned from logged minutes, but people are at work for the whole of their shift: they sweep, fetch, talk
to customers. A plan that fills every minute of a shift with logged work is too early, and the further off the more.
So the pace of everybody is taken down by the share that was logged lately. People who have too little to do log little
for that reason, so the share is that of the busiest third, who never wait for work for long.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Sum

from jobs.models import Person, TimeEntry
from jobs.models.working import WorkingHours
from jobs.planning.calendars import working_minutes

SPAN = timedelta(weeks=8)
# With less logged than this (five weeks of one person) every minute at work is taken to be work.
ENOUGH = 200 * 60
# Nobody with less time at work in the span is looked at; a share under the least is a studio that does not log.
_PRESENT = 40 * 60
_LEAST = 0.5


def logged_shares(
    people: Iterable[Person], hours: Mapping[int, WorkingHours], at: datetime
) -> dict[int, float]:
    """The share of each of these people by id: that of their workshop. One query for each workshop."""
    found: dict[int | None, list[int]] = defaultdict(list)
    for person in people:
        found[person.workshop_id].append(person.pk)
    shares: dict[int, float] = {}
    for own in found.values():
        shares |= dict.fromkeys(own, logged_share({pk: hours[pk] for pk in own}, at))
    return shares


def logged_share(hours: Mapping[int, WorkingHours], at: datetime) -> float:
    """The share of time at work that the busiest third logged in the last weeks, 0.5 to 1; 1 without a history.

    `hours`: of each person, right for the span as well. Today, of which some is not logged yet, does not count. One
    query.
    """
    zone = next((ZoneInfo(own.zone) for own in hours.values()), UTC)
    stop = at.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    start = stop - SPAN
    # By person and start, which is an index: the whole history is not looked through.
    entries = TimeEntry.objects.counted().filter(person__in=hours, started_at__gte=start, started_at__lt=stop)
    logged: dict[int, int] = dict(entries.order_by().values_list("person").annotate(Sum("minutes")))
    if sum(logged.values()) < ENOUGH:
        return 1.0
    shares = []
    for person, own in hours.items():
        present = working_minutes(own.shifts, own.days_off, own.closed, own.zone, start, stop, own.extra)
        if present >= _PRESENT:
            shares.append(logged.get(person, 0) / present)
    busiest = sorted(shares, reverse=True)[: math.ceil(len(shares) / 3)]
    if not busiest:
        return 1.0
    return min(max(sum(busiest) / len(busiest), _LEAST), 1.0)
