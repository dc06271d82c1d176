"""Loading the demo studio: run its floor until now, write its rows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.apps import apps
from django.contrib.auth.hashers import make_password
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, transaction

from jobs import models
from jobs.management.demo_office.links import write_links
from jobs.management.demo_office.marking import write_marks
from jobs.management.demo_office.photos import write_photos
from jobs.management.demo_office.selling import write_selling
from jobs.management.demo_office.writing import write_mail, write_sites
from jobs.management.keeping.weighing import weigh
from jobs.models.permissions import put_in_group_of_role

from . import staff
from .diary import Diary, live_with, write_entries
from .floor import Floor, minute
from .orders import Orders
from .present import last_day_of, leave_on, place_everything, stop_timers
from .rows import Rows, read_trade
from .staff import ILL
from .stories import Stories, quotes
from .weeks import close_weeks

PASSWORD = "light-table-42"  # noqa: S105  # nosec B105  # Of the demo's accounts; it is printed for everybody who runs the demo.


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be loaded: until when, from which seed, how long a history, how dense, how many open jobs;
    with `selling` the takeoffs, patterns, quotes and purchases too."""

    now: datetime
    seed: int = 1
    years: int = 2
    dense: bool = False
    open_jobs: int = 30
    selling: bool = False


def load(wish: Wish) -> None:
    """Write the whole demo studio into an empty database, in one transaction."""
    with transaction.atomic():
        call_command("loaddata", "trade", verbosity=0)
        orders = run(wish)
        rows = Rows(orders, minute(wish.now))
        rows.write()
        write_entries(rows)
        lead, office = make_accounts()
        rows.write_promises(lead)
        Diary(rows, lead, office).write()
        _count_on()
        weigh(connection)
        if wish.selling:
            write_selling(rows, office)
            write_marks(rows)
        # What was approved is the drawing as it is by then.
        write_links(rows, office)
        write_sites()
        if wish.selling:
            write_photos(rows, office)
            write_mail(rows, office)
        close_weeks(rows, lead)
        _count_on()
        models.PlanState.objects.get_or_create(pk=1)


def run(wish: Wish) -> Orders:
    rng = Random(wish.seed)  # noqa: S311  # nosec B311  # The same demo for each seed.
    today = wish.now.astimezone(ZoneInfo(staff.ZONE)).date()
    first = today - timedelta(days=365 * wish.years)
    closed = staff.closed_days(first, date(today.year + 2, 12, 31))
    people = staff.workers()
    staff.plan_absences(people, first, today, rng, closed)
    floor = Floor(read_trade(), people, closed, staff.ZONE, rng)
    now = minute(wish.now)
    # For measurements: a third of the work in each operation, and a tap every half hour.
    orders = Orders(floor, rng, now, 0.34 if wish.dense else 1.0)
    floor.longest = 24 if wish.dense else 150
    orders.target = lambda day: _wanted_open(wish, (day - first).days, (today - day).days)
    Stories(orders, today)
    floor.long_day = ILL, last_day_of(floor.by_name[ILL], today, floor)
    floor.run(first, now)
    orders.top_up(wish.open_jobs)
    quotes(orders, today)
    orders.jobs.sort(key=lambda job: job.entered)
    stop_timers(floor, now)
    leave_on(floor, ILL)
    place_everything(orders, now)
    live_with(floor.stretches, rng, now)
    return orders


def _wanted_open(wish: Wish, since_first: int, until_today: int) -> int:
    """How many jobs are to be open on a day: a new studio fills slowly; a dense history keeps the benches full."""
    crowded = wish.dense and until_today > 100
    return min(6 + since_first // 4, 110 if crowded else wish.open_jobs)


def make_accounts() -> tuple[models.Account, models.Account]:
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
    for each in models.Account.objects.all():
        put_in_group_of_role(each)
    find = models.Account.objects.get
    return find(username="lead"), find(username="office")


def _count_on() -> None:
    """Rows were written with their ids; where the database counts by sequences, those go on after them."""
    written = [m for m in apps.get_app_config("jobs").get_models() if m._meta.pk and m.objects.exists()]  # type: ignore[attr-defined]
    statements = connection.ops.sequence_reset_sql(no_style(), written)
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
