"""The named cast of the tests: a tiny studio in which every test knows everybody. All invented.

Mara bevels and cuts, Jonas assembles and cuts, Ilse bevels. They work 8:00-12:00 and 12:30-16:30, Monday to Friday.
Monday of the tests is 2 March 2026; the studio is in Vienna's time zone, where clocks change on 29 March 2026.
"""

from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone

from jobs.actions import Actor, patterns
from jobs.models import (
    Account,
    Came,
    Customer,
    Gate,
    Glass,
    Job,
    Nature,
    Operation,
    OperationKind,
    Panel,
    Pattern,
    Person,
    Role,
    Route,
    RouteStep,
    Shift,
    Skill,
    Station,
    Studio,
)

ZONE = ZoneInfo("Europe/Vienna")


def today() -> date:
    """The day in the studio, which late in the evening is another than that of the tests' own clock."""
    return timezone.localdate(timezone=ZONE)


STATIONS = ["Cutting", "Beveling", "Assembly", "Blasting"]
KINDS: list[dict[str, Any]] = [
    {
        "name": "Cutting",
        "station": "Cutting",
        "counts_pieces": True,
        "again_after_breakage": True,
        "needs_drawing": True,
    },
    {
        "name": "Beveling",
        "station": "Beveling",
        "counts_pieces": True,
        "again_after_breakage": True,
        "steps": ["coarse", "smooth", "fine", "cork", "felt"],
        "cautions": "Eye protection. Keep the wheel wet.",
    },
    {"name": "Assembly", "station": "Assembly", "cautions": "Lead: wash hands before you eat."},
    {"name": "Blasting", "station": "Blasting"},
    {"name": "Cure", "nature": Nature.CURE},
    {"name": "Lamination", "nature": Nature.OUTSIDE},
    {"name": "Delivery", "station": "Assembly", "crew": 2, "whole_job": True},
]
SKILLS = {
    "Mara Lind": {"Beveling": "1.00", "Cutting": "1.00"},
    "Jonas Beck": {"Assembly": "1.00", "Cutting": "1.00"},
    "Ilse Roth": {"Beveling": "0.80"},
}


def at(day: int, clock: str = "08:00", month: int = 3, year: int = 2026) -> datetime:
    """A time on the studio's clock; the 2nd of March 2026 is a Monday."""
    hour, minute = clock.split(":")
    return datetime(year, month, day, int(hour), int(minute), tzinfo=ZONE)


def make_studio() -> Studio:
    return Studio.objects.update_or_create(
        pk=1, defaults={"name": "Lakeside Glass Works", "time_zone": "Europe/Vienna", "currency": "EUR"}
    )[0]


def make_shop() -> None:
    """Stations, kinds, people with hours and skills, one route, one customer."""
    stations = {
        name: Station.objects.create(name=name, slug=name.lower(), place=place, benches=2)
        for place, name in enumerate(STATIONS)
    }
    for place, values in enumerate(KINDS):
        station = stations.get(values.get("station", ""))
        OperationKind.objects.create(
            **values | {"slug": values["name"].lower(), "place": place, "station": station}
        )
    for name, skills in SKILLS.items():
        person = Person.objects.create(name=name, hourly_cost=Decimal("30"))
        for station, pace in skills.items():
            Skill.objects.create(person=person, station=stations[station], pace=Decimal(pace))
        for weekday in range(5):
            Shift.objects.create(person=person, weekday=weekday, start=time(8), stop=time(12))
            Shift.objects.create(person=person, weekday=weekday, start=time(12, 30), stop=time(16, 30))
    route = Route.objects.create(name="Beveled window")
    before = None
    for place, (kind, minutes, piece) in enumerate(
        [("Cutting", 30, 6), ("Beveling", 0, 45), ("Assembly", 240, 0)]
    ):
        step = RouteStep.objects.create(
            route=route,
            kind=OperationKind.objects.get(name=kind),
            place=place,
            minutes=minutes,
            piece_minutes=Decimal(piece),
        )
        if before:
            step.after.add(before)
        before = step
    Customer.objects.create(name="Parish of the Two Rivers", email="office@two-rivers.example")


def make_account(username: str, role: Role, **values: Any) -> Account:
    return Account.objects.create_user(
        username=username, password="long enough 1", role=role, is_staff=role == Role.LEAD, **values
    )


def make_job(number: str = "0412", title: str = "Hall window", **values: Any) -> Job:
    defaults = {"customer": Customer.objects.get(name="Parish of the Two Rivers"), "entered_at": at(2)}
    return Job.objects.create(number=number, title=title, **defaults | values)


def make_panel(
    job: Job, number: int = 1, kinds: tuple[str, ...] = ("Cutting", "Beveling", "Assembly"), **values: Any
) -> Panel:
    """A panel of 10 pieces with its operations one after another: cutting 1:30, beveling 7:30, everything else 4:00."""
    defaults = {
        "name": f"Light {number}",
        "width_mm": Decimal("600"),
        "height_mm": Decimal("900"),
        "pieces": 10,
    }
    panel = Panel.objects.create(job=job, number=number, **defaults | values)
    before = None
    for place, name in enumerate(kinds):
        kind = OperationKind.objects.get(name=name)
        operation = Operation.objects.create(
            job=job,
            panel=panel,
            kind=kind,
            place=place,
            estimate={"Cutting": 90, "Beveling": 450}.get(name, 240),
            quantity=panel.pieces * panel.copies if kind.counts_pieces else 0,
        )
        if before:
            operation.after.add(before)
        before = operation
    return panel


def operation_of(panel: Panel, kind: str) -> Operation:
    return Operation.objects.get(panel=panel, kind__name=kind, breakage=None)


def person(name: str) -> Person:
    """Somebody of the cast by the first name."""
    return Person.objects.get(name__startswith=name)


def make_gate(job: Job, kind: str, **values: Any) -> Gate:
    return Gate.objects.create(job=job, kind=kind, **values)


# A lattice of four panes, two red and two blue, as large as the panels above.
LATTICE = """<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="900mm" viewBox="0 0 600 900">
<rect width="300" height="450" fill="#a83a45"/><rect x="300" width="300" height="450" fill="#4f78b5"/>
<rect y="450" width="300" height="450" fill="#4f78b5"/>
<rect x="300" y="450" width="300" height="450" fill="#a83a45"/></svg>"""


def make_glass() -> None:
    """Clear plate for beveling, a red and a blue that are known by their colors, and two profiles of came."""
    Glass.objects.create(name="Clear plate", beveled=True, color="#dfeae6", bevel_mm=Decimal("25.4"))
    Glass.objects.create(name="Red", thickness_mm=3, color="#a83a45")
    Glass.objects.create(name="Blue", thickness_mm=3, color="#4f78b5")
    Came.objects.create(profile="H 6 mm")
    Came.objects.create(profile="H 10 mm border", face_mm=10, inner=False, border=True)


def make_pattern(panel: Panel, by: Account, drawing: str = LATTICE, name: str = "hall.svg") -> Pattern:
    """A pattern that is uploaded and not accepted yet; glass and came are made where there is none."""
    if not Came.objects.exists():
        make_glass()
    return patterns.upload_pattern(panel, name, drawing.encode(), by=Actor(account=by), at=at(2, "09:00"))


def make_accepted(panel: Panel, by: Account, drawing: str = LATTICE) -> Pattern:
    """The drawing as the panel's measured pattern; its colors are known by those of the glass."""
    pattern = make_pattern(panel, by, drawing)
    patterns.accept_pattern(pattern, by=Actor(account=by), at=at(2, "09:00"))
    pattern.refresh_from_db()
    return pattern
