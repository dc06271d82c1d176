"""The demo studio's own floor, run minute by minute from its first day until now.

Whoever is free goes on with what they keep on their bench; else they take what the lead has said comes first, of all
the stations at which they can work: what is promised earliest, as the lead sees it, who is off by some days. Now and
then somebody stays at the station that they like best while there is anything to do. Work lies ready once all before it
is done, its gates are open and nothing rests it.
"""

from __future__ import annotations

import heapq
import math
from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from . import law
from .records import FAR, Broken, Commission, Stretch, Trade, Work, Worker
from .rework import make_rework

Hours = list[tuple[int, int]]
# How often somebody takes work of the station they like best, whatever the lead said. From imagination, like the rest.
STAYS = 0.12


def minute(at: datetime) -> int:
    """Whole minutes since 1970 of an aware time."""
    return int(at.timestamp() // 60)


class Floor:
    """Everybody, every bench and everything that lies on it; `stretches` and `broken` are its record."""

    def __init__(
        self, trade: Trade, workers: list[Worker], closed: dict[date, str], zone: str, rng: Random
    ) -> None:
        self.trade, self.workers, self.closed, self.rng = trade, workers, closed, rng
        self.zone = ZoneInfo(zone)
        self.long_day: tuple[str, date] | None = None
        self.longest = 150  # Usual minutes of one stretch at the bench.
        self.rates = law.Rates(workers, date.min, rng)
        self.today = date.min
        self.on_morning: Callable[[date, int], None] = lambda day, at: None
        self.on_finish: Callable[[Work, int], None] = lambda work, at: None
        self.stretches: list[Stretch] = []
        self.broken: list[Broken] = []
        self.running: dict[str, tuple[Work, int]] = {}
        self.ready: dict[str, list[Work]] = defaultdict(list)
        self.on_bench: dict[str, list[Work]] = defaultdict(list)
        self.idle: set[str] = set()
        self.hours: dict[str, Hours] = {}
        self.by_name = {worker.name: worker for worker in workers}
        self._events: list[tuple[int, int, Callable[..., None], tuple[Any, ...]]] = []
        self._number = 0

    def at(self, day: date, clock: time = time(0)) -> int:
        """The minute of a time of day on the studio's clock."""
        return minute(datetime.combine(day, clock, self.zone))

    def day_of(self, at: int) -> date:
        return datetime.fromtimestamp(at * 60, UTC).astimezone(self.zone).date()

    def push(self, at: int, call: Callable[..., None], *values: Any) -> None:
        self._number += 1
        heapq.heappush(self._events, (at, self._number, call, values))

    def run(self, first: date, now: int) -> None:
        """From the morning of the first day until now; what is going on then stays in `running`."""
        last = self.day_of(now)
        self.rates.today = last
        day = first
        while day <= last:
            self._run_day(day, min(self.at(day + timedelta(days=1)), now + 1))
            day += timedelta(days=1)

    def _run_day(self, day: date, end: int) -> None:
        self.today = day
        start = self.at(day)
        self.idle.clear()
        self._until(start + 1)
        self.hours = {
            worker.name: [(self.at(day, a), self.at(day, b)) for a, b in spans]
            for worker in self.workers
            if (spans := worker.hours(day, day in self.closed))
        }
        if self.hours:
            self.rates.new_day(self.workers)
            self._clear_benches(day)
            # Orders are entered at half past seven.
            self.push(self.at(day, time(7, 30)), self.on_morning, day)
            taken = self._send_crews()
            for name, hours in self.hours.items():
                if name not in taken:
                    self.push(hours[0][0] + self.rng.randrange(7), self._free, self.by_name[name])
        self._until(end)

    def _until(self, end: int) -> None:
        while self._events and self._events[0][0] < end:
            at, _, call, values = heapq.heappop(self._events)
            call(*values, at)

    # What becomes ready, and what is done

    def enter(self, job: Commission, at: int) -> None:
        """Lay a commission's first work out, and wait for its gates."""
        for gate in job.gates.values():
            if at < gate.open_from < FAR:
                self.push(gate.open_from, self._look, job)
        for work in job.works:
            if at < work.not_before < FAR:
                self.push(work.not_before, self._look, job)
            self.lay_out(work, at)

    def _look(self, job: Commission, at: int) -> None:
        for work in job.works:
            self.lay_out(work, at)

    def lay_out(self, work: Work, at: int) -> None:
        """Begin a cure or send work out, or lay bench work ready, once nothing is in its way."""
        if work.listed or (work.started is not None and not work.is_attended) or work.not_before > at:
            return
        if not all(before.is_done(at) for before in work.after):
            return
        gates = work.job.gates
        if any(gates[kind].open_from > at for kind in work.kind.gates if kind in gates):
            return
        work.listed = True
        if work.is_attended:
            self.ready[str(work.kind.station)].append(work)
            self._wake(str(work.kind.station), at)
        elif work.is_cure:
            work.started, work.finished = at, at + work.estimate
            self.push(work.finished, self._settled, work)
        else:
            self._send_out(work, at)

    def _send_out(self, work: Work, at: int) -> None:
        """The supplier's van comes at three; it brings back at ten in the morning, on a working day."""
        leaves = self.at(self._open_day(self.day_of(at) + timedelta(days=1)), time(15))
        back = self.day_of(leaves + max(round(work.content), 1440))
        work.started = leaves
        self.push(self.at(self._open_day(back), time(10)), self._back, work)

    def _open_day(self, day: date) -> date:
        while day.weekday() > 4 or day in self.closed:
            day += timedelta(days=1)
        return day

    def _back(self, work: Work, at: int) -> None:
        work.finished = at
        self._settled(work, at)

    def _settled(self, work: Work, at: int) -> None:
        work.left = 0
        for then in work.then:
            self.lay_out(then, at)
        self.on_finish(work, at)

    # People

    def _wake(self, station: str, at: int) -> None:
        for name in sorted(self.idle):
            if station in self.by_name[name].skills:
                self.idle.discard(name)
                self.push(at + self.rng.randrange(1, 6), self._free, self.by_name[name])

    def _free(self, worker: Worker, at: int) -> None:
        spans = self.hours[worker.name]
        if at >= spans[-1][1] - 4:
            return
        for start, stop in spans:
            if at < start or at < stop - 4:
                break
        if at < start:
            self.push(start + self.rng.randrange(5), self._free, worker)
            return
        work = self._choose(worker, at)
        if work is None:
            self.idle.add(worker.name)
        else:
            self._begin(worker, work, at)

    def _choose(self, worker: Worker, at: int) -> Work | None:
        for station in worker.skills:
            for work in self.on_bench[station]:
                if work.keeper is worker and work.kind.crew == 1 and self._may(work, at, worker):
                    return work
        found: list[Work] = []
        for station in worker.skills:
            if len(self.on_bench[station]) >= self.trade.benches[station]:
                continue
            able = [
                work for work in self.ready[station] if work.kind.crew == 1 and self._may(work, at, worker)
            ]
            if able:
                found.append(min(able, key=_by_due))
        if not found:
            return None
        first = min(found, key=_by_due)
        if not first.job.first and self.rng.random() < STAYS:
            first = found[0]
        self.take(first, worker)
        return first

    def _may(self, work: Work, at: int, worker: Worker) -> bool:
        return work.not_before <= at and work.only in ("", worker.name)

    def take(self, work: Work, worker: Worker) -> None:
        station = str(work.kind.station)
        self.ready[station].remove(work)
        self.on_bench[station].append(work)
        work.keeper = worker

    def put_back(self, work: Work) -> None:
        station = str(work.kind.station)
        self.on_bench[station].remove(work)
        work.keeper, work.listed = None, False

    def _clear_benches(self, day: date) -> None:
        """What somebody keeps who is on vacation goes back to the others; who is ill keeps it."""
        for works in list(self.on_bench.values()):
            for work in list(works):
                keeper = work.keeper
                if keeper and any(a <= day <= b and why == "vacation" for a, b, why in keeper.away):
                    self.put_back(work)
                    self.lay_out(work, self.at(day))

    def _begin(self, worker: Worker, work: Work, at: int) -> None:
        station = str(work.kind.station)
        if self.long_day == (worker.name, self.today):
            # Nothing gets done on this day: somebody's last timer will be left on it.
            work.left, work.content, work.breaks = work.left + 500, work.content + 500, None
        rate = self.rates.rate(worker, station, self.today)
        needed = max(math.ceil(work.left / rate), 3)
        wished = max(int(law.gamma(self.rng, 5, self.longest)), 10)
        stop, minutes = self._span(self.hours[worker.name], at, min(needed, wished))
        if 0 < needed - minutes <= 50 and stop == self.hours[worker.name][-1][1] and self.rng.random() < 0.12:
            stop, minutes = stop + needed - minutes, needed  # Stays on in the evening to get it done.
        work.started = at if work.started is None else work.started
        self.running[worker.name] = (work, at)
        self.push(stop, self._stopped, [worker], work, at, minutes, minutes * rate)

    def _span(self, spans: Hours, at: int, wanted: int) -> tuple[int, int]:
        """When a stretch of so many minutes from `at` stops, and the minutes of it that are work.

        It ends with the shift; at a break two of three end, the others leave the timer on.
        """
        over_break = self.rng.random() < 0.34
        stop, minutes = at, 0
        for start, end in spans:
            if end <= at:
                continue
            begin = max(start, at)
            part = min(wanted - minutes, end - begin)
            stop, minutes = begin + part, minutes + part
            if minutes >= wanted or not over_break:
                break
        return stop, minutes

    def _stopped(
        self, workers: list[Worker], work: Work, start: int, minutes: int, progress: float, at: int
    ) -> None:
        work.left = max(work.left - progress, 0)
        done = work.left < 1
        pieces = self._pieces(work, done)
        work.done += pieces
        for number, worker in enumerate(workers):
            self.running.pop(worker.name, None)
            self.stretches.append(Stretch(worker, work, start, at, minutes, 0 if number else pieces))
        if work.breaks and work.left < work.content * (1 - work.breaks[0]) and not done:
            self._break(work, workers[0], at)
        elif done:
            self._finish(work, at)
        for worker in workers:
            self.push(at + self.rng.choice((0, 0, 1, 3, 6, 11)), self._free, worker)

    def _pieces(self, work: Work, done: bool) -> int:
        if not work.quantity:
            return 0
        now = work.quantity if done else int(work.quantity * (1 - work.left / work.content) * 0.999)
        return max(now - work.done, 0)

    def _finish(self, work: Work, at: int) -> None:
        self.on_bench[str(work.kind.station)].remove(work)
        work.keeper, work.finished = None, at
        self._settled(work, at)

    def _break(self, work: Work, worker: Worker, at: int) -> None:
        pieces = min(work.breaks[1] if work.breaks else 1, max(work.quantity - work.done, 1))
        work.breaks = None
        broken, rework = make_rework(work, pieces, worker, at, self.rng)
        if not rework:
            return
        self.broken.append(broken)
        if any(again in work.after for again in rework):
            self.put_back(work)
        for then in work.job.works:
            if then.listed and then.is_attended and then.keeper is None and then.finished is None:
                self._unlist(then, at)
        for again in rework:
            if again.not_before > at:
                self.push(again.not_before, self._look, again.job)
            self.lay_out(again, at)

    def _unlist(self, work: Work, at: int) -> None:
        """Take ready work that now has something before it off its station's list."""
        if not all(before.is_done(at) for before in work.after):
            self.ready[str(work.kind.station)].remove(work)
            work.listed = False

    # Work for two

    def _send_crews(self) -> set[str]:
        """At the start of the day two people leave for each installation that is due; their names."""
        taken: set[str] = set()
        for station in self.trade.benches:
            kept = [work for work in self.on_bench[station] if work.kind.crew > 1]
            waiting = sorted((work for work in self.ready[station] if work.kind.crew > 1), key=_by_due)
            for work in kept + waiting:
                able = [w for w in self.workers if station in w.skills and w.name in self.hours]
                crew = [worker for worker in able if worker.name not in taken][: work.kind.crew]
                room = work.keeper or len(self.on_bench[station]) < self.trade.benches[station]
                if len(crew) == work.kind.crew and room and work.not_before <= self.at(self.today):
                    self._begin_crew(work, crew)
                    taken |= {worker.name for worker in crew}
        return taken

    def _begin_crew(self, work: Work, crew: list[Worker]) -> None:
        if work.keeper is None:
            self.take(work, crew[0])
        start = max(self.hours[worker.name][0][0] for worker in crew)
        end = min(self.hours[worker.name][-1][1] for worker in crew)
        common = [
            (max(a, c), min(b, d))
            for a, b in self.hours[crew[0].name]
            for c, d in self.hours[crew[1].name]
            if max(a, c) < min(b, d)
        ]
        needed = max(math.ceil(work.left), 3)
        stop, minutes = start, 0
        for a, b in common:
            part = min(needed - minutes, b - a)
            stop, minutes = a + part, minutes + part
            if minutes >= needed:
                break
        work.started = start if work.started is None else work.started
        for worker in crew:
            self.running[worker.name] = (work, start)
        self.push(min(stop, end), self._stopped, crew, work, start, minutes, float(minutes))


def _by_due(work: Work) -> tuple[bool, float, int]:
    """In the order that the lead has in mind."""
    return not work.job.first, work.job.due + work.job.minded, work.place
