"""Lists on paper: what a bench works on, the week for the wall, and what is to be bought."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from jobs.models import PlanState, Studio
from jobs.models.bench import Bench
from jobs.models.wall import JobOnDay, Wall

from .render import pdf


def bench_list(bench: Bench, *, studio: Studio, at: datetime) -> bytes:
    """A station's work as its page shows it, each with a box to tick; what there is none of is left out."""
    offered = [bench.offered] if bench.offered else []
    found = [
        ("On the bench", bench.current, 0, "Due"),
        ("Next, in this order", [*offered, *bench.following], bench.more, "Due"),
        ("Coming", bench.coming, 0, "After what"),
        ("With others", bench.others, 0, "Due"),
        ("Held", bench.held, 0, "For what"),
    ]
    context = {
        "bench": bench,
        "station": bench.station,
        "at": at,
        "day": at.astimezone(studio.zone).date(),
        "parts": [
            {"name": name, "works": works, "more": more, "about": about}
            for name, works, more, about in found
            if works
        ],
    }
    title = f"Bench list {bench.station.name}"
    return pdf("documents/bench_list.html", context, studio=studio, title=title)


def purchase_list(list_of: Mapping[str, Any], *, studio: Studio, at: datetime) -> bytes:
    """`list_of` is the context of the page: `rows`, and where it is one job's its `job` and `total`. What is to be
    ordered in one go stands together, which is also laid out in half the time."""
    job = list_of.get("job")
    title = f"Purchase list {job.number}" if job else "Purchase list"
    orders = [(rows[0], rows) for rows in _orders(list_of["rows"])]
    context = {**list_of, "orders": orders, "at": at, "day": at.astimezone(studio.zone).date()}
    return pdf("documents/purchases.html", context, studio=studio, title=title, landscape=True)


def _orders(rows: Iterable[Any]) -> list[list[Any]]:
    """Rows of one job, supplier and state with the same days; the order of the page is kept but within one day."""
    found: dict[tuple[Any, ...], list[Any]] = {}
    for row in rows:
        need = row.need
        days = (need.order_by, need.needed_by, need.ordered, need.expected, need.arrived)
        found.setdefault((*days, need.job_id, need.supplier_id, row.state), []).append(row)
    return list(found.values())


def week_plan(wall: Wall, plan: PlanState, *, studio: Studio) -> bytes:
    """Stations against the days of the week, to be read from two meters."""
    rows = [(row, [[_told(job) for job in jobs] for jobs in row.days]) for row in wall.rows]
    context = {"wall": wall, "rows": rows, "plan": plan}
    title = f"The week of {wall.days[0]:%Y-%m-%d}"
    return pdf("documents/week.html", context, studio=studio, title=title, landscape=True)


def _told(job: JobOnDay) -> tuple[str, str, str]:
    """The number of the job, its panels to be worked on, and those that are finished."""
    return job.number, _panels(job.panels, job.whole), _panels(job.done, job.whole_done)


def _panels(numbers: Iterable[int], whole: bool) -> str:
    return ", ".join(filter(None, [ranges(numbers), "job" if whole else ""]))


def ranges(numbers: Iterable[int]) -> str:
    """Whole numbers in rising order as 1–3, 5."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)
