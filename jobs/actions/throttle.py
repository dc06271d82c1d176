"""How often somebody who is not signed in may ask: counted in rows, so that it holds over all processes of the server.

Not Events: they change nothing that anybody works by.
"""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from django.db.models import F

from jobs.models import Asked


def count(whats: Mapping[str, int], *, at: datetime) -> dict[str, int]:
    """One more of each in its span of so many seconds that `at` lies in; how many that makes."""
    named = {what: _named(what, seconds, at) for what, seconds in whats.items()}
    numbers = Asked.objects.one_more(dict(named.values()))
    return {what: numbers[key] for what, (key, _) in named.items()}


def counted(whats: Mapping[str, int], *, at: datetime) -> dict[str, int]:
    """How many of each there were in its span until now. One query."""
    named = {what: _named(what, seconds, at) for what, seconds in whats.items()}
    numbers = Asked.objects.numbers(dict(named.values()))
    return {what: numbers.get(key, 0) for what, (key, _) in named.items()}


def forgive(whats: Mapping[str, int], *, at: datetime) -> None:
    """One less of each of these, which were counted at the same `at`: it was nothing to hold against anybody."""
    keys = [_named(what, seconds, at)[0] for what, seconds in whats.items()]
    Asked.objects.filter(what__in=keys, number__gt=0).update(number=F("number") - 1)


def forget_asked(*, at: datetime) -> int:
    """Delete the counts of spans that are over; gives how many."""
    return Asked.objects.filter(until__lte=at).delete()[0]


def _named(what: str, seconds: int, at: datetime) -> tuple[str, datetime]:
    """The name of the span that `at` lies in, and its end."""
    number = int(at.timestamp()) // seconds
    return f"{what}:{seconds}:{number}", datetime.fromtimestamp(0, UTC) + timedelta(
        seconds=(number + 1) * seconds
    )
