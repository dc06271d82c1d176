"""Dates from rows to rows, questions of what if and memory: a typical studio and a large one, in a database of a file.

Each is measured in a process of its own that has not made the studio, as a worker is. The large one is the demo's floor
with as many jobs as make some 8,000 operations and four people and benches for each one of the demo's.
"""

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.bench.limits import at_most

# Name: options of load_demo, people and benches for each of the demo's, limits of a replan and of a question.
STUDIOS: dict[str, tuple[list[str], int, float, float | None]] = {
    "typical": (["--open-jobs", "60"], 1, 1, 1),
    "large": (["--open-jobs", "515"], 4, 8, None),
}
MEGABYTES = 500
ROUNDS = 3


def run() -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    with tempfile.TemporaryDirectory(prefix="studio-bench-") as folder:
        for name, (options, times, replan, question) in STUDIOS.items():
            environment = os.environ | {"VAR_DIR": str(Path(folder) / name), "DEBUG": "off"}
            environment.pop("DATABASE_URL", None)
            figures: dict[str, Any] = {}
            for part in (["make", str(times), *options], ["measure"]):
                done = subprocess.run(
                    [sys.executable, "-m", "tests.bench.dates", *part],
                    env=environment,
                    capture_output=True,
                    text=True,
                    check=False,
                )
                if done.returncode:
                    return [*found, (f"{name}: could not be measured", f"BROKEN\n{done.stderr[-2000:]}")]
                figures = json.loads(done.stdout.splitlines()[-1])
            found += _figures(name, figures, replan, question)
    return found


def _figures(
    name: str, figures: dict[str, Any], replan: float, question: float | None
) -> list[tuple[str, str]]:
    def seconds(what: str, limit: float | None) -> str:
        wall, worked = figures[what]
        shown = f"{wall:.2f} s" if limit is None else at_most(wall, limit, " s")
        return f"{shown}, processors {worked:.2f} s"

    return [
        (f"{name}: open operations, people", f"{figures['operations']}, {figures['people']}"),
        (f"{name}: a replan from rows to rows", seconds("replan", replan)),
        (f"{name}: what if, the first question of a floor", seconds("first", question)),
        (f"{name}: what if, the next question", seconds("next", question)),
        (f"{name}: memory of the process at most", at_most(figures["memory"], MEGABYTES, " MB")),
    ]


def _django() -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "studio.settings"
    import django

    django.setup()


def _make(times: int, options: list[str]) -> dict[str, Any]:
    _django()
    from django.core.management import call_command

    from jobs.models import Person, Station

    call_command("migrate", verbosity=0)
    call_command("load_demo", *options, verbosity=0)
    for person in list(Person.objects.prefetch_related("skills", "shifts")):
        skills, shifts = list(person.skills.all()), list(person.shifts.all())
        for number in range(1, times):
            other = Person.objects.create(name=f"{person.name} {number}", hourly_cost=person.hourly_cost)
            for row in (*skills, *shifts):
                row.pk, row.person, row._state.adding = None, other, True
                row.save(force_insert=True)
    for station in Station.objects.all():
        station.benches *= times
        station.save(update_fields=["benches"])
    return {}


def _spent(act: Callable[[], object], rounds: int = ROUNDS) -> tuple[float, float]:
    """The best of a few, in seconds by the clock on the wall and of all processors together."""
    found = []
    for _ in range(rounds):
        wall, worked = time.perf_counter(), time.process_time()
        act()
        found.append((time.perf_counter() - wall, time.process_time() - worked))
    return min(found)


def _measure() -> dict[str, Any]:
    _django()
    import resource

    from django.utils import timezone

    from jobs.actions.plan import replan
    from jobs.actions.whatif import Wishes, forget, stand
    from jobs.models import Job, Operation, Person

    now = timezone.now()
    last = Job.objects.open().order_by("pk").last()

    def asked() -> None:
        base = stand(now)
        effect = base.effect(Wishes(first=last).changes(base))
        assert effect.moved is not None

    def asked_first() -> None:
        forget()
        asked()

    replan(at=now, force=True)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {
        "operations": Operation.objects.open(now).count(),
        "people": Person.objects.filter(active=True).count(),
        "memory": memory,
        "replan": _spent(lambda: replan(at=now, force=True)),
        "first": _spent(asked_first),
        "next": _spent(asked),
    }


if __name__ == "__main__":
    wanted = sys.argv[1:]
    print(json.dumps(_make(int(wanted[1]), wanted[2:]) if wanted[0] == "make" else _measure()))
