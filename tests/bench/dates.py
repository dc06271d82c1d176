"""Dates from rows to rows, questions of what if and memory: a typical studio and a large one, in a database of a file.

Each is measured in a process of its own that has not made the studio, as a worker is. The large one is the demo's floor
with as many jobs as make some 8,000 operations and four people and benches for each one of the demo's.
"""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.bench.limits import at_most, in_time, spent

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
        if limit is None:
            return f"clock {wall:.2f} s, processors {worked:.2f} s"
        return in_time(figures[what], limit)

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


def _most_memory() -> float:
    """Megabytes that this process has had at most. What `getrusage` says is no less than what its parent had."""
    for line in Path("/proc/self/status").read_text(encoding="ascii", errors="replace").splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) / 1024
    raise RuntimeError("This system does not tell the memory of a process")


def _measure() -> dict[str, Any]:
    _django()
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
    memory = _most_memory()
    return {
        "operations": Operation.objects.open(now).count(),
        "people": Person.objects.filter(active=True).count(),
        "memory": memory,
        "replan": spent(lambda: replan(at=now, force=True), ROUNDS),
        "first": spent(asked_first, ROUNDS),
        "next": spent(asked, ROUNDS),
    }


if __name__ == "__main__":
    wanted = sys.argv[1:]
    print(json.dumps(_make(int(wanted[1]), wanted[2:]) if wanted[0] == "make" else _measure()))
