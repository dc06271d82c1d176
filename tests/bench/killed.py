"""A server that is killed while twenty clients write: how often, what was cut, and what is there afterwards."""

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
import urllib.error
import urllib.request
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

ROOT = Path(__file__).resolve().parents[2]
PREPARE = """
import django; django.setup()
from django.conf import settings
from studio.sessions import SessionStore
from django.core.management import call_command
from django.core.signing import Signer
from django.utils import timezone
call_command("migrate", verbosity=0)
# The planner's kernel is compiled and kept here, not by the first requests of a server that is killed meanwhile.
import jobs.planning.futures
from jobs.models import Account, Operation, Person, Role
from tests import cast
import json
cast.make_studio(); cast.make_shop()
panel = cast.make_panel(cast.make_job(), kinds=("Beveling",), pieces=1000)
account = cast.make_account("tablet", Role.BENCH)
session = SessionStore()
session["_auth_user_id"], session["_auth_user_hash"] = str(account.pk), account.get_session_auth_hash()
session["_auth_user_backend"] = "django.contrib.auth.backends.ModelBackend"
session.save()
facts = {"account": account.pk, "person": cast.person("Mara").pk, "since": int(timezone.now().timestamp())}
who = Signer(salt="jobs.views.tablet").sign_object(facts)
print(json.dumps({"session": session.session_key, "who": who, "pk": Operation.objects.get().pk}))
"""
COUNT = """
import django; django.setup()
import json
from jobs.models import Event, Operation, Tap
print(json.dumps({
    "rows": Tap.objects.count(), "events": Event.objects.filter(verb="counted").count(),
    "pieces": Operation.objects.get().quantity_done,
}))
"""
TOKEN = "a" * 32
PATIENCE = 60  # Seconds that a tablet goes on without an answer.


@dataclass(frozen=True, slots=True)
class Counts:
    """Taps acknowledged, requests that were cut, kills, and what the database holds: taps, pieces, events."""

    acknowledged: int
    cut: int
    kills: int
    rows: int
    pieces: int
    events: int


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
    return port


class _Server:
    """gunicorn on a free port; killed with all its processes at once."""

    def __init__(self, environment: dict[str, str]) -> None:
        self.port = free_port()
        self.environment = environment
        self.start()

    def start(self) -> None:
        command = [sys.executable, "-m", "gunicorn", "studio.wsgi", "--bind", f"127.0.0.1:{self.port}"]
        options = ["--threads", "4", "--no-control-socket", "--log-level", "critical"]
        self.process = subprocess.Popen(
            command + options, cwd=ROOT, env=self.environment, start_new_session=True
        )

    def kill(self) -> None:
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


class _Tablet(threading.Thread):
    """Counts one piece after the other, and sends each again until it is acknowledged."""

    def __init__(self, port: int, facts: dict[str, Any], taps: int) -> None:
        super().__init__(daemon=True)
        self.port, self.facts, self.taps = port, facts, taps
        self.acknowledged = self.cut = 0

    def run(self) -> None:
        for _ in range(self.taps):
            give_up = time.monotonic() + PATIENCE
            item = {
                "id": str(uuid4()),
                "verb": "pieces",
                "pk": self.facts["pk"],
                "at": int(time.time() * 1000),
                "who": self.facts["who"],
                "fields": {"add": "1"},
            }
            while not self._send(item):
                if time.monotonic() > give_up:
                    return
                time.sleep(0.05)
            self.acknowledged += 1

    def _send(self, item: dict[str, Any]) -> bool:
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}/bench/-/outbox/",
            json.dumps({"items": [item]}).encode(),
            {
                "Content-Type": "application/json",
                "Cookie": f"sessionid={self.facts['session']}; csrftoken={TOKEN}",
                "X-CSRFToken": TOKEN,
            },
        )
        try:
            with urllib.request.urlopen(request, timeout=10) as answer:
                return bool(json.load(answer)["results"][0]["state"] == "done")
        except urllib.error.URLError as error:
            # Refused while nobody listens is no cut: only what was on its way is.
            self.cut += not isinstance(error.reason, ConnectionRefusedError)
        except (OSError, ValueError):
            self.cut += 1
        return False


def run_killed(clients: int, taps: int, kills: int) -> Counts:
    """Let `clients` write `taps` each, and kill the server `kills` times at moments that nobody chose."""
    with tempfile.TemporaryDirectory(prefix="studio-killed-") as folder:
        environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
        environment |= {"VAR_DIR": folder, "DEBUG": "off", "DJANGO_SETTINGS_MODULE": "studio.settings"}
        facts = _python(PREPARE, environment)
        server = _Server(environment)
        try:
            tablets = [_Tablet(server.port, facts, taps) for _ in range(clients)]
            for tablet in tablets:
                tablet.start()
            killed = _kill_often(server, tablets, clients * taps, kills)
            for tablet in tablets:
                tablet.join()
        finally:
            server.kill()
        found = _python(COUNT, environment)
    return Counts(
        acknowledged=sum(tablet.acknowledged for tablet in tablets),
        cut=sum(tablet.cut for tablet in tablets),
        kills=killed,
        **found,
    )


def _kill_often(server: _Server, tablets: list[_Tablet], in_all: int, kills: int) -> int:
    """Kill each time when some more have been acknowledged, so that a slow machine is killed as often."""
    moments = random.Random()
    for number in range(1, kills + 1):
        enough = in_all * number // (kills + 2)
        while sum(tablet.acknowledged for tablet in tablets) < enough and any(
            tablet.is_alive() for tablet in tablets
        ):
            time.sleep(0.002)
        time.sleep(moments.uniform(0, 0.03))
        server.kill()
        server.start()
    return kills


def _python(code: str, environment: dict[str, str]) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return dict(json.loads(done.stdout.splitlines()[-1]))


def run() -> list[tuple[str, str]]:
    counts = run_killed(clients=20, taps=50, kills=8)
    same = {counts.acknowledged, counts.rows, counts.pieces, counts.events}
    shown = f"{counts.acknowledged}, {counts.rows}, {counts.pieces}, {counts.events}"
    word = "kept" if same == {20 * 50} else "BROKEN"
    return [
        ("taps acknowledged to 20 clients, taps / pieces / events there (all the same)", f"{shown} {word}"),
        ("times killed, requests cut on their way", f"{counts.kills}, {counts.cut}"),
    ]
