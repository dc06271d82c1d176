"""Twenty people at once on a studio of ten years, for ten minutes (MINUTES= says otherwise): errors, times, losses.

Ten tablets count pieces and ask for news; ten people of the office read pages. The clients run on the same machine as
the server, and take their part of its processors.
"""

import csv
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from tests.bench.grown import ROOT, ask, environment
from tests.bench.killed import free_port
from tests.bench.limits import at_most
from tests.bench.years import MEMORY, P95, STUDIOS

PEOPLE = 20


def run() -> list[tuple[str, str]]:
    with tempfile.TemporaryDirectory(prefix="studio-load-") as name:
        folder = Path(name)
        rows = ask(folder, "load", *STUDIOS["ten years"])
        before = ask(folder, "facts")
        (folder / "facts.json").write_text(json.dumps(before))
        memory = _serve(folder)
        acknowledged = folder / "acknowledged.json"
        ids = json.loads(acknowledged.read_text())
        kept = ask(folder, "kept", str(acknowledged))
        with (folder / "stats_stats.csv").open() as file:
            stats = list(csv.DictReader(file))
    return [
        (", ".join(rows), ", ".join(f"{number:,}" for number in rows.values())),
        *_told(stats, ids, kept, memory),
    ]


def _told(stats: list[dict[str, str]], ids: list[str], kept: int, memory: float) -> list[tuple[str, str]]:
    told = []
    for row in stats:
        name, asked = row["Name"], int(row["Request Count"])
        failed = int(row["Failure Count"])
        told.append((f"{name}: requests, failures", f"{asked:,}, {at_most(failed, 0)}"))
        p95 = float(row["95%"])
        told.append((f"{name}: p95", at_most(p95, P95, " ms")))
    lost = len(ids) - kept
    return [
        *told,
        ("taps acknowledged, of these not there", f"{len(ids):,}, {at_most(lost, 0)}"),
        ("memory of the largest process of the server", at_most(memory, MEMORY, " MB")),
    ]


def _serve(folder: Path) -> float:
    """Run the server, the worker and the clients; gives the largest memory of a web process, in megabytes."""
    import psutil

    port, own = free_port(), environment(folder)
    gunicorn = [sys.executable, "-m", "gunicorn", "studio.wsgi", "--bind", f"127.0.0.1:{port}"]
    server = subprocess.Popen(
        [*gunicorn, "--workers", "2", "--threads", "4", "--no-control-socket", "--log-level", "warning"],
        cwd=ROOT,
        env=own,
    )
    worker = subprocess.Popen([sys.executable, "manage.py", "worker"], cwd=ROOT, env=own)
    try:
        time.sleep(5)
        _clients(folder, port, own)
        return max(
            process.memory_info().rss / 1e6 for process in psutil.Process(server.pid).children(recursive=True)
        )
    finally:
        for process in (server, worker):
            process.terminate()
            process.wait()


def _clients(folder: Path, port: int, own: dict[str, Any]) -> None:
    command = [
        sys.executable,
        "-m",
        "locust",
        "-f",
        "tests/bench/load_people.py",
        "--headless",
        "--only-summary",
    ]
    options = ["-u", str(PEOPLE), "-r", "4", "-t", f"{os.environ.get('MINUTES', '10')}m"]
    told = ["--host", f"http://127.0.0.1:{port}", "--csv", str(folder / "stats"), "--exit-code-on-error", "0"]
    done = subprocess.run(
        [*command, *options, *told],
        cwd=ROOT,
        env=own | {"FACTS": str(folder / "facts.json")},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(done.stderr[-3000:])
