"""Looking back: the dates that this planner would have given, week by week, against what became of them.

At each week's instant the floor is planned with only what was known then (`read_shop_then`). A forecast counts once
the time that it gave with 95 % has passed: whether it held is then known for every job, finished or not, so that
quick jobs are not preferred. Two plain ways to give a date are judged beside it:

- hours: the estimated hours left, of this job and of all due before it, over the hours that the studio logs in a week;
- lead times: the times from order to finish of the last twenty finished jobs, from this job's order.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
from django.db import transaction
from django.db.models import Max, Sum

from jobs import planning
from jobs.models import Event, Job, Operation, Stage, Studio, TimeEntry
from jobs.planning.scores import coverage, pinball
from jobs.snapshot import read_shop_then

from .base import Actor, Refused, record

LOOKED_BACK = "looked back over the dates of"
LEVELS = (0.5, 0.8, 0.95)
LEAD_TIMES = 20
# The hours of a week are those of the last eight, on average.
_HOURS_OF = timedelta(weeks=8)
# Fewer finished jobs than this say little: of twenty, an 80 % date holds for 12 to 19 by chance alone.
ENOUGH = 20
HORIZONS = (
    (14, "up to two weeks"),
    (28, "two to four weeks"),
    (56, "four to eight weeks"),
    (10**6, "further"),
)


@dataclass(frozen=True, slots=True)
class Forecast:
    """What was said of one job at one instant: a time for each level, by the plan and by the two plain ways (None
    where there was nothing to go by), and what became of it (None: not finished to this day)."""

    job: int
    said_at: datetime
    plan: tuple[datetime, datetime, datetime]
    hours: datetime | None
    lead_times: tuple[datetime, datetime, datetime] | None
    finished: datetime | None

    @property
    def horizon(self) -> str:
        days = (self.plan[0] - self.said_at).days
        return next(words for most, words in HORIZONS if days < most)


def look_back(
    *, by: Actor, at: datetime, weeks: int = 26, futures: int = 200, seed: int = 1
) -> dict[str, Any]:
    """Judge the dates of the last weeks and keep what was found as an Event; see `judge` for its shape."""
    if not 1 <= weeks <= 520:
        raise Refused("Look back over 1 to 520 weeks.", "weeks")
    found = judge(forecasts(at, weeks, futures=futures, seed=seed), at) | {"weeks": weeks, "futures": futures}
    with transaction.atomic():
        record(LOOKED_BACK, Studio.current(), by=by, at=at, after=found)
    return found


def last_look() -> Event | None:
    """When somebody last looked back; what was found is its `after`."""
    return Event.objects.filter(subject="studio", verb=LOOKED_BACK).first()


def forecasts(at: datetime, weeks: int, *, futures: int, seed: int) -> list[Forecast]:
    """Every forecast of the last weeks whose 95 % time has passed by `at`."""
    outcomes = _Outcomes.read()
    found = []
    for week in range(weeks, 0, -1):
        then = at - timedelta(weeks=week)
        shop = read_shop_then(then)
        if not shop.operations:
            continue
        plan = planning.plan(shop, now=then, seed=seed, futures=futures)
        hours = _by_hours(shop, then)
        for job, window in plan.jobs.items():
            if window.p95 <= at and job not in outcomes.cancelled:
                said = (window.p50, window.p80, window.p95)
                leads = outcomes.by_lead_times(job, then)
                found.append(Forecast(job, then, said, hours.get(job), leads, outcomes.finished_by(job, at)))
    return found


@dataclass(frozen=True, slots=True)
class _Outcomes:
    """What became of all jobs, and when they were ordered."""

    finished: Mapping[int, datetime]
    ordered: Mapping[int, datetime]
    cancelled: frozenset[int]

    @classmethod
    def read(cls) -> "_Outcomes":
        work = Operation.objects.filter(skipped=False)
        open_jobs = set(
            work.filter(finished_at__isnull=True).order_by().values_list("job", flat=True).distinct()
        )
        last = work.order_by().values_list("job").annotate(Max("finished_at"))
        rows = Job.objects.exclude(stage__in=[Stage.ENQUIRY, Stage.QUOTED, Stage.DECLINED])
        known = list(rows.values_list("pk", "stage", "ordered_at", "entered_at"))
        return cls(
            finished={job: when for job, when in last if job not in open_jobs and when is not None},
            ordered={job: ordered or entered for job, _, ordered, entered in known},
            cancelled=frozenset(job for job, stage, _, _ in known if stage == Stage.CANCELLED),
        )

    def finished_by(self, job: int, at: datetime) -> datetime | None:
        when = self.finished.get(job)
        return when if when is not None and when <= at else None

    def by_lead_times(self, job: int, then: datetime) -> tuple[datetime, datetime, datetime] | None:
        """The order's day and the quantiles of the last lead times known then, no sooner than then."""
        known = sorted((when, number) for number, when in self.finished.items() if when <= then)
        lengths = [
            when - self.ordered[number] for when, number in known[-LEAD_TIMES:] if number in self.ordered
        ]
        if len(lengths) < LEAD_TIMES // 2 or job not in self.ordered:
            return None
        seconds = np.quantile([length.total_seconds() for length in lengths], LEVELS)
        p50, p80, p95 = (max(then, self.ordered[job] + timedelta(seconds=float(each))) for each in seconds)
        return p50, p80, p95


def _by_hours(shop: planning.Shop, then: datetime) -> dict[int, datetime]:
    """By job, when its hours and those of all jobs due before it are worked off at the pace of the last weeks."""
    span = TimeEntry.objects.counted().filter(stopped_at__gt=then - _HOURS_OF, stopped_at__lte=then)
    logged = span.aggregate(total=Sum("minutes"))["total"] or 0
    weekly = logged / (_HOURS_OF / timedelta(weeks=1))
    if not weekly:
        return {}
    attended = {kind.id for kind in shop.kinds if kind.nature is planning.Nature.ATTENDED}
    left: dict[int, int] = defaultdict(int)
    for each in shop.operations:
        if each.kind in attended:
            left[each.job] += max(each.minutes - each.spent, 0) * each.crew
    queue = sorted(shop.jobs, key=lambda job: (job.due or date.max, job.id))
    found, before = {}, 0
    for job in queue:
        before += left[job.id]
        found[job.id] = then + timedelta(weeks=before / weekly)
    return found


def judge(said: Sequence[Forecast], at: datetime) -> dict[str, Any]:
    """What was found, as plain values: `jobs` and `forecasts` counted; `enough`; and `all` and each of `horizons` with
    its words, coverage by level with Wilson's interval, and the mean pinball loss in days of the three ways.

    Forecasts of one job in one week and the next hold or fail together: the interval counts jobs, not forecasts.
    """
    rows = [{"words": "all together"} | _score(said, at)]
    for _, words in HORIZONS:
        of_horizon = [each for each in said if each.horizon == words]
        if of_horizon:
            rows.append({"words": words} | _score(of_horizon, at))
    jobs = len({each.job for each in said})
    return {"jobs": jobs, "forecasts": len(said), "enough": jobs >= ENOUGH, "rows": rows}


def _score(said: Sequence[Forecast], at: datetime) -> dict[str, Any]:
    jobs = len({each.job for each in said})
    held = []
    for number, level in enumerate(LEVELS):
        kept = sum(each.finished is not None and each.finished <= each.plan[number] for each in said)
        share = kept / len(said) if said else 0.0
        interval = coverage(round(share * jobs), jobs)
        held.append(
            {
                "level": level,
                "share": round(share, 4),
                "low": round(interval.low, 4),
                "high": round(interval.high, 4),
            }
        )
    # The three ways are compared where all three had something to go by.
    fair = [each for each in said if each.hours is not None and each.lead_times is not None]
    return {
        "jobs": jobs,
        "forecasts": len(said),
        "compared": len(fair),
        "held": held,
        "plan": _loss(fair, [each.plan for each in fair], at),
        "hours": _loss(fair, [(each.hours,) * 3 for each in fair], at),
        "lead_times": _loss(fair, [each.lead_times for each in fair], at),
    }


def _loss(said: Sequence[Forecast], times: Iterable[Any], at: datetime) -> float | None:
    """Mean pinball loss over the levels, in days. What is not finished yet counts as finished now, which flatters
    the dates that were too early."""
    if not said:
        return None
    origin = min(each.said_at for each in said)
    actual = [((each.finished or at) - origin) / timedelta(days=1) for each in said]
    given = np.array([[(when - origin) / timedelta(days=1) for when in row] for row in times])
    losses = [pinball(given[:, number], actual, level).mean() for number, level in enumerate(LEVELS)]
    return round(float(np.mean(losses)), 4)
