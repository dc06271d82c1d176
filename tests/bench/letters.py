"""Papers, warm, against an empty paper of the same renderer: each alone, and those of 30 panels in one."""

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

from tests.bench.limits import at_most

ROUNDS = 5
PANELS = 30


def run() -> list[tuple[str, str]]:
    """Load the demo in a process of its own and measure there."""
    with tempfile.TemporaryDirectory(prefix="studio-bench-") as folder:
        environment = os.environ | {"VAR_DIR": str(Path(folder)), "DEBUG": "off"}
        environment.pop("DATABASE_URL", None)
        done = subprocess.run(
            [sys.executable, "-m", "tests.bench.letters"],
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
    if done.returncode:
        return [("papers could not be measured", f"BROKEN\n{done.stderr[-2000:]}")]
    found: dict[str, dict[str, float]] = json.loads(done.stdout.splitlines()[-1])
    empty = found.pop("empty")["seconds"]
    rows = [("an empty paper", f"{empty * 1000:.0f} ms")]
    for name, figures in found.items():
        pages, seconds = figures["pages"], figures["seconds"]
        # A second is what a paper of an ordinary job may take; one of 30 panels is told by the page.
        shown = f"{seconds:.2f} s" if str(PANELS) in name else at_most(seconds, 1, " s")
        rows.append((f"{name}, {pages:.0f} pages", shown))
        rows.append((f"{name}, times an empty paper, a page", f"{seconds / empty / pages:.1f}"))
    return rows


def _timed(make: Callable[[], bytes], rounds: int = ROUNDS) -> dict[str, float]:
    """The median of so many rounds after one that warms up; where one has to do, the first."""
    import io

    from pypdf import PdfReader

    data, spans = b"", []
    for _ in range(rounds + (rounds > 1)):
        start = time.perf_counter()
        data = make()
        spans.append(time.perf_counter() - start)
    return {"seconds": median(spans[-rounds:]), "pages": len(PdfReader(io.BytesIO(data)).pages)}


def _measure() -> dict[str, Any]:
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.bench.settings"
    import django

    django.setup()
    from django.core.management import call_command
    from django.test import Client
    from django.utils import timezone

    call_command("migrate", verbosity=0)
    call_command("load_demo", verbosity=0)

    from jobs.actions import Actor
    from jobs.actions.quotes import make_quote
    from jobs.documents.render import pdf
    from jobs.models import Account, Job, Role, Studio

    lead = Account.objects.filter(role=Role.LEAD).first()
    client = Client()
    client.force_login(lead, backend="django.contrib.auth.backends.ModelBackend")
    studio = Studio.current()

    def get(address: str) -> bytes:
        response = client.get(address)
        assert response.status_code == 200, (address, response.status_code)
        return response.content

    def all_of(address: str) -> bytes:
        """From the first request to the PDF, as a browser without scripts goes."""
        run = client.get(address)["Location"]
        while "Open the papers" not in client.get(run).content.decode():
            time.sleep(0.2)
        return get(f"{run}&open=now")

    found = {"empty": _timed(lambda: pdf("documents/base.html", {}, studio=studio, title="Empty"))}
    job = next(job for job in Job.objects.open() if job.panels.count() == 2 and job.panels.first().drawing)
    make_quote(job, by=Actor(account=lead), at=timezone.now())
    papers = _papers(job, Job.objects.filter(stage="complete").last())
    for name, address in papers.items():
        found[name] = _timed(lambda address=address: get(address))  # type: ignore[misc]
    _grow(job)
    for name in ("approval sheet", "delivery note"):
        found[f"{name} of {PANELS} panels"] = _timed(lambda name=name: get(papers[name]))  # type: ignore[misc]
    for name, more in (("all papers", ""), ("all papers without patterns", "?patterns=no")):
        address = f"/papers/{job.number}/all/{more}"
        found[f"{name} of {PANELS} panels"] = _timed(lambda address=address: all_of(address), 1)  # type: ignore[misc]
    return found


def _papers(job: Any, done: Any) -> dict[str, str]:
    """The addresses of the papers of one panel or job; the completion letter is of a job that is done."""
    return {
        "quote": f"/papers/quotes/{job.number}/1/",
        "approval sheet": f"/papers/letters/{job.number}/approval/",
        "delivery note": f"/papers/letters/{job.number}/delivery/",
        "installation sheet": f"/papers/letters/{job.number}/installation/",
        "completion letter": f"/papers/letters/{done.number}/completion/",
        "traveler": f"/papers/{job.number}/1/traveler/",
        "cut list": f"/papers/{job.number}/1/cut-list/",
        "full-size pattern": f"/papers/{job.number}/1/pattern/",
        "labels": f"/papers/{job.number}/1/labels/",
        "crate labels": f"/papers/{job.number}/crates/",
        "bench list": "/papers/bench/beveling/",
        "week": "/papers/week/",
        "purchase list of a job": f"/papers/materials/{job.number}/",
        "purchase list of the shop": "/papers/materials/",
        "hours sheet": "/hours/sheet/?pdf=1",
    }


def _grow(job: Any) -> None:
    """Give the job PANELS panels, each like its first."""
    from jobs.models import Panel

    first = job.panels.order_by("number")[0]
    for number in range(job.panels.count() + 1, PANELS + 1):
        Panel.objects.create(
            job=job,
            number=number,
            name=first.name,
            width_mm=first.width_mm,
            height_mm=first.height_mm,
            drawing=first.drawing,
        )
        _copy_work(first, job.panels.get(number=number))


def _copy_work(first: Any, panel: Any) -> None:
    """The panel goes through the same work as the first, and is drawn by the same pattern."""
    from jobs.models import Operation, Pattern

    for model, rows in (
        (Operation, Operation.objects.filter(panel=first, breakage=None)),
        (Pattern, first.patterns.all()),
    ):
        for row in rows:
            row.pk, row.panel, row._state.adding = None, panel, True
            model.objects.bulk_create([row])


if __name__ == "__main__":
    print(json.dumps(_measure()))
