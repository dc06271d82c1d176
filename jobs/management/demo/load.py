"""Loading the demo studio: run its floor until now, write its rows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.contrib.auth.hashers import make_password
from django.core.management import call_command
from django.db import transaction

from jobs import models

from . import staff
from .floor import Floor, minute
from .orders import Orders
from .present import leave_on, place_everything, stop_timers
from .rows import Rows, read_trade

PASSWORD = "light-table-42"  # noqa: S105  # Of the demo's accounts; it is printed for everybody who runs the demo.
ILL = "Anders Okafor"


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be loaded: until when, from which seed, how long a history, how dense, how many open jobs."""

    now: datetime
    seed: int = 1
    years: int = 2
    dense: bool = False
    open_jobs: int = 30


def load(wish: Wish) -> None:
    """Write the whole demo studio into an empty database, in one transaction."""
    with transaction.atomic():
        call_command("loaddata", "trade", verbosity=0)
        orders = run(wish)
        rows = Rows(orders, minute(wish.now))
        rows.write()
        lead = make_accounts()
        rows.write_promises(lead)
        models.PlanState.objects.get_or_create(pk=1)


def run(wish: Wish) -> Orders:
    rng = Random(wish.seed)  # noqa: S311
    today = wish.now.astimezone(ZoneInfo(staff.ZONE)).date()
    first = today - timedelta(days=365 * wish.years)
    closed = staff.closed_days(first, date(today.year + 2, 12, 31))
    people = staff.workers()
    staff.plan_absences(people, first, today, rng, closed)
    floor = Floor(read_trade(), people, closed, staff.ZONE, rng)
    now = minute(wish.now)
    orders = Orders(floor, rng, now, 0.4 if wish.dense else 1.0)
    orders.target = lambda day: min(6 + (day - first).days // 4, wish.open_jobs)
    floor.run(first, now)
    stop_timers(floor, now)
    leave_on(floor, ILL)
    place_everything(orders, now)
    return orders


def make_accounts() -> models.Account:
    """The lead, the office, and a tablet for every station; all with the same phrase, hashed once."""
    hashed = make_password(PASSWORD)

    def account(username: str, role: str, first: str, last: str, **more: object) -> models.Account:
        return models.Account(
            username=username,
            password=hashed,
            role=role,
            first_name=first,
            last_name=last,
            is_staff=role == models.Role.LEAD,
            is_superuser=role == models.Role.LEAD,
            **more,
        )

    models.Account.objects.bulk_create(
        [
            account("lead", models.Role.LEAD, "Greta", "Holloway"),
            account("office", models.Role.OFFICE, "Emmett", "Sayle"),
        ]
        + [
            account(f"{station.slug}-bench", models.Role.BENCH, station.name, "bench", station=station)
            for station in models.Station.objects.all()
        ]
    )
    return models.Account.objects.get(username="lead")
