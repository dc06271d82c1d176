"""What a person at a bench may name by its key: the work of the station they stand at, and their own wherever it is.

A key that leads to anything else is answered as one that leads nowhere.
"""

from django.db.models import Exists, OuterRef, Q, QuerySet

from .hours import TimeEntry
from .operations import Hold, Operation
from .prepared import Prepared


def _own(person: int) -> Q:
    """Work that is theirs: on the bench with them, meant for them, or with hours of theirs."""
    hours = TimeEntry.objects.filter(operation=OuterRef("pk"), person=person)
    return Q(keeper=person) | Q(pinned_person=person) | Q(Exists(hours))


def _at_one(station: int, person: int) -> QuerySet[Operation]:
    return Operation.objects.filter(Q(kind__station=station) | _own(person))


def _at_any(person: int) -> QuerySet[Operation]:
    return Operation.objects.filter(Q(kind__station__active=True) | _own(person))


def _holding(works: QuerySet[Operation]) -> QuerySet[Hold]:
    """The holds that some of this work rests by: its own, its panel's or its job's."""
    rests = Q(pk=OuterRef("operation")) | Q(panel=OuterRef("panel")) | Q(job=OuterRef("job"))
    return Hold.objects.filter(Exists(works.filter(rests)))


def _entries(pk: int, person: int) -> QuerySet[TimeEntry]:
    return TimeEntry.objects.filter(pk=pk, person=person)


class Reach:
    """Finds a row by its key, as far as a person reaches: at one station, or for what was tapped at any and comes
    late, which does not say at which."""

    def __init__(self, at_one: Prepared, at_any: Prepared, *, of_station: bool = True) -> None:
        self.at_one, self.at_any, self.of_station = at_one, at_any, of_station

    def find(self, pk: int, person: int, station: int | None = None) -> Operation | Hold | TimeEntry | None:
        if station is None or not self.of_station:
            found: Operation | Hold | TimeEntry | None = self.at_any.first(pk, person)
            return found
        return self.at_one.first(pk, person, station)  # type: ignore[no-any-return]


OPERATIONS = Reach(
    Prepared(lambda pk, person, station: _at_one(station, person).filter(pk=pk)),
    Prepared(lambda pk, person: _at_any(person).filter(pk=pk)),
)
HOLDS = Reach(
    Prepared(lambda pk, person, station: _holding(_at_one(station, person)).filter(pk=pk)),
    Prepared(lambda pk, person: _holding(_at_any(person)).filter(pk=pk)),
)
# Hours are a person's own at whichever bench they stand.
ENTRIES = Reach(Prepared(_entries), Prepared(_entries), of_station=False)
