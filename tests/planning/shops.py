"""Shops for tests of the planner: a tiny named one, and generated ones with everything the floor can hold."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from jobs.planning import Gate, Job, Kind, Nature, Operation, Person, Shift, Shop, Station

MONDAY = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)  # A Monday; the first of it at eight.
DAY_SHIFT = tuple(Shift(day, time(8), time(16)) for day in range(5))
ROUND_THE_CLOCK = tuple(Shift(day, time(0), time(0)) for day in range(7))

CUTTING, BEVELING, BUILDING = 1, 2, 3
CUT, BEVEL, BUILD, CURE, TEMPER = 1, 2, 3, 4, 5

STATIONS = (
    Station(CUTTING, "cutting", 1),
    Station(BEVELING, "beveling", 2),
    Station(BUILDING, "building", 2),
)
KINDS = (
    Kind(CUT, "cutting", Nature.ATTENDED),
    Kind(BEVEL, "beveling", Nature.ATTENDED),
    Kind(BUILD, "building", Nature.ATTENDED),
    Kind(CURE, "curing", Nature.CURE),
    Kind(TEMPER, "tempering", Nature.OUTSIDE),
)
STATION_OF = {CUT: CUTTING, BEVEL: BEVELING, BUILD: BUILDING}


def person(number: int, name: str, skills: dict[int, float], **more: object) -> Person:
    return Person(number, name, skills, **{"shifts": DAY_SHIFT, **more})  # type: ignore[arg-type]


ANN = person(1, "Ann", {CUTTING: 1.0, BUILDING: 1.0})
BEN = person(2, "Ben", {BEVELING: 1.0})


def job(number: int, due: date | None = None, weight: float = 1.0) -> Job:
    return Job(number, f"{400 + number:04d}", due, weight)


def work(number: int, of: int, kind: int, minutes: int, **more: object) -> Operation:
    values = {"panel": of, "station": STATION_OF.get(kind), **more}
    return Operation(id=number, job=of, kind=kind, minutes=minutes, **values)  # type: ignore[arg-type]


def shop(*operations: Operation, **more: object) -> Shop:
    """A shop of these operations with Ann and Ben on the three stations, in UTC, unless told otherwise."""
    values = {
        "zone": "UTC",
        "stations": STATIONS,
        "people": (ANN, BEN),
        "kinds": KINDS,
        "gates": (),
        "jobs": tuple(job(number) for number in sorted({o.job for o in operations})),
        **more,
    }
    return Shop(operations=operations, **values)  # type: ignore[arg-type]


ZONES = ("UTC", "America/Chicago", "Europe/Vienna", "Australia/Lord_Howe", "Asia/Kathmandu")


def _shifts(draw: random.Random) -> tuple[Shift, ...]:
    shape = draw.randrange(4)
    if shape == 0:
        return tuple(Shift(d, time(8), time(12)) for d in range(5)) + tuple(
            Shift(d, time(12, 30), time(17)) for d in range(5)
        )
    if shape == 1:
        return tuple(Shift(d, time(7, 15), time(13)) for d in (0, 2, 3, 5))
    if shape == 2:  # Over the hours that a clock change skips or doubles.
        return tuple(Shift(d, time(0), time(4, 30)) for d in (0, 5, 6)) + tuple(
            Shift(d, time(20), time(0)) for d in (5, 6)
        )
    return tuple(Shift(d, time(6), time(9, 40)) for d in range(6)) + tuple(
        Shift(d, time(9, 55), time(14)) for d in range(6)
    )


def _people(draw: random.Random, count: int, stations: int, today: date) -> tuple[Person, ...]:
    people = []
    for number in range(1, count + 1):
        skills = {
            s: draw.choice((0.8, 1.0, 1.0, 1.1, 1.25)) for s in range(1, stations + 1) if draw.random() < 0.5
        }
        skills.setdefault(draw.randint(1, stations), 1.0)
        off = frozenset(today + timedelta(days=draw.randrange(30)) for _ in range(draw.randrange(4)))
        saturday = today + timedelta(days=(5 - today.weekday()) % 7)
        extra = ((saturday, time(9), time(13)),) if draw.random() < 0.3 else ()
        people.append(Person(number, f"P{number}", skills, _shifts(draw), off, extra))
    return tuple(people)


def _route(draw: random.Random, stations: int, length: int) -> list[int]:
    """Kinds of a panel's route; kinds 1 to `stations` are attended, then a cure, then outside work."""
    route = [draw.randint(1, stations) for _ in range(length)]
    for passive in (stations + 1, stations + 2):
        if draw.random() < 0.4:
            route.insert(draw.randrange(1, len(route) + 1), passive)
    return route


class _Maker:
    """Draws the work of one shop."""

    def __init__(self, draw: random.Random, now: datetime, people: tuple[Person, ...], stations: int) -> None:
        self.draw, self.now, self.people, self.stations = draw, now, people, stations
        self.today = now.date()
        self.rows: list[Operation] = []
        self.gates: list[Gate] = []

    def able(self, station: int) -> list[int]:
        return [p.id for p in self.people if station in p.skills]

    def panel(self, job: int, panel: int, length: int, plain: bool) -> None:
        before: tuple[int, ...] = ()
        for step, kind in enumerate(_route(self.draw, self.stations, length)):
            number = len(self.rows) + 1
            row = self._operation(number, job, panel, kind, before, first=step == 0, plain=plain)
            self.rows.append(row)
            before = (number,) if self.draw.random() < 0.8 else (*before, number)

    def _operation(
        self,
        number: int,
        job: int,
        panel: int,
        kind: int,
        after: tuple[int, ...],
        *,
        first: bool,
        plain: bool,
    ) -> Operation:
        draw, more = self.draw, {}
        passive = kind > self.stations
        minutes = draw.randint(60, 6000) if passive else draw.choice((0, 15, 60, 240, draw.randint(1, 1500)))
        if plain:
            minutes = max(minutes, 30)
        elif passive:
            if first or draw.random() < 0.05:
                more["started"] = self.now - timedelta(minutes=draw.randrange(200))
        else:
            more = self._extras(kind, first)
        if not plain and draw.random() < 0.15:
            more["gates"] = (self._gate(job),)
        if not plain and draw.random() < 0.05:
            more["early"] = True
        if not plain and draw.random() < 0.06:
            more["held"] = True
            more["held_until"] = draw.choice((None, self.today + timedelta(days=draw.randrange(-2, 9))))
        station = None if passive else kind
        return Operation(number, job, panel, kind, station, minutes, after=after, **more)

    def _extras(self, kind: int, first: bool) -> dict[str, object]:
        draw, able = self.draw, self.able(kind)
        more: dict[str, object] = {}
        if len(able) >= 2 and draw.random() < 0.12:
            more["crew"] = 2
        if draw.random() < 0.1:
            more["pinned_person"] = draw.choice(able)
        if draw.random() < 0.1:
            more["place"] = draw.randrange(4)
        if first and draw.random() < 0.25:
            more["keeper"] = draw.choice(able) if draw.random() < 0.9 else draw.choice(self.people).id
            more["started"] = self.now - timedelta(hours=3)
            more["spent"] = draw.choice((0, 60, 400))
        elif draw.random() < 0.1:
            more["spent"] = 45
        return more

    def _gate(self, job: int) -> int:
        expected = self.draw.choice((None, self.today + timedelta(days=self.draw.randrange(-3, 12))))
        self.gates.append(Gate(len(self.gates) + 1, "glass in", job, expected, self.draw.random() < 0.3))
        return len(self.gates)


def generated(
    seed: int, *, jobs: int = 6, people: int = 4, stations: int = 3, plain: bool = False
) -> tuple[Shop, datetime]:
    """A shop and its now. Small ones have everything in them; `plain` ones only routes, for measuring."""
    draw = random.Random(seed)
    zone = draw.choice(ZONES)
    # Around the clock changes of March and October 2026.
    now = datetime(
        2026, draw.choice((3, 10)), draw.randint(1, 28), draw.randrange(24), draw.randrange(60), tzinfo=UTC
    )
    staff = _people(draw, people, stations, now.date())
    covered = {s for p in staff for s in p.skills}
    staff += tuple(
        Person(100 + s, f"Q{s}", {s: 1.0}, DAY_SHIFT) for s in range(1, stations + 1) if s not in covered
    )
    maker = _Maker(draw, now, staff, stations)
    panel = 0
    for number in range(1, jobs + 1):
        for _ in range(draw.randint(1, 4)):
            panel += 1
            maker.panel(number, panel, draw.randint(2, 7), plain)
    if not plain:
        staff = _moved(random.Random(-seed), staff, now)
    natures = [Nature.ATTENDED] * stations + [Nature.CURE, Nature.OUTSIDE]
    ratios = tuple(draw.gauss(0.1, 0.3) for _ in range(20))
    rooms = tuple(Station(s, f"station {s}", draw.randint(1, 3)) for s in range(1, stations + 1))
    made = Shop(
        zone=zone,
        stations=rooms if plain else _some_down(random.Random(-seed), rooms, now),
        people=staff,
        kinds=tuple(
            Kind(i + 1, f"kind {i + 1}", nature, ratios[: 5 * i]) for i, nature in enumerate(natures)
        ),
        gates=tuple(maker.gates),
        jobs=tuple(
            Job(
                j,
                f"{j:04d}",
                draw.choice((None, now.date() + timedelta(days=draw.randrange(60)))),
                draw.choice((1, 2)),
            )
            for j in range(1, jobs + 1)
        ),
        operations=tuple(maker.rows),
        closed=frozenset(now.date() + timedelta(days=draw.randrange(30)) for _ in range(draw.randrange(3))),
    )
    return made, now


def _moved(draw: random.Random, people: tuple[Person, ...], now: datetime) -> tuple[Person, ...]:
    """Some of them are at one of their stations only for some days."""
    return tuple(
        replace(p, stays=(draw.choice(sorted(p.skills)), now + timedelta(minutes=draw.randint(1, 9000))))
        if draw.random() < 0.25
        else p
        for p in people
    )


def _some_down(draw: random.Random, stations: tuple[Station, ...], now: datetime) -> tuple[Station, ...]:
    """Some benches of some stations are down, sometimes all of a station."""
    found = []
    for station in stations:
        count = draw.randint(1, station.benches) if draw.random() < 0.4 else 0
        back = tuple(now + timedelta(minutes=draw.randint(1, 12000)) for _ in range(count))
        found.append(replace(station, back=back))
    return tuple(found)


def _even(seed: int, jobs: int, people: int, stations: int) -> tuple[Shop, datetime]:
    """A shop of ordinary people and panels, for measuring: everybody full time, work for some three months."""
    draw = random.Random(seed)
    now = MONDAY
    staff = []
    for number in range(1, people + 1):
        skills = {1 + (number + k) % stations: draw.choice((0.9, 1.0, 1.1)) for k in range(3)}
        hours = tuple(
            Shift(d, a, b) for d in range(5) for a, b in ((time(8), time(12)), (time(12, 30), time(17)))
        )
        staff.append(Person(number, f"P{number}", skills, hours))
    rows: list[Operation] = []
    panel = 0
    for number in range(1, jobs + 1):
        for _ in range(draw.choice((1, 2, 3, 4))):
            panel += 1
            before: tuple[int, ...] = ()
            for step in range(draw.choice((4, 5, 6, 6, 7))):
                kind = stations + 1 if step == 4 else draw.randint(1, stations)
                minutes = 2880 if step == 4 else draw.choice((30, 60, 120, 240, 480, 720))
                at = None if step == 4 else kind
                rows.append(Operation(len(rows) + 1, number, panel, kind, at, minutes, after=before))
                before = (len(rows),)
    kinds = [Kind(k, f"kind {k}", Nature.ATTENDED, (0.1, -0.2, 0.3, 0.0) * 5) for k in range(1, stations + 1)]
    kinds.append(Kind(stations + 1, "curing", Nature.CURE))
    due = {j: now.date() + timedelta(days=draw.randrange(14, 100)) for j in range(1, jobs + 1)}
    made = Shop(
        zone="America/Chicago",
        stations=tuple(Station(k, f"station {k}", 2 * people // stations) for k in range(1, stations + 1)),
        people=tuple(staff),
        kinds=tuple(kinds),
        gates=(),
        jobs=tuple(Job(j, f"{j:04d}", day) for j, day in due.items()),
        operations=tuple(rows),
    )
    return made, now


def typical(seed: int = 1) -> tuple[Shop, datetime]:
    """60 jobs, about 150 panels, 800 operations, 8 people on 8 stations."""
    return _even(seed, jobs=60, people=8, stations=8)


def large(seed: int = 1) -> tuple[Shop, datetime]:
    """600 jobs, about 8,000 operations, 30 people on 10 stations."""
    return _even(seed, jobs=600, people=30, stations=10)


def loaded(seed: int = 1) -> tuple[Shop, datetime]:
    """A typical shop that cannot keep its promises: all of them twice as near, and some jobs matter more."""
    made, now = typical(seed)
    draw = random.Random(seed)
    jobs = [
        replace(job, due=now.date() + (job.due - now.date()) / 2, weight=draw.choice((1.0, 1.0, 2.0, 4.0)))
        for job in made.jobs
        if job.due is not None
    ]
    return replace(made, jobs=tuple(jobs)), now
