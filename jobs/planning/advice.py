"""Which single change would bring a job forward most, tried out on paired futures.

Tried are: each of the job's shut gates open today, the job first, and for the stations in the chain that leads to its
date (see why.py) one more person, one more bench, and the next two Saturdays. A change is named only if it gains
more than chance could, since both shops are run with the same draws.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from jobs.planning.calendars import DAY, from_minute, local_day, to_minute
from jobs.planning.check import check, day_words, listed
from jobs.planning.floor import NEVER, Ints
from jobs.planning.layout import next_working_day
from jobs.planning.planner import at_quantile, run
from jobs.planning.shop import Shop
from jobs.planning.whatif import Change, ExtraHours, GateCleared, JobFirst, MoreBenches, MorePeople, apply
from jobs.planning.why import Cause, Why, why

STATIONS = 3  # So many stations of the chain are tried, those that most of its time goes to.
SATURDAYS = 2
LEAST_GAIN = 0.05  # Days; less than this is not worth a sentence.


@dataclass(frozen=True, slots=True)
class Advice:
    """What a change would do for one job.

    `days`: how many calendar days sooner it would be ready on average, `error` the standard error of that. `before`,
    `after`: the days by which it is ready with the confidence asked for.
    """

    change: Change
    days: float
    error: float
    before: date
    after: date
    sentence: str


def best_change(
    shop: Shop, *, now: datetime, job: int, seed: int = 1, futures: int = 200, confidence: float = 0.8
) -> tuple[Advice, ...]:
    """The single changes that bring the job forward, the most helpful first. Empty where none does, or where the job
    has no date. KeyError for a job that is not there."""
    number = {each.id: each.number for each in shop.jobs}[job]
    chain = why(shop, now=now, job=job)
    today = _finishes(shop, now, job, seed, futures)
    if chain is None or today is None:
        return ()
    found = []
    before = _day(today, confidence, shop)
    for words, change in _changes(shop, chain, job, local_day(to_minute(now), shop.zone)):
        then = _finishes(apply(shop, change, now=now), now, job, seed, futures)
        if then is None:
            continue
        gains = (today - then) / DAY
        days, error = float(gains.mean()), float(gains.std()) / math.sqrt(futures)
        if days < max(LEAST_GAIN, 2 * error):
            continue
        after = _day(then, confidence, shop)
        sentence = f"{number} would be ready {_span(days)} sooner with {words}{_dates(before, after)}."
        found.append(Advice(change, days, error, before, after, sentence))
    return tuple(sorted(found, key=lambda advice: -advice.days))


def _finishes(shop: Shop, now: datetime, job: int, seed: int, futures: int) -> Ints | None:
    """The minute since 1970 at which the job is finished in each future; None if that cannot be said."""
    today = local_day(to_minute(now), shop.zone)
    checked = check(shop, today, next_working_day(shop, today))
    if any(o.job == job and o.id in checked.left_out for o in shop.operations):
        return None
    outcome = run(shop, checked, now=now, seed=seed, futures=futures)
    rows = [i for i, o in enumerate(outcome.layout.operations) if o.job == job]
    if not rows:
        return None
    last = outcome.finish[:, rows].max(axis=1)
    return None if int(last.max()) >= NEVER else last.astype(np.int64) + outcome.layout.origin


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


def _dates(before: date, after: date) -> str:
    return "" if before == after else f", by {day_words(after)} instead of {day_words(before)}"
