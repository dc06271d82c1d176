"""Who is away today and whether the studio is closed, as entered in set-up: to be known on the floor beside what was
said to have changed."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from .day_changes import Lasting
from .people import ClosedDay, DayOff
from .prepared import Prepared


@dataclass(frozen=True, slots=True)
class KnownAway:
    """In words, with the last day if that is not today, the reason, and the page of set-up that it was entered on."""

    words: str
    until: date | None
    why: str
    url: str


_OFF = Prepared(
    lambda today: (
        DayOff.objects.filter(first__lte=today, last__gte=today, person__active=True)
        .select_related("person")
        .order_by("person__name", "last", "pk")
    )
)
_CLOSED = Prepared(lambda today: ClosedDay.objects.filter(day=today))


def read_known_away(today: date, lasting: Iterable[Lasting], workshop: int | None = None) -> list[KnownAway]:
    """Without days off that `lasting` tells already, and of each person those that end last. Two queries."""
    told = {each.change.day_off_id for each in lasting}
    closed = [
        KnownAway("The studio is closed today", None, row.name, reverse("set-up-closed-days"))
        for row in _CLOSED(today)
    ]
    rows = [row for row in _OFF(today) if workshop in (None, row.person.workshop_id)]
    off = {row.person_id: row for row in rows if row.pk not in told}
    return closed + [
        KnownAway(
            f"{row.person} is away" if row.last > today else f"{row.person} is away today",
            row.last if row.last > today else None,
            row.reason,
            reverse("set-up-person", args=[row.person_id]),
        )
        for row in off.values()
    ]
