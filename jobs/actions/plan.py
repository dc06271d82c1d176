"""Making the dates anew: who asks, when, and from which rows.

`PlanState.revision` is raised by every write that the planner reads; a plan notes the revision it was made from. It is
made outside any transaction, so that nobody who logs an hour waits for it.

Who renews the dates: a worker (`manage.py worker`) within seconds of a change. Where none lives, the reader of a page
that shows dates does, once they are older than RENEWED_WITHIN; until then such a page shows the dates there are with
their age (`parts/plan_age.html`). Dates also age by themselves, since work that should have begun has not: after
GOOD_FOR they are made anew though nothing was written.

Of all processes on all machines one makes dates at a time: it holds the lease DATES meanwhile, and looks whether there
is anything to plan once it has it. What somebody else planned meanwhile is thus not planned again, and who lost the
lease on the way (its machine slept) keeps nothing.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction

from jobs import planning
from jobs.models import PlanState, Studio
from jobs.snapshot import read_shop, write_plan

from .leases import DATES, Held, hold, workers_live
from .slipping import report_doubtful

logger = logging.getLogger(__name__)

RENEWED_WITHIN = timedelta(seconds=20)
GOOD_FOR = timedelta(hours=1)
# A worker that lives and has not renewed them for so long in spite of that fails: the reader tries, and tells of it.
LEFT_TO_WORKER = GOOD_FOR + timedelta(minutes=15)
# Who asked for dates by hand waits so long for who is making some.
PATIENCE = 20.0
_READS = 5


@dataclass(frozen=True, slots=True)
class Reading:
    """The shop and the revision that it belongs to. `settled`: nothing was written while it was read."""

    shop: planning.Shop
    revision: int
    settled: bool = True

    @property
    def due(self) -> dict[int, date | None]:
        return {job.id: job.due for job in self.shop.jobs}


def read(at: datetime) -> Reading:
    """The shop as it stands, all of one revision.

    A write raises the revision in the transaction of its change: where the revision is the same before and after, all
    that was read between belongs together, and no lock was needed that somebody at a bench would wait for. After a few
    attempts the shop is taken under its lower revision, so that it counts as out of date. ValueError for rows that
    contradict each other.
    """
    for attempt in range(_READS):
        before = PlanState.current().revision
        try:
            shop = read_shop(at)
        except ValueError:
            if PlanState.current().revision == before or attempt == _READS - 1:
                raise
            continue
        if PlanState.current().revision == before:
            return Reading(shop, before)
    return Reading(shop, before, settled=False)


def replan(
    *, at: datetime, seed: int | None = None, futures: int | None = None, force: bool = False
) -> PlanState:
    """Make the dates anew from the rows as they stand, and keep them unless somebody kept newer ones meanwhile.

    Promises that have become doubtful by them are reported (slipping.py).

    `seed` and `futures`: those of the last plan where not given. `force`: also where nothing has changed since. Waits
    while others make some; as they were where that takes too long.
    """
    return _plan(lambda state: force or state.out_of_date, at, wait=PATIENCE, seed=seed, futures=futures)


def renew(*, at: datetime) -> PlanState:
    """Make the dates anew if they are out of date or have aged; not where somebody is making some."""
    return _plan(lambda state: is_due(state, at), at)


def is_due(state: PlanState, at: datetime) -> bool:
    return state.out_of_date or is_aged(state, at)


def _plan(
    asked: Callable[[PlanState], bool],
    at: datetime,
    *,
    wait: float = 0,
    seed: int | None = None,
    futures: int | None = None,
) -> PlanState:
    """`asked` says of the state whether it is to be planned at all."""
    state = PlanState.current()
    if not asked(state):
        return state
    with hold(DATES, wait=wait) as held:
        state = PlanState.current()
        if held is None or not asked(state):
            return state
        seed = state.seed if seed is None else seed
        reading, plan = plan_of(at, seed=seed, futures=futures or state.futures)
        return _keep(plan, reading, held)


def plan_of(
    at: datetime, *, seed: int | None = None, futures: int | None = None
) -> tuple[Reading, planning.Plan]:
    """The rows as they stand and their plan at a time; nothing is written. `seed`, `futures`: as for `replan`."""
    if seed is None or futures is None:
        state = PlanState.current()
        seed, futures = state.seed if seed is None else seed, futures or state.futures
    reading = read(at)
    return reading, planning.plan(reading.shop, now=at, seed=seed, futures=futures)


def keep(reading: Reading, plan: planning.Plan) -> PlanState:
    """Have pages show a plan that was made, as `replan` would."""
    with hold(DATES, wait=PATIENCE) as held:
        return PlanState.current() if held is None else _keep(plan, reading, held)


def _keep(plan: planning.Plan, reading: Reading, held: Held) -> PlanState:
    """Unless somebody kept newer dates meanwhile."""
    studio = Studio.current()
    with transaction.atomic():
        state = PlanState.objects.select_for_update().get(pk=1)
        is_news = held.still() and _is_news(state, reading, plan.now)
        if is_news:
            confidence = float(studio.confidence)
            write_plan(plan, due=reading.due, confidence=confidence, state=state, revision=reading.revision)
    if is_news:
        report_doubtful(reading.shop, studio, at=plan.now)
    return state


def _is_news(state: PlanState, reading: Reading, at: datetime) -> bool:
    if reading.revision != state.planned_revision:
        return reading.revision > state.planned_revision
    return state.planned_at is None or state.planned_at <= at


def is_aged(state: PlanState, at: datetime) -> bool:
    """Whether the dates are too old by themselves, though nothing was written."""
    return state.planned_at is None or at - state.planned_at >= GOOD_FOR


def dates_for_reader(at: datetime) -> PlanState:
    """How old the dates are, for a page that shows them; made anew first if nobody else has done it in time.

    Pages of the bench do not call this. They show `PlanState.current()` as it is.
    """
    state = PlanState.current()
    waited = state.planned_at is None or at - state.planned_at >= RENEWED_WITHIN
    if not ((state.out_of_date and waited) or is_aged(state, at)) or _left_to_worker(state, at):
        return state
    try:
        return renew(at=at)
    except Exception:
        # Whatever it is, old dates with their age are better than no page.
        logger.exception("The dates could not be made anew")
        state.failed = True
        return state


def _left_to_worker(state: PlanState, at: datetime) -> bool:
    recent = state.planned_at is not None and at - state.planned_at < LEFT_TO_WORKER
    return recent and workers_live()
