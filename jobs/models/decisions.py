"""What needs somebody's decision today: promises at risk, days not promised yet, holds that are due, timers left on,
taps that came late and did not fit, mail that did not go, gates that are overdue, what leaves the studio this week, and
what the planner could not plan."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet
from django.utils import timezone

from .hours import TimeEntry
from .operations import Hold, State
from .orders import Gate, Job, Stage
from .plan_asks import PlanAsks, grouped
from .plans import PlanState
from .prepared import Prepared
from .quotes import Quote, QuoteState
from .standing import Standing, Timer, Work, whole, with_subject
from .studios import Studio
from .taps import LateTap
from .workshops import read_workshops
from .written import Mail

# A hold without a day is asked about after this long.
FORGOTTEN = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Risk:
    """A promise that will probably break, or has: the day promised, the chance, and the day of 80 %."""

    job: Job
    promised: date
    chance: float | None
    likely: date | None
    broken: bool


@dataclass(frozen=True, slots=True)
class Unpromised:
    """A job whose quote was accepted and whose customer has been told no day yet; `likely`: the day that holds with the
    studio's confidence."""

    job: Job
    quote: Quote
    likely: date | None


@dataclass(frozen=True, slots=True)
class HoldDue:
    """A hold to look at: on which panel or job (`what`, with its page), and on which operation of it, if on one."""

    hold: Hold
    what: str
    operation: str
    url: str


@dataclass(frozen=True, slots=True)
class Leaving:
    """Work on a whole job, a delivery say, that the plan has in this week or earlier; without a plan, the promise."""

    work: Work
    planned: datetime | None
    promised: date | None


@dataclass(frozen=True, slots=True)
class Decisions:
    risks: list[Risk]
    unpromised: list[Unpromised]
    holds: list[HoldDue]
    timers: list[Timer]
    late: list[LateTap]
    mail: list[Mail]
    gates: list[Gate]
    leaving: list[Leaving]
    problems: list[PlanAsks]

    @property
    def number(self) -> int:
        """How much a person has to decide: what the plan asks of many jobs in the same words is one thing.
        What leaves is only to be known."""
        decided = (self.risks, self.unpromised, self.holds, self.timers, self.late, self.mail, self.gates)
        return sum(len(rows) for rows in (*decided, self.problems))


def read_decisions(standing: Standing, plan: PlanState, studio: Studio) -> Decisions:
    """Five queries beside those of the standing, and one more while a job has no promise."""
    today = standing.at.astimezone(studio.zone).date()
    gates = _read_gates_overdue(standing, today)
    return Decisions(
        risks=at_risk(standing, today, float(studio.confidence)),
        unpromised=_read_unpromised(standing),
        holds=_read_holds_due(standing, today),
        timers=_read_timers(standing),
        late=[tap for tap in LateTap.objects.unsettled().with_operation() if _is_theirs(tap, standing)],
        mail=[mail for mail in _read_mail() if standing.is_of(mail.job)],
        gates=gates,
        leaving=_leaving(standing, today),
        problems=_problems(plan, gates, standing),
    )


def _read_mail() -> QuerySet[Mail]:
    return Mail.objects.asking().select_related("job").defer("body").order_by("made_at", "pk")


def _is_theirs(tap: LateTap, standing: Standing) -> bool:
    return standing.workshop is None or (tap.person is not None and standing.is_of(tap.person))


def at_risk(standing: Standing, today: date, confidence: float) -> list[Risk]:
    """The promises that have broken, and those less likely than the studio promises; the worst first."""
    found = []
    for job in standing.jobs.values():
        promised: date | None = job.promised  # type: ignore[attr-defined]
        if promised is None:
            continue
        projection = getattr(job, "projection", None)
        chance = projection.chance if projection else None
        broken = promised < today
        if broken or (chance is not None and chance < confidence):
            likely = timezone.localtime(projection.p80).date() if projection else None
            found.append(Risk(job, promised, chance, likely, broken))
    return sorted(found, key=lambda risk: (not risk.broken, risk.chance or 0, risk.promised, risk.job.number))


_HOLDS_DUE = Prepared(
    lambda today, long_ago: (
        Hold.objects.filter(released_at__isnull=True)
        .filter(Q(until__lte=today) | Q(until__isnull=True, since__lte=long_ago))
        .order_by("until", "since", "pk")
    )
)
_GATES_OVERDUE = Prepared(
    lambda today: Gate.objects.filter(
        cleared__isnull=True, expected__lt=today, job__stage=Stage.ORDERED
    ).order_by("expected", "pk")
)
_ACCEPTED = Prepared(
    lambda: (
        Quote.objects.filter(state=QuoteState.ACCEPTED, job__stage=Stage.ORDERED, job__promises=None)
        .defer("terms", "frozen")
        .order_by("answered_at", "pk")
    )
)
_QUESTIONED = Prepared(
    lambda: with_subject(TimeEntry.objects.valid().filter(questioned=True, stopped_at__isnull=False))
)


def _read_unpromised(standing: Standing) -> list[Unpromised]:
    """What was accepted first comes first: that customer has waited longest for a day."""
    without = {pk: job for pk, job in standing.jobs.items() if job.promised is None}  # type: ignore[attr-defined]
    found = []
    for quote in _ACCEPTED() if without else ():
        if job := without.get(quote.job_id):
            projection = getattr(job, "projection", None)
            found.append(Unpromised(job, quote, projection.confident_day if projection else None))
    return found


def _read_holds_due(standing: Standing, today: date) -> list[HoldDue]:
    """Open holds on what is still to be done. Their rows are few; what they hold is in the standing already."""
    due = _HOLDS_DUE(today, standing.at - FORGOTTEN)
    of_panel = {work.panel_id: work for work in standing.work.values() if work.panel_id}
    found = []
    for hold in due:
        operation = standing.work.get(hold.operation_id or 0)
        job = standing.jobs.get(hold.job_id or 0)
        if work := operation or of_panel.get(hold.panel_id or 0):
            found.append(HoldDue(hold, f"{work.code} {work.title}", str(operation or ""), work.url))
        elif job is not None:
            found.append(HoldDue(hold, str(job), "", job.get_absolute_url()))
    return found


def _read_gates_overdue(standing: Standing, today: date) -> list[Gate]:
    found = []
    for gate in _GATES_OVERDUE(today):
        if job := standing.jobs.get(gate.job_id):
            gate.job = job
            found.append(gate)
    return found


def _read_timers(standing: Standing) -> list[Timer]:
    """Timers left on that still run, and those that were stopped for somebody who has not answered yet."""
    questioned = [entry for entry in whole(_QUESTIONED()) if standing.is_of(entry.person)]
    return [timer for timer in standing.timers if timer.left_on_since is not None] + [
        Timer(entry, entry.stopped_at) for entry in questioned
    ]


def _problems(plan: PlanState, gates: list[Gate], standing: Standing) -> list[PlanAsks]:
    """What the plan asks, without what it had to assume of gates that are listed as overdue already."""
    listed = {(gate.job_id, f"“{gate.get_kind_display()}”") for gate in gates}
    asked = [
        problem
        for problem in plan.problems
        if (standing.workshop is None or problem.get("job") in standing.jobs)
        and not any(job == problem.get("job") and name in problem["sentence"] for job, name in listed)
    ]
    return grouped(asked, {pk: job.number for pk, job in standing.jobs.items()}, _places(standing))


def _places(standing: Standing) -> dict[int, str]:
    """The workshop of each job by name, where work of several is looked at: one query then."""
    if len({job.workshop_id for job in standing.jobs.values()}) < 2:
        return {}
    names: dict[int | None, str] = {row.pk: row.name for row in read_workshops()}
    return {pk: names[job.workshop_id] for pk, job in standing.jobs.items()}


def deliveries(standing: Standing) -> list[Leaving]:
    """Work on whole jobs, deliveries and installations, by the day on which the plan has it."""
    found = [
        Leaving(work, work.start, work.job.promised)  # type: ignore[attr-defined]
        for work in standing.work.values()
        if work.kind.whole_job and work.state != State.DONE
    ]
    return sorted(found, key=lambda leaving: (_day_of(leaving), leaving.work.pk))


def _leaving(standing: Standing, today: date) -> list[Leaving]:
    sunday = today + timedelta(days=6 - today.weekday())
    return [leaving for leaving in deliveries(standing) if _day_of(leaving) <= sunday]


def _day_of(leaving: Leaving) -> date:
    if leaving.planned is not None:
        return timezone.localtime(leaving.planned).date()
    return leaving.promised or date.max
