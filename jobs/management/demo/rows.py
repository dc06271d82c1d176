"""From the demo's floor to rows, in bulk."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from jobs import models

from .drawings import as_json
from .names import ADDRESS, CUSTOMERS, STUDIO
from .orders import Orders
from .records import Commission, Kind, Sheet, Step, Trade, Work
from .staff import COUNTRY, REGION, ZONE

BATCH = 2000


def moment(minute: int) -> datetime:
    """The aware time of a minute since 1970."""
    return datetime.fromtimestamp(minute * 60, UTC)


def when(minute: int | None) -> datetime | None:
    return None if minute is None else moment(minute)


def read_trade() -> Trade:
    """The fixture's stations, kinds and routes, from the rows that it was loaded into."""
    kinds = {
        kind.name: Kind(
            kind.pk,
            kind.name,
            kind.nature,
            kind.station.name if kind.station else None,
            kind.crew,
            tuple(kind.gates),
            kind.counts_pieces,
            kind.again_after_breakage,
            kind.whole_job,
        )
        for kind in models.OperationKind.objects.select_related("station")
    }
    routes = {
        route.name: tuple(
            Step(
                step.pk,
                kinds[step.kind.name],
                step.label,
                step.condition,
                step.minutes,
                float(step.piece_minutes),
                tuple(sorted(other.pk for other in step.after.all())),
            )
            for step in route.steps.select_related("kind").prefetch_related("after")
        )
        for route in models.Route.objects.all()
    }
    return Trade({s.name: s.benches for s in models.Station.objects.all()}, kinds, routes)


class Rows:
    """Writes one run of the floor. Ids are given here, so that links between rows need no reading back."""

    def __init__(self, orders: Orders, now: int) -> None:
        self.orders, self.floor, self.now = orders, orders.floor, now
        self.people: dict[str, models.Person] = {}
        self.drawings: dict[int, dict[str, Any]] = {}
        self.stations = {station.name: station for station in models.Station.objects.all()}

    def write(self) -> None:
        self.studio()
        self.write_people()
        self.write_jobs()
        self.write_operations()
        self.write_breakages()
        self.write_holds()

    def studio(self) -> None:
        models.Studio.objects.update_or_create(
            pk=1,
            defaults={
                "name": STUDIO,
                "address": ADDRESS,
                "units": "in",
                "hours": "clock",
                "currency": "USD",
                "time_zone": ZONE,
                "country": COUNTRY,
                "region": REGION,
                "labor_rate": Decimal("92.00"),
            },
        )
        models.ClosedDay.objects.bulk_create(
            models.ClosedDay(day=day, name=name) for day, name in self.floor.closed.items()
        )
        models.Customer.objects.bulk_create(
            models.Customer(
                pk=number,
                name=name,
                contact=contact,
                email=f"office@{_slug(name)}.example",
                phone=f"555-01{number:02d}",
                address=f"{number * 7 + 11} {('Mill', 'Church', 'Sedge', 'Station')[number % 4]} Street\n{town}, IL",
            )
            for number, (name, contact, town) in enumerate(CUSTOMERS, 1)
        )

    def write_people(self) -> None:
        for worker in self.floor.workers:
            person = models.Person.objects.create(name=worker.name, hourly_cost=Decimal(worker.cost))
            self.people[worker.name] = person
            for station, pace in worker.skills.items():
                models.Skill.objects.create(
                    person=person, station=self.stations[station], pace=Decimal(str(pace))
                )
            for weekday, spans in worker.week.items():
                for start, stop in spans:
                    models.Shift.objects.create(person=person, weekday=weekday, start=start, stop=stop)
        models.DayOff.objects.bulk_create(
            models.DayOff(person=self.people[w.name], first=first, last=last, reason=reason)
            for w in self.floor.workers
            for first, last, reason in w.away
        )
        models.ExtraHours.objects.bulk_create(
            models.ExtraHours(person=self.people[w.name], day=day, start=start, stop=stop)
            for w in self.floor.workers
            for day, start, stop in w.extra
        )

    def write_jobs(self) -> None:
        jobs, sheets = self.orders.jobs, [sheet for job in self.orders.jobs for sheet in job.sheets]
        routes = {route.name: route.pk for route in models.Route.objects.all()}
        for number, job in enumerate(jobs, 1):
            job.id, job.number = number, f"{number + 100:04d}"
        models.Job.objects.bulk_create((self.job(job) for job in jobs), BATCH)
        for number, sheet in enumerate(sheets, 1):
            sheet.id = number
        models.Panel.objects.bulk_create(
            (
                models.Panel(
                    pk=sheet.id,
                    job_id=sheet.job.id,
                    number=sheet.number,
                    name=sheet.name,
                    width_mm=_mm(sheet.width),
                    height_mm=_mm(sheet.height),
                    thickness_mm=_mm(sheet.thickness),
                    pieces=sheet.pieces,
                    copies=sheet.copies,
                    route_id=routes[sheet.route],
                    where=sheet.where,
                    drawing=self.drawing(sheet),
                )
                for sheet in sheets
            ),
            BATCH,
        )
        models.Gate.objects.bulk_create(
            (
                models.Gate(
                    job_id=job.id,
                    kind=kind,
                    expected=gate.expected,
                    cleared=gate.cleared if gate.open_from <= self.now else None,
                )
                for job in jobs
                for kind, gate in job.gates.items()
            ),
            BATCH,
        )

    def drawing(self, sheet: Sheet) -> dict[str, Any]:
        """The drawing as JSON, made once for all panels that share it."""
        key = id(sheet.panes)
        if key not in self.drawings:
            self.drawings[key] = as_json(sheet.width, sheet.height, sheet.panes)
        return self.drawings[key]

    def job(self, job: Commission) -> models.Job:
        return models.Job(
            pk=job.id,
            number=job.number,
            title=job.title,
            customer_id=job.customer + 1,
            stage=job.stage,
            wanted_by=job.wanted,
            weight=Decimal(job.weight),
            notes=job.notes,
            entered_at=moment(job.entered),
            ordered_at=when(job.ordered),
            closed_at=when(job.closed),
        )

    def write_promises(self, account: models.Account) -> None:
        models.Promise.objects.bulk_create(
            (
                models.Promise(
                    job_id=job.id,
                    day=given.day,
                    given_at=moment(given.at),
                    given_by=account,
                    told=CUSTOMERS[job.customer][1],
                    reason=given.reason,
                )
                for job in self.orders.jobs
                for given in job.promises
            ),
            BATCH,
        )

    def write_operations(self) -> None:
        works = [work for job in self.orders.jobs for work in job.works]
        for number, work in enumerate(works, 1):
            work.id = number
        models.Operation.objects.bulk_create((self.operation(work) for work in works), BATCH)
        through = models.Operation.after.through
        through.objects.bulk_create(
            (
                through(from_operation_id=work.id, to_operation_id=other.id)
                for work in works
                for other in work.after
            ),
            BATCH,
        )

    def write_breakages(self) -> None:
        """The breakages of operations that are written, and then which operations are their rework."""
        for number, broken in enumerate(self.floor.broken, 1):
            broken.id = number
        models.Breakage.objects.bulk_create(
            (
                models.Breakage(
                    pk=broken.id,
                    operation_id=broken.work.id,
                    pieces=broken.pieces,
                    at=moment(broken.at),
                    person=self.people[broken.worker.name],
                    note=broken.note,
                )
                for broken in self.floor.broken
            ),
            BATCH,
        )
        again = [
            models.Operation(pk=work.id, breakage_id=work.of_breakage.id)
            for job in self.orders.jobs
            for work in job.works
            if work.of_breakage
        ]
        models.Operation.objects.bulk_update(again, ["breakage"], BATCH // 4)

    def write_holds(self) -> None:
        rests = [rest for job in self.orders.jobs for rest in job.holds]
        models.Hold.objects.bulk_create(
            models.Hold(
                job_id=None if rest.sheet else rest.job.id,
                panel_id=rest.sheet.id if rest.sheet else None,
                reason=rest.reason,
                since=moment(rest.since),
                until=rest.until,
                held_by=rest.by,
                released_at=when(rest.released),
                released_by=rest.by if rest.released else "",
            )
            for rest in rests
        )

    def operation(self, work: Work) -> models.Operation:
        started = work.started if work.started is not None and work.started <= self.now else None
        return models.Operation(
            pk=work.id,
            job_id=work.job.id,
            panel_id=work.panel.id if work.panel else None,
            kind_id=work.kind.id,
            label=work.label,
            place=work.place,
            estimate=work.estimate,
            quantity=work.quantity,
            quantity_done=work.done,
            started_at=when(started),
            finished_at=when(work.finished),
            keeper=self.people[work.keeper.name] if work.keeper else None,
        )


def _mm(value: float) -> Decimal:
    return Decimal(str(round(value, 2)))


def _slug(name: str) -> str:
    return "-".join("".join(c if c.isalnum() else " " for c in name.lower()).split()[:3])
