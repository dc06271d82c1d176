"""The stations of the floor, and how many benches each has."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from jobs.models import Operation, Station, Workshop

from .base import Actor, Refused, mark_out_of_date, put, record
from .names import clean_name, free_slug

FIELDS = ("name", "place", "benches", "active", "workshop")
MOST_BENCHES = 200


@transaction.atomic
def add_station(
    name: str, benches: int = 1, workshop: Workshop | None = None, *, by: Actor, at: datetime
) -> Station:
    """A station after all others; its address on the tablets is made from the name and stays when that changes.

    It is of the first workshop where none is given.
    """
    last = Station.objects.order_by("-place").values_list("place", flat=True).first()
    station = Station(
        name=clean_name(name, "station", 40), benches=benches, place=0 if last is None else last + 1
    )
    if workshop is not None:
        station.workshop = workshop
    _check(station)
    station.slug = free_slug(Station, station.name)
    station.save()
    record("added", station, by=by, at=at, after={"name": station.name, "benches": benches})
    mark_out_of_date()
    return station


@transaction.atomic
def change_station(station: Station, values: Mapping[str, Any], *, by: Actor, at: datetime) -> Station:
    """Change what FIELDS say; a station closes only when no unfinished work is left for it.

    It goes to another workshop only while nobody works there and no job has had work there.
    """
    station = Station.objects.select_for_update().get(pk=station.pk)
    wanted = {name: values[name] for name in FIELDS if name in values}
    if "name" in wanted:
        wanted["name"] = clean_name(wanted["name"], "station", 40)
    before, after = put(station, wanted)
    if not after:
        return station
    _check(station)
    if after.get("active") is False:
        _check_no_open_work(station, at)
    if "workshop" in after:
        _check_unused(station)
    station.save(update_fields=list(after))
    record("changed", station, by=by, at=at, before=before, after=after)
    mark_out_of_date()
    return station


def _check(station: Station) -> None:
    if Station.objects.filter(name__iexact=station.name).exclude(pk=station.pk).exists():
        raise Refused(f"There is a station {station.name} already.", "name")
    if not 1 <= station.benches <= MOST_BENCHES:
        raise Refused(f"A station has 1 to {MOST_BENCHES} benches; one out of use is not active.", "benches")
    if not 0 <= station.place <= 32_767:
        raise Refused("The order on the floor is a number from 0 on.", "place")


def _check_no_open_work(station: Station, at: datetime) -> None:
    waiting = Operation.objects.open(at).filter(kind__station=station).count()
    if waiting:
        works = "operation is" if waiting == 1 else "operations are"
        raise Refused(f"{waiting} unfinished {works} still to be done at {station.name}.", "active")


def _check_unused(station: Station) -> None:
    if station.skills.exists() or Operation.objects.filter(kind__station=station).exists():
        raise Refused(
            f"{station.name} has people or work in its workshop: add a station to the other one instead.",
            "workshop",
        )
