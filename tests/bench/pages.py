"""Pages and hours with ten years of history, against an empty page and a bare insert through the same stack."""

import itertools
import json
import os
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from tests.bench.limits import at_most, wanted

STUDIOS = {
    "two years": ["--years", "2"],
    "ten years": ["--years", "10", "--dense"],
    "ten years, 90 open jobs": ["--years", "10", "--dense", "--open-jobs", "90"],
}
PAGES = {
    "floor": "/",
    "panels": "/panels/",
    "waits": "/panels/?waits=beveling",
    "bench": "/bench/beveling/",
    "dates": "/dates/",
}
# Drawn with nothing kept of the page; after a tap somewhere on the floor; with nothing changed.
ANEW, CHANGED, AGAIN = "drawn anew", "after a tap", "looked at again"
ROUNDS = 40
LIMITED = ("floor", "bench")


def run() -> list[tuple[str, str]]:
    """Load each studio in a process of its own, measure there, and hold the figures against their limits."""
    found = {}
    with tempfile.TemporaryDirectory(prefix="studio-bench-") as folder:
        for name, options in STUDIOS.items():
            var = Path(folder) / name.replace(" ", "-").replace(",", "")
            environment = os.environ | {"VAR_DIR": str(var), "DEBUG": "off", "DATABASE_URL": ""}
            del environment["DATABASE_URL"]
            done = subprocess.run(
                [sys.executable, "-m", "tests.bench.pages", *options],
                env=environment,
                capture_output=True,
                text=True,
                check=False,
            )
            if done.returncode:
                return [(f"{name}: could not be measured", f"BROKEN\n{done.stderr[-2000:]}")]
            found[name] = json.loads(done.stdout.splitlines()[-1])
    return list(_figures(found))


def _figures(found: dict[str, dict[str, Any]]) -> Any:
    for name, figures in found.items():
        rows = figures["rows"]
        yield (
            f"{name}: operations, entries, open panels",
            f"{rows['operations']}, {rows['entries']}, {rows['panels']}",
        )
        for page in PAGES:
            limited = page in LIMITED and name == "ten years"
            for how, spans in figures["pages"][page]["spans"].items():
                ratio, p95 = spans["cpu"] / figures["empty"]["cpu"], spans["p95"]
                yield f"{name}: {page}, {how}, p95", at_most(p95, 60, " ms") if limited else f"{p95:.0f} ms"
                shown = _against_empty(ratio, how) if limited else f"{ratio:.1f}"
                yield f"{name}: {page}, {how}, processor time / an empty signed-in page's", shown
        tap, insert = figures["tap"], figures["insert"]
        yield f"{name}: logging an hour, times a bare insert", at_most(tap["median"] / insert["median"], 3)
        yield (
            f"{name}: logging an hour, processor time / a bare insert's",
            f"{tap['cpu'] / insert['cpu']:.1f}",
        )
    counts = [{page: figures["pages"][page]["queries"] for page in PAGES} for figures in found.values()]
    for page in PAGES:
        numbers = [count[page] for count in counts]
        constant = "kept" if len(set(numbers)) == 1 else "BROKEN"
        yield f"{page}: queries in the three studios (all the same)", f"{numbers} {constant}"


def _against_empty(ratio: float, how: str) -> str:
    """Six times an empty page is kept by a page with nothing new on it, and wanted of one that has to be drawn."""
    return at_most(ratio, 6) if how == AGAIN else wanted(ratio, 6, 14)


def _timed(
    call: Callable[[], Any], before: Callable[[], Any] = lambda: None, rounds: int = ROUNDS
) -> dict[str, float]:
    """Milliseconds of the clock, and the median of the processor's; what comes before each call is not counted."""
    spans, used = [], []
    for _ in range(rounds + 2):
        before()
        start, cpu = time.perf_counter(), time.process_time()
        call()
        spans.append((time.perf_counter() - start) * 1000)
        used.append((time.process_time() - cpu) * 1000)
    warm = spans[2:]
    return {"median": median(warm), "p95": quantiles(warm, n=20)[-1], "cpu": median(used[2:])}


def _measure(options: list[str]) -> dict[str, Any]:
    _load(options)
    from django.test import Client

    from jobs.models import Account, Operation, Panel, Role, TimeEntry

    # The pages are compared with each other, not with the planner: its dates stay as they are.
    client = Client()
    client.force_login(
        Account.objects.filter(role=Role.LEAD).first(), backend="django.contrib.auth.backends.ModelBackend"
    )

    def get(address: str) -> None:
        response = client.get(address)
        assert response.status_code == 200, (address, response.status_code)

    result: dict[str, Any] = {
        "rows": {
            "operations": Operation.objects.count(),
            "entries": TimeEntry.objects.count(),
            "panels": Panel.objects.filter(job__stage="ordered").count(),
        },
        "empty": _timed(lambda: get("/bench-of-speed/empty/")),
    }
    tap = _tap(client)
    result["pages"] = {name: _looked_at(partial(get, address), tap) for name, address in PAGES.items()}
    result["insert"] = _timed(lambda: client.post("/bench-of-speed/insert/"))
    result["tap"] = _timed(tap)
    return result


def _load(options: list[str]) -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.bench.settings"
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    call_command("load_demo", *options, verbosity=0)
    call_command("replan", "--quiet")


def _looked_at(look: Callable[[], None], tap: Callable[[], None]) -> dict[str, Any]:
    """A page in the three ways it can be found, and its queries."""
    from django.core.cache import cache
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from jobs.templatetags.kept import forget_rows

    def forget() -> None:
        cache.clear()
        forget_rows()

    spans = {ANEW: _timed(look, forget), CHANGED: _timed(look, tap), AGAIN: _timed(look)}
    forget()
    with CaptureQueriesContext(connection) as queries:
        look()
    return {"spans": spans, "queries": len(queries)}


def _tap(client: Any) -> Callable[[], None]:
    """One person starts one of two operations after the other: each tap stops one entry and starts another."""
    from django.urls import reverse
    from django.utils import timezone

    from jobs.models import Operation, State, TimeEntry

    now = timezone.now()
    # Whoever left a timer on is asked about it first, and cannot tap anything else.
    left_on = TimeEntry.objects.running().exclude(started_at__date=now.date()).values("person")
    ready = (
        Operation.objects.open(now).with_state(now).filter(state=State.READY, kind__station__slug="beveling")
    )
    turns = itertools.cycle(ready.order_by("pk")[:2])
    skill = next(turns).kind.station.skills.filter(person__active=True).exclude(person__in=left_on)[0]
    client.post(reverse("bench-person", args=["beveling"]), {"person": skill.person_id})

    def tap() -> None:
        address = reverse("bench-start", args=["beveling", next(turns).pk])
        response = client.post(address, {"client_id": str(uuid.uuid4())})
        assert response.status_code == 303, (response.status_code, response.content[:500])

    return tap


if __name__ == "__main__":
    print(json.dumps(_measure(sys.argv[1:])))
