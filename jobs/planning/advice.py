"""Which single change would bring a job forward most, tried out on paired futures.

Tried are: each of the job's shut gates open today, the job first, and for the stations in the chain that leads to its
date (see why.py) one more person, one more bench, and the next two Saturdays. A change is named only if it gains
more than chance could, since both shops are run with the same draws.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from jobs.planning.arrays import NEVER, Ints
from jobs.planning.calendars import DAY, from_minute, local_day, to_minute
from jobs.planning.check import check, listed
from jobs.planning.layout import next_working_day
from jobs.planning.planner import at_quantile, run
from jobs.planning.shop import Operation, Shop
from jobs.planning.whatif import Change, ExtraHours, GateCleared, JobFirst, MoreBenches, MorePeople, apply
from jobs.planning.why import Cause, Why, why

STATIONS = 3  # So many stations of the chain are tried, those that most of its time goes to.
SATURDAYS = 2
LEAST_GAIN = 0.05  # Days; less than this is not worth a sentence.
LEAST_COST = 0.5  # Days that another job has to lose on average to be named.
NAMED = 3  # So many of them.


@dataclass(frozen=True, slots=True)
class Advice:
    """What a change would do for one job or panel.

    `days`: how many calendar days sooner it would be ready on average, `error` the standard error of that. `before`,
    `after`: the days by which it is ready with the confidence asked for. `costs`: other jobs and by how many days they
    become later on average, the most delayed first; those that lose less than LEAST_COST are not among them.
    `sentence`, `cost`: both in words.
    """

    change: Change
    days: float
    error: float
    before: date
    after: date
    costs: tuple[tuple[int, float], ...]
    sentence: str
    cost: str


def best_change(
    shop: Shop,
    *,
    now: datetime,
    job: int,
    panel: int | None = None,
    seed: int = 1,
    futures: int = 200,
    confidence: float = 0.8,
) -> tuple[Advice, ...]:
    """The single changes that bring the job, or one panel of it, forward, the most helpful first. Empty where none
    does, or where it has no date. KeyError for a job that is not there."""
    numbers = {each.id: each.number for each in shop.jobs}
    number = numbers[job] if panel is None else f"This panel of {numbers[job]}"
    chain = why(shop, now=now, job=job) if panel is None else why(shop, now=now, panel=panel)
    if chain is None:
        return ()
    today = _Finishes.of(shop, now, seed, futures)
    wanted = today.of_rows(job, panel)
    if wanted is None:
        return ()
    found = []
    before = _day(wanted, confidence, shop)
    for words, change in _changes(shop, chain, job, local_day(to_minute(now), shop.zone)):
        changed = _Finishes.of(apply(shop, change, now=now), now, seed, futures)
        then = changed.of_rows(job, panel)
        if then is None:
            continue
        days, error = _mean_days(wanted - then)
        if days < max(LEAST_GAIN, 2 * error):
            continue
        after = _day(then, confidence, shop)
        sentence = f"{number} would be ready {_span(days)} sooner with {words}."
        costs = _costs(today, changed, job)
        found.append(Advice(change, days, error, before, after, costs, sentence, _cost(costs, numbers)))
    return tuple(sorted(found, key=lambda advice: -advice.days))


@dataclass(frozen=True, slots=True)
class _Finishes:
    """When everything is finished in each future: minutes since 1970, operations x futures, NEVER from the origin on
    where it is not; and the jobs of which some work could not be planned."""

    operations: tuple[Operation, ...]
    finish: Ints
    never: int
    left_out: frozenset[int]

    @classmethod
    def of(cls, shop: Shop, now: datetime, seed: int, futures: int) -> _Finishes:
        today = local_day(to_minute(now), shop.zone)
        checked = check(shop, today, next_working_day(shop, today))
        left_out = frozenset(o.job for o in shop.operations if o.id in checked.left_out)
        outcome = run(shop, checked, now=now, seed=seed, futures=futures)
        origin = outcome.layout.origin
        finish = outcome.finish.astype(np.int64) + origin
        return cls(outcome.layout.operations, finish, NEVER + origin, left_out)

    def of_rows(self, job: int, panel: int | None = None) -> Ints | None:
        """The minute at which the job or panel is finished in each future; None if that cannot be said."""
        rows = [
            i for i, o in enumerate(self.operations) if o.job == job and (panel is None or o.panel == panel)
        ]
        if not rows or job in self.left_out:
            return None
        last = np.asarray(self.finish[rows].max(axis=0), np.int64)
        return None if int(last.max()) >= self.never else last


def _mean_days(minutes: Ints) -> tuple[float, float]:
    """The mean of differences in days, and its standard error."""
    days = minutes / DAY
    return float(days.mean()), float(days.std()) / math.sqrt(len(days))


def _costs(before: _Finishes, after: _Finishes, job: int) -> tuple[tuple[int, float], ...]:
    """The other jobs that become later by more than chance could make them."""
    found = []
    for other in {o.job for o in before.operations} - {job}:
        old, new = before.of_rows(other), after.of_rows(other)
        if old is None or new is None:
            continue
        days, error = _mean_days(new - old)
        if days >= max(LEAST_COST, 2 * error):
            found.append((other, days))
    return tuple(sorted(found, key=lambda cost: (-cost[1], cost[0])))


def _cost(costs: Sequence[tuple[int, float]], numbers: Mapping[int, str]) -> str:
    """What others pay, in words: the most delayed by name, and how many more."""
    if not costs:
        return "No other job would be later by half a day."
    named = [f"{numbers[job]} by {_span(days)}" for job, days in costs[:NAMED]]
    more = len(costs) - len(named)
    if more:
        named.append(f"{more} other{'' if more == 1 else 's'} by less")
    return f"Later would be: {listed(named)}."


def _day(finishes: Ints, confidence: float, shop: Shop) -> date:
    # A finish at midnight sharp belongs to the day that ends there, as in Plan.day_for.
    return from_minute(int(at_quantile(np.sort(finishes), confidence)) - 1, shop.zone).date()


def _changes(shop: Shop, chain: Why, job: int, today: date) -> Iterator[tuple[str, Change]]:
    shut = {number for o in shop.operations if o.job == job and not o.done for number in o.gates}
    for gate in shop.gates:
        if gate.id in shut and not gate.cleared:
            yield f"“{gate.kind}” today", GateCleared(gate.id)
    yield "its work taken first at every station", JobFirst(job)
    names = {station.id: station.name for station in shop.stations}
    stations = _busiest(chain)
    for number in stations:
        yield f"one more person at {names[number]}", MorePeople(number)
        yield f"one more bench at {names[number]}", MoreBenches(number)
    able = tuple(person.id for person in shop.people if person.skills.keys() & set(stations))
    if able:
        first = today + timedelta(days=(5 - today.weekday()) % 7 or 7)
        days = tuple(first + timedelta(days=7 * k) for k in range(SATURDAYS))
        where = listed(names[number] for number in stations)
        yield f"the next {SATURDAYS} Saturday mornings worked at {where}", ExtraHours(days, able)


def _busiest(chain: Why) -> list[int]:
    """The stations of the chain, that first to which most of its open time goes in waiting and in work."""
    spent: dict[int, int] = defaultdict(int)
    for segment in chain.segments:
        if segment.station is not None and segment.cause in (Cause.STATION, Cause.PERSON, Cause.WORK):
            spent[segment.station] += segment.open_minutes
    return sorted(spent, key=lambda number: (-spent[number], number))[:STATIONS]


def _span(days: float) -> str:
    """A gain in words: days, or hours where it is less than one."""
    if days >= 0.95:
        return "1 day" if round(days) == 1 else f"{round(days)} days"
    hours = max(1, round(days * 24))
    return "1 hour" if hours == 1 else f"{hours} hours"
