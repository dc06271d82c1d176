"""What ten years of work add to one year's: each page, memory, the database's size, and the time to start."""

import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from tests.bench.grown import ROOT, ask, environment
from tests.bench.killed import free_port
from tests.bench.limits import at_most

STUDIOS = {"one year": ["--years", "1", "--dense"], "ten years": ["--years", "10", "--dense"]}
GROWTH, P95, MEMORY, SIZE, START = 1.3, 100, 250, 500, 3
# What a page takes below this is noise, not growth: half a millisecond more of two is no sign of anything.
NOISE = 1.0


def run() -> list[tuple[str, str]]:
    told, found = [], {}
    with tempfile.TemporaryDirectory(prefix="studio-years-") as name:
        for studio, options in STUDIOS.items():
            folder = Path(name) / studio.replace(" ", "-")
            rows = ask(folder, "load", *options)
            told.append(
                (f"{studio}: {', '.join(rows)}", ", ".join(f"{number:,}" for number in rows.values()))
            )
            found[studio] = ask(folder, "pages")
        size = sum(path.stat().st_size for path in folder.glob("*.sqlite3*")) / 1e6
        start = _start(folder)
    one, ten = (found[studio]["pages"] for studio in STUDIOS)
    for page, spans in ten.items():
        told.append((f"{page}: p95 after ten years", at_most(spans["p95"], P95, " ms")))
        ratio = spans["cpu"] / max(one[page]["cpu"], NOISE)
        told.append((f"{page}: processor time after ten years / after one", at_most(ratio, GROWTH)))
    memory = found["ten years"]["memory"]
    return [
        *told,
        ("memory of the process that drew them all", at_most(memory, MEMORY, " MB")),
        ("the database after ten years", at_most(size, SIZE, " MB")),
        ("from the start to the first answer", at_most(start, START, " s")),
    ]


def _start(folder: Path) -> float:
    """Seconds until a server that is started now answers its first request."""
    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "studio.wsgi", "--bind", f"127.0.0.1:{port}"]
    begun = time.perf_counter()
    server = subprocess.Popen([*command, "--no-control-socket"], cwd=ROOT, env=environment(folder))
    try:
        while time.perf_counter() - begun < 60:
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/sign-in/", timeout=10).close()
                return time.perf_counter() - begun
            except urllib.error.URLError:
                time.sleep(0.02)
    finally:
        server.terminate()
        server.wait()
    raise RuntimeError("The server does not answer.")
