"""The jobs that the demo is told by: one late, one held, one with a broken piece, a rush, one out for lamination, a
carved screen, a stack of sidelights.

They go through the same floor as all others. What makes their state certain is said beside each: work that cannot
start before a day near now, and work that takes longer than what is left until now.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time, timedelta

from . import law, staff
from .names import STORIES
from .orders import Offer, Orders
from .present import last_day_of
from .records import FAR, Commission, Expected, Given, Rest, Work
from .staff import ILL

HELD_REASON = "customer asked for a warmer rose in the petals: new sample sent, waiting for approval"
HOUR = 60


class Stories:
    """Makes the seven, and leaves them in the order book for the day on which they are accepted."""

    def __init__(self, orders: Orders, today: date) -> None:
        self.orders, self.floor, self.today = orders, orders.floor, today
        makers: list[Callable[[], None]] = [
            self.late,
            self.held,
            self.broken,
            self.rush,
            self.lamination,
            self.carved,
            self.sidelights,
        ]
        for make in makers:
            make()
        orders.planned.sort(key=lambda planned: planned[0])

    def ago(self, days: int) -> date:
        """The working day so many working days before today."""
        return staff.working_days_before(self.today, days, self.floor.closed)

    def ahead(self, days: int) -> date:
        return staff.working_days_after(self.today, days, self.floor.closed)

    def job(self, case: str, customer: int, days: int) -> Commission:
        """A job accepted so many working days ago, with its gates coming in good time."""
        day = self.ago(days)
        at = self.floor.at(day, time(7, 30))
        job = Commission(STORIES[case][0], customer, at, case=case, difficulty=1.0, approval_days=3)
        for kind in ("measured", "deposit", "glass"):
            came = staff.working_days_after(day, 2, self.floor.closed)
            job.gates[kind] = Expected(came)
            self.orders.clear(job, kind, came)
        self.orders.planned.append((day, job))
        return job

    def promise(self, job: Commission, day: date, given: date, reason: str = "") -> None:
        job.promises.append(Given(day, self.floor.at(given, time(11, 15)), reason))

    def late(self) -> None:
        """Promised for four days ago, on the second date; its assembly began yesterday and takes two days."""
        job = self.job("late", 12, 75)
        self.sheet(job, "Beveled window with a border", "diamond", (26, 40), "North light")
        self.sheet(job, "Beveled window with a border", "diamond", (26, 40), "South light")
        self.end(job)
        self.promise(job, self.ago(19), self.ago(75))
        self.promise(job, self.ago(4), self.ago(22), "the glass came two weeks late")
        job.wanted = self.ago(19)
        for work in _of(job, "Assembly"):
            self.takes(work, 15 * HOUR, self.ago(1))
        job.notes = "The chapel is consecrated again as soon as the windows are in."

    def held(self) -> None:
        """Cut, then held for the customer's approval of a color; nothing after the cutting has begun."""
        job = self.job("held", 7, 45)
        self.sheet(job, "Leaded and beveled window", "rose", (30, 30), "Rosette")
        self.end(job)
        self.promise(job, self.ahead(24), self.ago(45))
        for work in job.works:
            if work.kind.name not in ("Pattern", "Cutting"):
                work.not_before = FAR
        since = self.floor.at(self.ago(8), time(11, 20))
        for work in _of(job, "Cutting"):
            work.not_before = 0
        job.holds.append(Rest(job, None, HELD_REASON, since, self.ahead(3), "Emmett Sayle"))
        job.first = True

    def broken(self) -> None:
        """A piece cracked while it was leaded; its cutting and beveling again lie ready from now."""
        job = self.job("broken", 3, 40)
        self.sheet(job, "Leaded and beveled window", "sunrise", (48, 22), "Transom")
        self.end(job)
        self.promise(job, self.ahead(9), self.ago(40))
        for work in _of(job, "Assembly"):
            self.takes(work, 20 * HOUR, self.ago(3))
            work.breaks = (0.08, 1)
        job.first, job.rework_from = True, self.orders.now

    def rush(self) -> None:
        """Ordered four days ago for a reopening in twelve; it passes everybody."""
        job = self.job("rush", 1, 4)
        self.sheet(job, "Leaded and beveled window", "honeycomb", (20, 26), "Left light")
        self.sheet(job, "Leaded and beveled window", "honeycomb", (20, 26), "Right light")
        self.end(job)
        for kind in job.gates:
            self.orders.clear(job, kind, self.ago(4))
        job.first, job.weight, job.approval_days = True, "4", 0
        self.promise(job, self.ahead(12), self.ago(4))
        job.wanted = self.ahead(12)
        job.notes = "Rush: the inn opens again on the day after. Glass is from stock."
        for work in job.works:
            if work.kind.name == "Beveling":
                self.takes(work, work.estimate * 1.15, self.ago(1))

    def lamination(self) -> None:
        """Carved, and at the supplier's since last week; it comes back in some days."""
        job = self.job("lamination", 6, 60)
        self.sheet(job, "Carved and laminated panel", "reeds", (34, 76), "Screen", 9.53)
        self.end(job, install=True)
        self.promise(job, self.ahead(19), self.ago(60))
        for work in _of(job, "Lamination"):
            work.not_before = self.floor.at(self.ago(6), time(9))
            work.content = (self.ahead(4) - self.ago(5)).days * 1440.0
        job.first = True

    def carved(self) -> None:
        """Three carved panels; the heron has been in the cabinet for three weeks of more than four."""
        job = self.job("carved", 17, 70)
        for name, pattern in (
            ("Left, reeds", "reeds"),
            ("Middle, heron", "heron"),
            ("Right, reeds", "reeds"),
        ):
            route = "Carved mural" if pattern == "heron" else "Carved panel"
            self.sheet(job, route, pattern, (36, 80), name, 12.7, choices=("tempered",))
        self.end(job, install=True)
        self.promise(job, self.ahead(62), self.ago(70))
        left, middle, right = _of(job, "Blasting")
        self.takes(left, left.estimate * 1.1, self.ago(70))
        self.takes(middle, 165 * HOUR, self.ago(16))
        self.takes(right, right.estimate * 1.2, self.ahead(1))
        job.first = True

    def sidelights(self) -> None:
        """Eight alike, going round together; the wheels are somewhere among the hundred and more bevels.

        The transom above them lies ready for the one who is ill today, who had nothing else on the last day.
        """
        job = self.job("sidelights", 15, 45)
        self.sheet(job, "Leaded and beveled window", "sidelight", (11, 64), "Sidelight", copies=8)
        self.sheet(job, "Leaded and beveled window", "fan", (44, 17), "Transom")
        self.end(job)
        self.promise(job, self.ahead(44), self.ago(45))
        lights, transom = _of(job, "Beveling")
        self.takes(lights, lights.estimate * 1.08, self.ago(9))
        ill = self.floor.by_name[ILL]
        self.takes(transom, transom.estimate * 1.1, last_day_of(ill, self.today, self.floor))
        transom.only = ill.name
        job.first = True

    def sheet(
        self,
        job: Commission,
        route: str,
        pattern: str,
        size: tuple[int, int],
        name: str,
        thickness: float = 6.35,
        copies: int = 1,
        choices: tuple[str, ...] = (),
    ) -> None:
        wide, high = size
        offer = Offer(route, pattern, (wide, wide), (high, high), (1,), (copies,), thickness=thickness)
        self.orders.add_sheet(job, offer, name, choices)
        for work in job.works:
            work.breaks = None

    def end(self, job: Commission, *, install: bool = False) -> None:
        self.orders.add_whole_job(job, job.sheets[0].route, install=install)

    def takes(self, work: Work, minutes: float, day: date) -> None:
        """This work takes so long, and does not begin before this day."""
        work.content = work.left = float(minutes)
        work.not_before = self.floor.at(day)


def quotes(orders: Orders, today: date) -> None:
    """Enquiries and quotes that are not orders yet, and some of the past that never became one."""
    rng, floor = orders.rng, orders.floor
    ages = [(3, "enquiry"), (8, "enquiry"), (6, "quoted"), (12, "quoted"), (20, "quoted")]
    ages += [(rng.randrange(60, 600), stage) for stage in ("declined",) * 7 + ("cancelled",) * 3]
    for days, stage in ages:
        day = staff.working_days_before(today - timedelta(days=days), 1, floor.closed)
        job = orders.usual(floor.at(day, time(10, rng.randrange(60))))
        job.stage = stage
        job.wanted = day + timedelta(days=rng.randrange(70, 140))
        if stage == "enquiry":
            job.sheets, job.works = [], []
        if stage == "cancelled":
            job.ordered = job.entered + rng.randrange(5000, 20000)
        if stage in ("declined", "cancelled"):
            job.closed = (job.ordered or job.entered) + round(law.gamma(rng, 3, 14 * 1440))
        orders.jobs.append(job)


def _of(job: Commission, kind: str) -> list[Work]:
    return [work for work in job.works if work.kind.name == kind]
