"""Cutting the run off at "now": which timers run, which was left on, what lies where."""

from __future__ import annotations

from datetime import date, timedelta

from .floor import Floor
from .names import RACKS
from .orders import Orders
from .records import Stretch, Work, Worker

TIMERS = 3


def last_day_of(worker: Worker, today: date, floor: Floor) -> date:
    """The last day before today on which somebody was there."""
    day = today - timedelta(days=1)
    while not worker.hours(day, day in floor.closed):
        day -= timedelta(days=1)
    return day


def stop_timers(floor: Floor, now: int) -> None:
    """Three of those at work have their timer running; the others have paused some minutes ago."""
    order = sorted(floor.running, key=lambda name: (floor.running[name][0].kind.name != "Beveling", name))
    kept = 0
    for name in order:
        work, start = floor.running[name]
        worker = floor.by_name[name]
        if kept < TIMERS and work.kind.crew == 1 and start < now:
            floor.stretches.append(Stretch(worker, work, start, None, None))
            kept += 1
        elif now - start > 8:
            stop = now - floor.rng.randrange(2, min(now - start - 4, 25))
            worked = sum(min(b, stop) - max(a, start) for a, b in floor.hours[name] if a < stop and b > start)
            if worked > 0:
                floor.stretches.append(Stretch(worker, work, start, stop, worked))
    for works in floor.on_bench.values():
        for work in works:
            if not any(stretch.work is work for stretch in floor.stretches[-4000:]):
                work.started = None


def leave_on(floor: Floor, name: str) -> None:
    """The last timer of somebody who is ill today was never stopped."""
    for stretch in reversed(floor.stretches):
        if stretch.worker.name == name:
            if stretch.work.keeper is stretch.worker and stretch.stop is not None:
                stretch.work.done -= stretch.pieces
                stretch.stop = stretch.minutes = None
                stretch.pieces = 0
            return


def place_everything(orders: Orders, now: int) -> None:
    """Where each panel is: at its bench, at the supplier's, on a rack; what is delivered is nowhere here."""
    for job in orders.jobs:
        for sheet in job.sheets:
            works = [work for work in job.works if work.panel is sheet]
            sheet.where = "" if job.closed else _where(works, sheet.id + len(job.title), now)


def _where(works: list[Work], spread: int, now: int) -> str:
    begun = [work for work in works if work.started is not None and work.started <= now]
    for work in begun:
        if work.keeper is not None:
            return str(work.kind.station)
    if not begun:
        return ""
    last = begun[-1]
    if not last.is_attended and not last.is_done(now):
        return "Curing shelf" if last.is_cure else f"At the supplier's: {last.kind.name.lower()}"
    if all(work.is_done(now) for work in works):
        return "Crate, by the door"
    return RACKS[(spread * 5 + len(begun)) % len(RACKS)]
