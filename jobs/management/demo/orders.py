"""Commissions as they come in: what is ordered, with which panels, gates and promises."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, time, timedelta
from random import Random

from . import book, law, staff
from .drawings import drawn
from .floor import Floor
from .names import CUSTOMERS, LATE_REASONS, ROOMS, TITLES
from .quantities import Counting
from .records import FAR, Commission, Expected, Given, Sheet, Step, Work
from .rework import link

INCH = 25.4


@dataclass(frozen=True, slots=True)
class Offer:
    """Something the studio is asked for: its route and pattern, sizes in inches, how many, how often."""

    route: str
    pattern: str
    wide: tuple[int, int]
    high: tuple[int, int]
    panels: tuple[int, ...]
    copies: tuple[int, ...] = (1,)
    often: int = 10
    thickness: float = 6.35


OFFERS = (
    Offer("Beveled window with a border", "diamond", (20, 30), (30, 44), (1, 2, 2), often=20),
    Offer("Leaded and beveled window", "lattice", (18, 26), (26, 40), (1, 2, 3), often=10),
    Offer("Leaded and beveled window", "honeycomb", (20, 28), (26, 38), (1, 1, 2), often=6),
    Offer("Leaded and beveled window", "rose", (28, 34), (28, 34), (1,), often=9),
    Offer("Leaded and beveled window", "fan", (34, 48), (17, 22), (1,), often=9),
    Offer("Leaded and beveled window", "sunrise", (24, 44), (22, 36), (1, 2), often=6),
    Offer("Leaded and beveled window", "leaves", (20, 28), (32, 48), (2, 3, 4), often=8),
    Offer("Leaded window", "river", (20, 30), (30, 54), (1, 2, 3), often=5),
    Offer("Leaded window", "meadow", (20, 32), (40, 60), (2, 3), often=5),
    Offer("Leaded window", "pinwheels", (14, 22), (18, 36), (2, 2, 4), often=3),
    Offer("Leaded and beveled window", "sidelight", (10, 13), (56, 72), (1,), (2, 2, 4), often=10),
    Offer("Beveled lites", "lite", (8, 16), (12, 30), (1, 2), (2, 4, 6), often=12),
    Offer("Carved panel", "reeds", (24, 36), (36, 78), (1, 1, 2), often=4, thickness=9.53),
    Offer("Carved and laminated panel", "reeds", (24, 36), (60, 80), (1, 1, 2), often=2, thickness=9.53),
    Offer("Carved panel", "heron", (28, 36), (70, 80), (1,), often=2, thickness=12.7),
)

# Hours of work at pace 1 that the office counts on in a week, at the stations that matter.
WEEKLY = {"Beveling": 92, "Blasting": 44, "Assembly": 80}


class Orders:
    """The order book: makes commissions, keeps so many of them open, and promises dates."""

    def __init__(self, floor: Floor, rng: Random, now: int, size: float = 1.0) -> None:
        self.floor, self.rng, self.now, self.size = floor, rng, now, size
        # By the book of rates, but for measurements, which have small jobs of their own.
        self.counting = Counting() if size == 1.0 else None
        self.jobs: list[Commission] = []
        self.open: list[Commission] = []
        self.target: Callable[[date], int] = lambda day: 24
        self.planned: list[tuple[date, Commission]] = []
        floor.on_morning, floor.on_finish = self.morning, self.finished

    # What is ordered

    def usual(self, at: int) -> Commission:
        rng = self.rng
        offer = rng.choices(OFFERS, [offer.often for offer in OFFERS])[0]
        job = Commission(rng.choice(TITLES[offer.pattern]), rng.randrange(len(CUSTOMERS)), at)
        job.difficulty = law.difficulty(rng)
        job.minded = rng.gauss(0, law.MINDED)
        for _ in range(rng.choice(offer.panels)):
            self.add_sheet(job, offer)
        self.add_whole_job(job, offer.route, install=rng.random() < 0.35)
        return job

    def add_sheet(
        self, job: Commission, offer: Offer, name: str = "", choices: tuple[str, ...] | None = None
    ) -> Sheet:
        rng = self.rng
        width, height = rng.randint(*offer.wide) * INCH, rng.randint(*offer.high) * INCH
        if job.sheets and not name and rng.random() < 0.7:
            width, height = job.sheets[0].width, job.sheets[0].height
        panes = drawn(offer.pattern, width, height, rng.randrange(6))
        carved = any(pane.carved for pane in panes)
        sheet = Sheet(
            job,
            len(job.sheets) + 1,
            name or f"{ROOMS[(len(job.sheets) + job.customer) % len(ROOMS)]} light",
            width,
            height,
            offer.thickness,
            rng.choice(offer.copies),
            offer.route,
            panes,
            1 if carved else len(panes),
        )
        job.sheets.append(sheet)
        if choices is None:
            choices = tuple(
                step.condition
                for step in self.floor.trade.routes[offer.route]
                if step.condition and rng.random() < 0.3
            )
        self._add_operations(job, sheet, choices)
        self._by_the_book([work for work in job.works if work.panel is sheet], [sheet])
        return sheet

    def _add_operations(self, job: Commission, sheet: Sheet, choices: tuple[str, ...]) -> None:
        """The operations of a panel by its route; what stands before a step that is left out passes on."""
        made: dict[int, list[Work]] = {}
        for step in self.floor.trade.routes[sheet.route]:
            earlier = [work for number in step.after for work in made.get(number, [])]
            if step.kind.whole_job or (step.condition and step.condition not in choices):
                made[step.id] = earlier
                continue
            work = self._work(job, sheet, step)
            for other in earlier:
                link(other, work)
            made[step.id] = [work]

    def add_whole_job(self, job: Commission, route: str, *, install: bool) -> None:
        """Delivery, and installation where it is ours, after the last operation of every panel."""
        last = [work for work in job.works if not work.then]
        for step in self.floor.trade.routes[route]:
            if not step.kind.whole_job or (step.condition and not install):
                continue
            work = self._work(job, None, step)
            for other in last:
                link(other, work)
            last = [work]
        self._by_the_book([work for work in job.works if work.panel is None], job.sheets)

    def _by_the_book(self, works: list[Work], sheets: list[Sheet]) -> None:
        """Give the works of these panels the hours that follow from their quantities: those of the book to the
        estimate, the real ones to the content. Works of one kind share them by their pieces."""
        if self.counting is None:
            return
        parts = [(self.counting(sheet), sheet.copies) for sheet in sheets]
        kinds: dict[str, list[Work]] = {}
        for work in works:
            if work.is_attended and book.is_booked(work.kind):
                kinds.setdefault(work.kind.name, []).append(work)
        for same in kinds.values():
            booked, real = book.minutes(same[0].kind, parts)
            whole = sum(work.quantity or 1 for work in same)
            for work in same:
                share = (work.quantity or 1) / whole
                work.estimate = max(round(booked * share), 5)
                work.content = work.left = max(real * share * work.luck, 5.0)

    def _work(self, job: Commission, sheet: Sheet | None, step: Step) -> Work:
        rng, kind = self.rng, step.kind
        quantity, copies = 0, sheet.copies if sheet else 1
        if sheet and kind.counted:
            quantity = _pieces(sheet, step) * copies
        minutes = step.minutes * copies + step.piece_minutes * (
            quantity if kind.counted else sheet.pieces * copies if sheet else 0
        )
        if kind.nature != "attended":
            minutes = step.minutes
        elif self.size != 1.0:
            minutes *= self.size
        # Whoever estimates looks at the drawing: the route's minutes, somewhat up or down.
        estimate = max(
            round(minutes * (1 if kind.nature == "cure" else rng.choice((0.85, 0.95, 1, 1, 1.1, 1.25))) / 5)
            * 5,
            5,
        )
        if kind.nature == "outside":
            estimate = step.minutes
        place = 1 + sum(other.panel is sheet for other in job.works)
        work = Work(job, sheet, kind, step.label, place, estimate, quantity)
        if kind.nature == "outside":
            work.content = law.outside(estimate, rng)
        else:
            work.luck = law.luck(kind.name, job.difficulty, rng)
            work.content = law.content(kind.name, estimate, work.luck)
        if kind.nature == "attended":
            work.left = work.content
            work.breaks = law.breaks(kind.name, quantity, rng) if sheet else None
        job.works.append(work)
        return work

    # Mornings

    def morning(self, day: date, at: int) -> None:
        while self.planned and self.planned[0][0] <= day:
            self.accept(self.planned.pop(0)[1], day, at)
        soon = sum((when - day).days < 21 for when, _ in self.planned)
        for _ in range(5):
            if len(self.open) + soon < self.target(day) and self.rng.random() < 0.5:
                self.accept(self.usual(at), day, at)
        self._renew(day, at)

    def top_up(self, count: int) -> None:
        """Whatever was finished just now is replaced by orders of this last hour, so that so many are open."""
        day = self.floor.day_of(self.now)
        while len(self.open) < count:
            self.accept(self.usual(self.now), day, self.now - 70)

    def accept(self, job: Commission, day: date, at: int) -> None:
        job.entered, job.ordered = at - 1440 * self.rng.randrange(4, 21), at + self.rng.randrange(5, 60)
        self.jobs.append(job)
        self.open.append(job)
        self._set_gates(job, day)
        if not job.promises:
            promise = staff.working_days_after(day, self.lead(job), self.floor.closed)
            job.promises.append(Given(promise, job.ordered + 15))
        job.wanted = job.wanted or job.promises[0].day + timedelta(days=self.rng.choice((-14, -7, 0, 0, 7)))
        self.floor.enter(job, at)

    def lead(self, job: Commission) -> int:
        """Working days until this can be ready, by the office's rule of thumb: six weeks for drawing, approval, glass,
        cure and the road, or what lies before and in this job at the station that takes it longest, and three weeks."""
        own, waiting = _content([job]), _content(self.open)
        weeks = max(
            (
                (waiting[station] + own[station]) / 60 / hours / self.size
                for station, hours in WEEKLY.items()
                if own[station]
            ),
            default=0,
        )
        return round(max(weeks * 5 + 15, 30) + self.rng.randrange(-2, 8))

    def _set_gates(self, job: Commission, day: date) -> None:
        rng, needed = self.rng, {gate for work in job.works for gate in work.kind.gates}
        usual = {"measured": (8, 3), "deposit": (4, 2), "glass": (16, 4), "drawing": (0, 1)}
        for kind, (days, shape) in usual.items():
            if kind in job.gates or kind not in needed:
                if kind not in needed:
                    job.gates.pop(kind, None)
                continue
            expected = staff.working_days_after(day + timedelta(days=days), 1, self.floor.closed)
            gate = job.gates[kind] = Expected(expected)
            if kind == "drawing" and any(work.kind.name == "Pattern" for work in job.works):
                gate.expected = staff.working_days_after(day + timedelta(days=28), 1, self.floor.closed)
                continue
            came = day + timedelta(days=round(law.gamma(rng, shape, max(days, 2) * 0.9)))
            self.clear(job, kind, staff.working_days_after(came, 1, self.floor.closed))

    def clear(self, job: Commission, kind: str, day: date) -> None:
        """The gate opens at half past nine of the day."""
        gate = job.gates[kind]
        gate.cleared, gate.open_from = day, self.floor.at(day, time(9, 30))

    def finished(self, work: Work, at: int) -> None:
        job = work.job
        if work.kind.name == "Pattern" and "drawing" in job.gates:
            patterns = [other for other in job.works if other.kind.name == "Pattern"]
            if all(other.is_done(at) for other in patterns) and job.gates["drawing"].cleared is None:
                self._approval(job, at)
        if all(other.is_done(at) for other in job.works) and job.closed is None:
            job.closed, job.stage = at + self.rng.randrange(10, 900), "complete"
            self.open.remove(job)

    def _approval(self, job: Commission, at: int) -> None:
        """The customer approves the full-size drawing some days after it is drawn; some take weeks."""
        day = self.floor.day_of(at)
        job.gates["drawing"].expected = staff.working_days_after(day, 5, self.floor.closed)
        days = job.approval_days
        if days is None:
            days = law.gamma(self.rng, 1.4, 6)
        if days >= FAR:
            return
        self.clear(
            job, "drawing", staff.working_days_after(day + timedelta(days=int(days)), 1, self.floor.closed)
        )
        self.floor.push(job.gates["drawing"].open_from, self.floor._look, job)

    def _renew(self, day: date, at: int) -> None:
        """On Mondays the office looks a week ahead: what cannot hold gets a new date, mostly.

        In the last weeks before now nothing stays overdue, so that the one late job of the stories is the late one.
        """
        lately = (self.floor.day_of(self.now) - day).days < 21
        for job in self.open:
            if job.case:
                continue
            ahead = (job.promises[-1].day - day).days
            seen = ahead <= 5 and day.weekday() == 0 and job.left() > 400 and self.rng.random() < 0.8
            if seen or (lately and ahead <= 0):
                weeks = 1 + (job.left() > 400) + int(job.left() / 1500)
                new = staff.working_days_after(day + timedelta(days=7 * weeks), 2, self.floor.closed)
                job.promises.append(Given(new, at + 200, self.rng.choice(LATE_REASONS)))


def _pieces(sheet: Sheet, step: Step) -> int:
    """How many pieces of one copy a counted step works on: the border's, the center's, the beveled ones, or all."""
    panes = [pane for pane in sheet.panes if not pane.carved]
    if "border" in step.label:
        panes = [pane for pane in panes if pane.border]
    elif "center" in step.label:
        panes = [pane for pane in panes if not pane.border]
    if step.kind.name == "Beveling":
        panes = [pane for pane in panes if pane.beveled]
    return max(len(panes), 1)


def _content(jobs: list[Commission]) -> dict[str, float]:
    """Minutes that are left at each of the stations that matter."""
    left = dict.fromkeys(WEEKLY, 0.0)
    for job in jobs:
        for work in job.works:
            if work.left and work.kind.station in left:
                left[work.kind.station] += work.left
    return left
