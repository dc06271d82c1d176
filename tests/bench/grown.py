"""A studio of many years in a folder of its own, for measurements: its rows, its pages, its accounts' sessions.

Also a program, called with VAR_DIR set: `python -m tests.bench.grown load OPTION...` makes the rows, `pages` measures
each page in a process that did not make them, `facts` prints what clients need to act as its people.
"""

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import median, quantiles
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
PHOTOS_A_YEAR = 500
ROUNDS = 20
# What the bench of pages opens: route, and which of the things found in `_things` it is called with.
PAGES: dict[str, tuple[str, ...]] = {
    "floor": (),
    "panels": (),
    "jobs": (),
    "job": ("job",),
    "panel": ("job", "panel"),
    "job-materials": ("job",),
    "quotes": ("job",),
    "materials": (),
    "bench": ("station",),
    "bench-hours": ("station",),
    "dates": (),
    "load": (),
    "promise-record": (),
    "look-back": (),
    "promises": ("job",),
    "rates": (),
    "rate": ("kind",),
    "records": (),
    "record-margins": (),
    "record-outliers": (),
    "record-breakage": (),
    "hours": (),
    "hours-week": (),
    "hours-sheet": (),
    "mail-list": (),
    "changed": (),
    "set-up": (),
    "set-up-people": (),
    "set-up-stations": (),
    "set-up-accounts": (),
}


def environment(folder: Path) -> dict[str, str]:
    """What a process needs to see the studio in this folder, as an installation without debugging."""
    own = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    return own | {"VAR_DIR": str(folder), "DEBUG": "off", "DJANGO_SETTINGS_MODULE": "studio.settings"}


def ask(folder: Path, *words: str) -> Any:
    """Run this program on the studio in a folder, and read what it prints last."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.grown", *words],
        cwd=ROOT,
        env=environment(folder),
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(done.stderr[-2000:])
    return json.loads(done.stdout.splitlines()[-1])


def _load(options: list[str]) -> dict[str, int]:
    from django.core.management import call_command

    from jobs.models import Operation, Panel, Photo, TimeEntry

    call_command("migrate", verbosity=0)
    call_command("collectstatic", "--noinput", verbosity=0)
    call_command("load_demo", *options, verbosity=0)
    call_command("replan", "--quiet")
    _photos(int(options[options.index("--years") + 1]) * PHOTOS_A_YEAR)
    return {
        "operations": Operation.objects.count(),
        "entries": TimeEntry.objects.count(),
        "photos": Photo.objects.count(),
        "open panels": Panel.objects.filter(job__stage="ordered").count(),
    }


def _photos(number: int) -> None:
    """Rows of photos that lie nowhere: pages list them, none of them is opened."""
    from itertools import cycle, islice

    from django.utils import timezone

    from jobs.models import Account, Panel, Photo

    account, now = Account.objects.first(), timezone.now()
    rows = [
        Photo(
            panel_id=panel,
            taken_at=now,
            account=account,
            file=f"photos/{n}.jpg",
            small=f"photos/{n}s.jpg",
            width=1600,
            height=1200,
        )
        for n, panel in enumerate(islice(cycle(Panel.objects.values_list("pk", flat=True)), number))
    ]
    Photo.objects.bulk_create(rows, batch_size=500)


def _things() -> dict[str, Any]:
    from jobs.models import OperationKind, Panel, Station

    panel = Panel.objects.filter(job__stage="ordered").order_by("pk")[0]
    return {
        "job": panel.job.number,
        "panel": panel.number,
        "station": Station.objects.get(slug="beveling").slug,
        "kind": OperationKind.objects.get(slug="beveling").slug,
    }


def _addresses() -> Iterator[tuple[str, str]]:
    from django.urls import reverse

    things = _things()
    for name, needs in PAGES.items():
        yield name, reverse(name, args=[things[need] for need in needs])


def _signed_in(account: Any) -> Any:
    from django.test import Client

    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
    return client


def _pages() -> dict[str, Any]:
    """Milliseconds of each page, warm, and the megabytes that the process has grown to."""
    import psutil

    from jobs.models import Account, Role

    client = _signed_in(Account.objects.filter(role=Role.LEAD).order_by("pk")[0])
    found = {}
    for name, address in _addresses():
        spans, used = [], []
        for _ in range(ROUNDS + 2):
            begun, worked = time.perf_counter(), time.process_time()
            answer = client.get(address)
            spans.append((time.perf_counter() - begun) * 1000)
            used.append((time.process_time() - worked) * 1000)
            if answer.status_code != 200:
                raise RuntimeError(f"{address}: {answer.status_code}")
        found[name] = {"p95": quantiles(spans[2:], n=20)[-1], "cpu": median(used[2:])}
    return {"pages": found, "memory": psutil.Process().memory_info().rss / 1e6}


def _facts() -> dict[str, Any]:
    """Ten tablets, each with somebody and work whose pieces never end; ten people of the office; and their pages."""
    from django.conf import settings
    from django.core.signing import Signer
    from django.utils import timezone

    from jobs.models import Account, Operation, Role, State

    now = timezone.now()
    ready = Operation.objects.open(now).with_state(now).filter(state=State.READY, kind__counts_pieces=True)
    work = list(ready.select_related("kind__station").order_by("pk")[:10])
    Operation.objects.filter(pk__in=[row.pk for row in work]).update(quantity=1_000_000)
    lead = Account.objects.filter(role=Role.LEAD).order_by("pk")[0]
    cookie = settings.SESSION_COOKIE_NAME

    def session(account: Any) -> dict[str, str]:
        return {cookie: _signed_in(account).cookies[cookie].value}

    tablets = []
    for row in work:
        station = row.kind.station
        account = Account.objects.filter(role=Role.BENCH, station=station).first() or lead
        person = station.skills.filter(person__active=True).order_by("pk")[0].person_id
        who = {"account": account.pk, "person": person, "since": int(now.timestamp())}
        signed = Signer(salt="jobs.views.tablet").sign_object(who)
        tablets.append(
            {"cookies": session(account), "who": signed, "pk": row.pk, "page": f"/bench/{station.slug}/"}
        )
    return {
        "tablets": tablets,
        "offices": [session(lead) for _ in range(10)],
        "pages": dict(_addresses()),
    }


def _kept(ids: list[str]) -> int:
    """How many of these taps are there."""
    from jobs.models import Tap

    parts = [ids[n : n + 500] for n in range(0, len(ids), 500)]
    return sum(Tap.objects.filter(client_id__in=part).count() for part in parts)


def main() -> None:
    import django

    django.setup()
    match sys.argv[1:]:
        case ["load", *options]:
            told: Any = _load(options)
        case ["pages"]:
            told = _pages()
        case ["facts"]:
            told = _facts()
        case ["kept", path]:
            told = _kept(json.loads(Path(path).read_text()))
    print(json.dumps(told))


if __name__ == "__main__":
    main()
