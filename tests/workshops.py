"""A second workshop beside the cast's own: Mill Street, with Petra Lang who bevels and cuts there. All invented."""

from datetime import time
from decimal import Decimal

from jobs.models import Job, OperationKind, Panel, Person, Shift, Skill, Station, Workshop
from tests import cast

STATIONS = ("Cutting", "Beveling", "Assembly")


def make_second() -> Workshop:
    """Its stations and kinds of work are those of the cast with its street behind the name; blasting it has none."""
    Workshop.objects.filter(pk=1).update(name="Lakeside", slug="lakeside")
    mill = Workshop.objects.create(name="Mill Street", slug="mill-street", place=1)
    petra = Person.objects.create(name="Petra Lang", workshop=mill, hourly_cost=Decimal("30"))
    for place, name in enumerate(STATIONS, 10):
        station = Station.objects.create(
            name=f"{name} Mill Street",
            slug=f"{name.lower()}-mill-street",
            place=place,
            benches=2,
            workshop=mill,
        )
        Skill.objects.create(person=petra, station=station)
        for kind in OperationKind.objects.filter(station__name=name, same_as=None):
            root = kind.pk
            kind.pk, kind.name, kind.slug = None, f"{kind.name} Mill Street", f"{kind.slug}-mill-street"
            kind.station, kind.same_as_id = station, root
            kind.save()
    for weekday in range(5):
        Shift.objects.create(person=petra, weekday=weekday, start=time(8), stop=time(12))
        Shift.objects.create(person=petra, weekday=weekday, start=time(12, 30), stop=time(16, 30))
    return mill


def make_mill_panel(number: str = "0500") -> Panel:
    """A panel of a job of Mill Street, cut, beveled and assembled there; the second workshop has to be there."""
    mill = Workshop.objects.get(slug="mill-street")
    job: Job = cast.make_job(number, "Mill window", workshop=mill)
    return cast.make_panel(job, kinds=tuple(f"{name} Mill Street" for name in STATIONS))
