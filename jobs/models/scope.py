"""Whose rows a reader sees: those of one workshop, or all.

`scope(rows, workshop)` is the one place that knows how a row belongs to a workshop. None is everybody's view: whoever
is bound to no workshop, and every studio that has only one.
"""

from typing import Any

from django.db.models import Model, Q, QuerySet

from .accounts import Account
from .calendar_links import CalendarEntry
from .customer_links import CustomerLink, DrawingApproval
from .day_changes import DayChange
from .drawings import Pattern
from .drawings import Takeoff as TakeoffRow
from .hours import TimeEntry
from .kinds import OperationKind
from .materials import Need
from .operations import Breakage, Hold, Operation
from .orders import Gate, Job, Panel, Promise
from .people import DayOff, ExtraHours, Person, Skill
from .photos import Photo
from .plans import LoadWeek
from .quotes import Quote
from .stations import Station
from .taps import LateTap
from .workshops import Workshop
from .written import Mail

# The ways from a row to its workshop; a row with several ways (one of which it takes) belongs where any of them leads.
PATHS: dict[type[Model], tuple[str, ...]] = {
    Breakage: ("operation__job__workshop",),
    CalendarEntry: ("job__workshop",),
    CustomerLink: ("job__workshop",),
    DayChange: (
        "person__workshop",
        "station__workshop",
        "job__workshop",
        "gate__job__workshop",
        "operation__job__workshop",
        "need__job__workshop",
    ),
    DayOff: ("person__workshop",),
    DrawingApproval: ("panel__job__workshop",),
    ExtraHours: ("person__workshop",),
    Gate: ("job__workshop",),
    Hold: ("job__workshop", "panel__job__workshop", "operation__job__workshop"),
    Job: ("workshop",),
    LateTap: ("person__workshop",),
    LoadWeek: ("station__workshop",),
    Mail: ("job__workshop",),
    Need: ("job__workshop",),
    Operation: ("job__workshop",),
    Panel: ("job__workshop",),
    Pattern: ("panel__job__workshop",),
    Person: ("workshop",),
    Photo: ("panel__job__workshop",),
    Promise: ("job__workshop",),
    Quote: ("job__workshop",),
    Skill: ("station__workshop",),
    Station: ("workshop",),
    TakeoffRow: ("panel__job__workshop",),
    TimeEntry: ("person__workshop",),
    Workshop: ("pk",),
}


def scope[Rows: QuerySet[Any, Any]](rows: Rows, workshop: int | None) -> Rows:
    """Of `rows` those of the workshop with this id; all of them for None. Raises KeyError for rows of no workshop."""
    if workshop is None:
        return rows
    if rows.model is OperationKind:
        # A cure and outside work are everybody's.
        return rows.filter(Q(station__isnull=True) | Q(station__workshop=workshop))
    found = Q()
    for path in PATHS[rows.model]:
        found |= Q(**{path: workshop})
    return rows.filter(found)


def bound_to(account: Account) -> int | None:
    """The workshop whose rows alone the account sees: its own, or that of its station; None for all."""
    if account.workshop_id is None and account.station is not None:
        return account.station.workshop_id
    return account.workshop_id
