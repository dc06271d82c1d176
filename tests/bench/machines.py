"""Three web and two worker processes over one PostgreSQL, killed at random under load: what is lost, and what is not.

Each has a folder of its own, as on a machine of its own; they share the database, the key and the store of files. Runs
on the cluster that DATABASE_URL names: .ci/postgres .venv/bin/python -m tests.bench machines
"""

import json
import os
import random
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.bench.machine_clients import Client, Office, Reader, Tablet
from tests.bench.proxy import Proxy

ROOT = Path(__file__).resolve().parents[2]
PREPARE = """
import json, sys
import django; django.setup()
from datetime import timedelta
from django.core.management import call_command
from django.core.signing import Signer
from django.db import connection
from django.utils import timezone
from studio.sessions import SessionStore
from jobs.models import Operation, Role
from tests import cast
if "migrate" in sys.argv:
    call_command("migrate", verbosity=0)
# The planner's kernel is compiled and kept here, not by the first process that is killed meanwhile.
import jobs.planning.futures
cast.make_studio(); cast.make_shop()
with connection.cursor() as cursor:
    cursor.execute('''
        CREATE TABLE plans_kept (id serial, revision bigint);
        CREATE FUNCTION note_plan() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
            INSERT INTO plans_kept (revision) VALUES (NEW.planned_revision); RETURN NEW; END $$;
        CREATE TRIGGER note_plan AFTER UPDATE ON jobs_planstate FOR EACH ROW
            WHEN (OLD.planned_at IS DISTINCT FROM NEW.planned_at) EXECUTE FUNCTION note_plan();
    ''')
cast.make_panel(cast.make_job("0001"), kinds=("Beveling",), pieces=10_000)
for number in ("0412", "0413"):
    job = cast.make_job(number)
    for panel in range(1, 15):
        cast.make_panel(job, panel)
tablet = cast.make_account("tablet", Role.BENCH)
for name in ("office-1", "office-2", "reader"):
    cast.make_account(name, Role.OFFICE)
session = SessionStore()
session["_auth_user_id"], session["_auth_user_hash"] = str(tablet.pk), tablet.get_session_auth_hash()
session["_auth_user_backend"] = "django.contrib.auth.backends.ModelBackend"
session.save()
facts = {"account": tablet.pk, "person": cast.person("Mara").pk, "since": int(timezone.now().timestamp())}
who = Signer(salt="jobs.views.tablet").sign_object(facts)
operation = Operation.objects.get(job__number="0001")
print(json.dumps({"session": session.session_key, "who": who, "pk": operation.pk, "password": "long enough 1"}))
"""
COUNT = """
import django; django.setup()
import json
from django.db import connection
from django_tasks_db.models import DBTaskResult
from jobs.models import Event, Operation, PaperBundle, PlanState, SignedIn, Tap
with connection.cursor() as cursor:
    cursor.execute("SELECT revision FROM plans_kept ORDER BY id")
    kept = [revision for revision, in cursor.fetchall()]
print(json.dumps({
    "rows": Tap.objects.count(), "events": Event.objects.filter(verb="counted").count(),
    "pieces": Operation.objects.get(job__number="0001").quantity_done,
    "plans": len(kept), "planned_twice": len(kept) - len(set(kept)),
    "up_to_date": not PlanState.current().out_of_date,
    "taken_up_again": sum(len(ids) > 1 for ids in DBTaskResult.objects.values_list("worker_ids", flat=True)),
    "unfinished": DBTaskResult.objects.exclude(status__in=["SUCCESSFUL", "FAILED"]).count(),
    "failed": [text.strip().rpartition(chr(10))[2] for text in
               DBTaskResult.objects.filter(status="FAILED").values_list("traceback", flat=True)],
    "bundles": PaperBundle.objects.exclude(file="").count(),
}))
"""
LEASE_SECONDS = 4
PATIENCE = 300


@dataclass(frozen=True, slots=True)
class Counts:
    """What clients were told: taps acknowledged, floors read, bundles asked for and opened, requests cut, answers that
    asked to sign in. What there is: taps, pieces, events, plans kept. `taken_up_again`: tasks begun more than once."""

    acknowledged: int
    read: int
    asked: int
    opened: int
    stopped: int
    cut: int
    signed_out: int
    wrong: list[str]
    kills: dict[str, int]
    served: list[int]
    rows: int
    pieces: int
    events: int
    plans: int
    planned_twice: int
    up_to_date: bool
    taken_up_again: int
    unfinished: int
    failed: list[str]
    bundles: int


class _Machine:
    """A process in a folder of its own."""

    def __init__(self, name: str, command: list[str], environment: dict[str, str], folder: Path) -> None:
        self.name, self.command = name, command
        var = folder / name
        var.mkdir()
        self.environment = environment | {"VAR_DIR": str(var)}
        self.log = (folder / f"{name}.log").open("ab")
        self.start()

    def start(self) -> None:
        self.process = subprocess.Popen(
            self.command, cwd=ROOT, env=self.environment, start_new_session=True, stderr=self.log
        )

    def kill(self, number: signal.Signals = signal.SIGKILL) -> None:
        os.killpg(self.process.pid, number)
        self.process.wait()


def _web(folder: Path, environment: dict[str, str], number: int, port: int) -> _Machine:
    options = ["--bind", f"127.0.0.1:{port}", "--threads", "4", "--no-control-socket", "--log-level", "error"]
    return _Machine(
        f"web-{number}", [sys.executable, "-m", "gunicorn", "studio.wsgi", *options], environment, folder
    )


def _worker(folder: Path, environment: dict[str, str], number: int) -> _Machine:
    command = [sys.executable, "manage.py", "worker", "--pause", "0.3"]
    return _Machine(f"worker-{number}", command, environment, folder)


def run_machines(
    database: str, *, tablets: int, taps: int, bundles: int, kills: int, migrate: bool = False
) -> Counts:
    """Let `tablets` log `taps` each, others read the floor and two desks ask for `bundles` each, and kill one of five
    processes `kills` times. `database`: an address of PostgreSQL."""
    with tempfile.TemporaryDirectory(prefix="studio-machines-") as name:
        folder = Path(name)
        environment = os.environ | {
            "DATABASE_URL": database,
            "DJANGO_SETTINGS_MODULE": "tests.bench.machine_settings",
            "FILES_OPTIONS": json.dumps({"location": str(folder / "files")}),
            "SECRET_KEY": "the-same-for-all-machines",
            "BEHIND_PROXY": "on",
            "LEASE_SECONDS": str(LEASE_SECONDS),
            "VAR_DIR": str(folder),
            "DEBUG": "off",
        }
        facts = _python(PREPARE, environment, *(["migrate"] if migrate else []))
        ports = [_free_port() for _ in range(3)]
        webs = [_web(folder, environment, number, port) for number, port in enumerate(ports, 1)]
        workers = [_worker(folder, environment, number) for number in (1, 2)]
        proxy = Proxy(ports)
        try:
            clients: list[Client] = [Tablet(proxy.port, facts, taps) for _ in range(tablets)]
            desks = [Office(proxy.port, facts, f"office-{n}", bundles) for n in (1, 2)]
            reader = Reader(proxy.port, facts, clients + desks)
            everybody = [*clients, *desks, reader]
            _wait_until_up(ports)
            for client in everybody:
                client.start()
            killed = _kill_often(webs, workers, clients + desks, kills)
            for client in everybody:
                client.join(PATIENCE)
            found = _settled(environment)
        finally:
            proxy.close()
            for machine in (*webs, *workers):
                machine.kill()
        logs = "".join((folder / f"{m.name}.log").read_text() for m in (*webs, *workers))
    return Counts(
        acknowledged=sum(client.done for client in clients),
        read=reader.done,
        asked=sum(desk.asked for desk in desks),
        opened=sum(desk.done for desk in desks),
        stopped=sum(desk.stopped for desk in desks),
        cut=sum(client.cut for client in everybody),
        signed_out=sum(client.signed_out for client in everybody),
        wrong=[each for client in everybody for each in client.wrong] + _errors(logs),
        kills=killed,
        served=list(proxy.served.values()),
        **found,
    )


def _errors(logs: str) -> list[str]:
    return [line for line in logs.splitlines() if line.startswith("Internal Server Error")]


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def _wait_until_up(ports: list[int]) -> None:
    give_up = time.monotonic() + PATIENCE
    for port in ports:
        while True:
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            except OSError:
                assert time.monotonic() < give_up, "A web process does not come up."
                time.sleep(0.1)


def _kill_often(
    webs: list[_Machine], workers: list[_Machine], clients: list[Client], kills: int
) -> dict[str, int]:
    """At moments spread over what the clients have to do; every other one a worker, so that both kinds are."""
    moments, in_all = random.Random(), sum(client.wanted for client in clients)
    killed = dict.fromkeys((machine.name for machine in (*webs, *workers)), 0)
    for number in range(1, kills + 1):
        enough = in_all * number // (kills + 2)
        while sum(client.done for client in clients) < enough and any(
            map(threading.Thread.is_alive, clients)
        ):
            time.sleep(0.01)
        time.sleep(moments.uniform(0, 0.3))
        machine = moments.choice(workers if number % 2 else webs)
        machine.kill()
        killed[machine.name] += 1
        time.sleep(moments.uniform(0, 0.5))
        machine.start()
    return killed


def _settled(environment: dict[str, str]) -> dict[str, Any]:
    """Once nothing is to be done any more: what was left by who was killed last may have to be waited for."""
    give_up = time.monotonic() + PATIENCE
    while True:
        found = _python(COUNT, environment)
        if (found["up_to_date"] and not found["unfinished"]) or time.monotonic() > give_up:
            return found


def _python(code: str, environment: dict[str, str], *args: str) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-c", code, *args],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return dict(json.loads(done.stdout.splitlines()[-1]))


def run() -> list[tuple[str, str]]:
    database = os.environ.get("DATABASE_URL", "")
    if not database.startswith("postgres"):
        return [("several machines need PostgreSQL", ".ci/postgres .venv/bin/python -m tests.bench machines")]
    tablets, taps, bundles, kills = 20, 60, 4, 16
    counts = run_machines(database, tablets=tablets, taps=taps, bundles=bundles, kills=kills, migrate=True)

    def kept(*found: object, of: object) -> str:
        return f"{', '.join(map(str, found))} {'kept' if set(found) == {of} else 'BROKEN'}"

    print(*counts.wrong[:5], *counts.failed[:5], sep="\n", end="")
    logged = counts.acknowledged, counts.rows, counts.pieces, counts.events
    return [
        ("taps acknowledged, taps / pieces / events there", kept(*logged, of=tablets * taps)),
        ("bundles asked for, opened, PDFs there", f"{counts.asked}, {counts.opened}, {counts.bundles}"),
        (
            "bundles that were not opened, or called stopped",
            kept(counts.asked - counts.opened, counts.stopped, of=0),
        ),
        ("answers that asked to sign in again", kept(counts.signed_out, of=0)),
        (
            "answers that nobody should get",
            kept(len(counts.wrong), of=0),
        ),
        (
            "revisions of which dates were made twice",
            kept(counts.planned_twice, of=0) + f" of {counts.plans} plans",
        ),
        (
            "tasks left unfinished, dates up to date",
            f"{kept(counts.unfinished, of=0)}, {kept(counts.up_to_date, of=True)}",
        ),
        ("floors read; requests by web process", f"{counts.read}; {counts.served}"),
        ("killed, by process", f"{counts.kills}"),
        ("requests cut on their way, tasks taken up again", f"{counts.cut}, {counts.taken_up_again}"),
    ]
