"""Days on which the whole studio is closed, and the public holidays of where it is.

Which days are public holidays is known by the `holidays` package, by ISO 3166 country and subdivision.
"""

import re
from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction
from django.utils.formats import date_format

from jobs.models import ClosedDay

from .base import Actor, Refused, mark_out_of_date, record

NAME_LENGTH = 80
FIRST_YEAR, LAST_YEAR = 2000, 2100


@transaction.atomic
def add_closed_days(days: Iterable[tuple[date, str]], *, by: Actor, at: datetime) -> list[ClosedDay]:
    """Close the studio on days, each with its name; refuses all of them if one is closed already."""
    wanted = {day: name.strip()[:NAME_LENGTH] for day, name in days}
    if not wanted:
        raise Refused("No day was chosen.")
    known = ClosedDay.objects.filter(day__in=wanted).first()
    if known:
        raise Refused(f"The studio is closed on {date_format(known.day, 'j F Y')} already.", "day")
    rows = [ClosedDay.objects.create(day=day, name=name) for day, name in sorted(wanted.items())]
    for row in rows:
        record("closed", row, by=by, at=at, after={"day": row.day, "name": row.name})
    mark_out_of_date()
    return rows


@transaction.atomic
def remove_closed_day(closed: ClosedDay, *, by: Actor, at: datetime) -> None:
    """The studio works on that day after all."""
    if not ClosedDay.objects.filter(pk=closed.pk).delete()[0]:
        raise Refused("The studio is open on that day already.")
    record("opened", closed, by=by, at=at, before={"day": closed.day, "name": closed.name})
    mark_out_of_date()


def countries() -> dict[str, str]:
    """The countries whose public holidays are known: names by code, in the order of names."""
    from holidays.registry import COUNTRIES

    # A class of the registry is called as its country is, written together: UnitedStates.
    named = {
        code: re.sub(r"(?<=[a-z])(?=[A-Z])", " ", names[0])
        for names in COUNTRIES.values()
        for code in names[1:]
        if len(code) == 2
    }
    return dict(sorted(named.items(), key=lambda item: item[1]))


def regions(country: str) -> list[str]:
    """The codes of the regions of a country that have holidays of their own; none for an unknown country."""
    import holidays

    try:
        return sorted(code for code in holidays.list_supported_countries().get(country, []) if len(code) <= 6)
    except KeyError:
        return []


def check_region(country: str, region: str) -> None:
    """Refuse a country or region whose holidays are not known, with those that are."""
    if not country:
        if region:
            raise Refused("A region needs its country.", "country")
        return
    if country not in countries():
        known = ", ".join(sorted(countries()))
        raise Refused(
            f"“{country}” is not a country whose holidays are known. Known are: {known}.", "country"
        )
    known_regions = regions(country)
    if region and region not in known_regions:
        known = f"Known are: {', '.join(known_regions)}." if known_regions else "Leave it empty."
        raise Refused(f"“{region}” is not a region of {countries()[country]}. {known}", "region")


def public_holidays(country: str, region: str, year: int) -> list[tuple[date, str]]:
    """The public holidays of a year, in its order, with their names as they are called there."""
    import holidays

    if not country:
        raise Refused("Say in the studio's settings first which country's holidays these are.")
    check_region(country, region)
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise Refused(f"A year from {FIRST_YEAR} to {LAST_YEAR}, please.", "year")
    found = holidays.country_holidays(country, subdiv=region or None, years=year)
    return sorted((day, name[:NAME_LENGTH]) for day, name in found.items() if day.year == year)
