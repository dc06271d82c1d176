"""What finished work says about the rates, a kind at a time: its takeoffs against the hours it took. Reads only."""

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import NamedTuple

from django.db.models import Q

from jobs import models, planning
from jobs.estimating.learning import Finished, Learned, LearningError, propose_rates, propose_together
from jobs.estimating.rates import KindRates, copies_share
from jobs.estimating.takeoff import Came, Takeoff, TakeoffError
from jobs.models import Job, Nature, Operation, OperationKind, Panel, TimeEntry
from jobs.planning.durations import Posterior, posterior
from jobs.snapshot.footing import read_footing
from jobs.snapshot.history import at_pace_one, kinds_with_reach, log_ratios, minutes_by_person, within_reach
from jobs.snapshot.rates import read_rates
from jobs.snapshot.read import read_paces

from .base import Refused
from .takeoffs import Usual, read_usual

# So many panels with a takeoff are enough to learn each rate from, and those without do not count any more. Practice.
ENOUGH = 20
# What one entry is of: a panel, or a job where the work is done once for all its panels.
Of = tuple[int, int | None]


@dataclass(slots=True)
class Point:
    """Finished work of one kind on one panel, or on a whole job. Minutes at pace 1; `estimated` by the present rates,
    `at_the_time` by the estimates it was planned with. `measured`: from a takeoff, not from size and pieces alone."""

    job: Job
    panel: Panel | None
    finished: datetime
    actual: float
    at_the_time: int
    drivers: Mapping[str, float]
    measured: bool
    estimated: float = 0.0
    odd: bool = False


@dataclass(slots=True)
class Lesson:
    """What the history of one kind says. `learned` is None where the kind has no rates. `known` is what the planner
    draws from: ln(actual / estimate) of `history` finished operations. Without `by_driver` all rates were learned as
    one, since too few of the panels were taken off."""

    kind: OperationKind
    present: KindRates
    known: Posterior
    history: int
    points: list[Point] = field(default_factory=list)
    learned: Learned | None = None
    by_driver: bool = True

    @property
    def measured(self) -> int:
        """How many of the points are of panels that were taken off; for the others a takeoff was proposed."""
        return sum(point.measured for point in self.points)


def read_lessons(day: date, at: datetime, only: OperationKind | None = None) -> list[Lesson]:
    """A lesson for each attended kind with rates, in the order of the floor; `only` one of them where it is given.

    Work counts once all of its kind on the panel is finished, without what was done again after a breakage. One
    number of queries whatever the history. `day` is that of `at` in the studio, on which the rates have to hold.
    """
    reach = kinds_with_reach(at).filter(nature=Nature.ATTENDED)
    kinds = {kind.pk: kind for kind in (reach if only is None else reach.filter(pk=only.pk))}
    rates = read_rates(day, kinds.values())
    paces = read_paces()
    ratios = log_ratios(kinds.values(), at, paces, read_footing(at))
    points = _points([kind for kind in kinds.values() if kind.slug in rates], rates, at, paces)
    lessons = []
    for kind in kinds.values():
        if kind.slug in rates:
            history = ratios.get(kind.pk, ())
            known = posterior(history, planning.Nature(kind.nature))
            lesson = Lesson(kind, rates[kind.slug], known, len(history), points[kind.pk])
            _learn(lesson)
            lessons.append(lesson)
    return lessons


def _learn(lesson: Lesson) -> None:
    """Propose rates. Panels that nobody took off teach only how far all rates of a kind are off together; once enough
    are taken off they alone count, and each rate is learned by itself."""
    measured = [point for point in lesson.points if point.measured]
    lesson.by_driver = len(measured) >= min(ENOUGH, len(lesson.points))
    if lesson.by_driver:
        lesson.points = measured
    propose = propose_rates if lesson.by_driver else propose_together
    try:
        learned = propose(lesson.present, [Finished(p.drivers, p.actual) for p in lesson.points])
    except LearningError:
        return
    lesson.learned = learned
    rates = lesson.present.rates
    for number, point in enumerate(lesson.points):
        quantities = point.drivers
        point.estimated = lesson.present.setup + sum(r * quantities.get(d, 0.0) for d, r in rates.items())
        point.odd = number in learned.odd


def _points(
    kinds: Collection[OperationKind],
    rates: Mapping[str, KindRates],
    at: datetime,
    paces: Mapping[tuple[int, int], float],
) -> Mapping[int, list[Point]]:
    found: dict[int, list[Point]] = defaultdict(list)
    together = _together(kinds, at)
    entries = TimeEntry.objects.filter(operation__in=[row.pk for rows in together.values() for row in rows])
    worked = minutes_by_person(entries)
    taken_off = _Takeoffs.read(together)
    known = {kind.pk: kind for kind in kinds}
    for (number, of), rows in together.items():
        kind = known[number]
        actual = sum(at_pace_one(worked[row.pk], kind, paces) for row in rows)
        drivers, measured = taken_off.drivers(of, rates[kind.slug])
        if actual > 0 and drivers is not None:
            found[number].append(
                Point(
                    job=taken_off.jobs[of[0]],
                    panel=taken_off.panels[of[1]] if of[1] is not None else None,
                    finished=max(row.finished_at for row in rows),
                    actual=actual,
                    at_the_time=sum(row.estimate for row in rows),
                    drivers=drivers,
                    measured=measured,
                )
            )
    for points in found.values():
        points.sort(key=lambda point: (point.finished, point.job.number))
    return found


class _Done(NamedTuple):
    pk: int
    kind: int
    job: int
    panel: int | None
    estimate: int
    finished_at: datetime


def _together(kinds: Collection[OperationKind], at: datetime) -> dict[tuple[int, Of], list[_Done]]:
    """Finished operations by kind and by what they are of, where nothing of the same is still to be done."""
    own = Operation.objects.filter(skipped=False, breakage=None)
    found: dict[tuple[int, Of], list[_Done]] = defaultdict(list)
    for row in map(
        _Done._make, own.filter(within_reach(kinds, at)).order_by("pk").values_list(*_Done._fields)
    ):
        found[row.kind, (row.job, row.panel)].append(row)
    still = own.filter(kind__in=[kind.pk for kind in kinds]).exclude(finished_at__lte=at).order_by()
    for kind_id, job, panel in still.values_list("kind", "job", "panel"):
        found.pop((kind_id, (job, panel)), None)
    return found


@dataclass(slots=True)
class _Takeoffs:
    """The takeoffs of all panels that the history is of, read at once; proposed where nobody took a panel off."""

    jobs: dict[int, Job]
    panels: dict[int, Panel]
    of_job: dict[int, list[int]]
    measured: dict[int, Takeoff]
    usual: Usual
    proposed: dict[tuple[int, bool], Takeoff | None] = field(default_factory=dict)

    @classmethod
    def read(cls, together: Iterable[tuple[int, Of]]) -> "_Takeoffs":
        of = [of for _, of in together]
        whole = [job for job, panel in of if panel is None]
        wanted = Q(pk__in=[panel for _, panel in of if panel is not None]) | Q(job__in=whole)
        panels = {panel.pk: panel for panel in Panel.objects.filter(wanted)}
        jobs = Job.objects.only("number", "title").in_bulk([job for job, _ in of])
        for panel in panels.values():
            panel.job = jobs[panel.job_id]
        of_job: dict[int, list[int]] = defaultdict(list)
        for panel in panels.values():
            of_job[panel.job_id].append(panel.pk)
        rows = models.Takeoff.objects.filter(panel__in=panels).order_by("panel", "version")
        newest = dict(rows.values_list("panel", "numbers"))
        measured = {pk: Takeoff.from_json(numbers) for pk, numbers in newest.items()}
        try:
            usual = read_usual()
        except Refused:
            # A studio that has not entered its came yet has a history all the same.
            usual = Usual(Came("came"), Came("came"))
        return cls(jobs, panels, of_job, measured, usual)

    def drivers(self, of: Of, rates: KindRates) -> tuple[Mapping[str, float] | None, bool]:
        """What the work was rated by, all copies together, and whether all of it was measured.

        None where the takeoff says nothing of what the kind is mainly rated by: the carved area of a panel that
        nobody took off cannot be guessed.
        """
        job, panel = of
        total: dict[str, float] = defaultdict(float)
        special = {driver for driver, rate in rates.rates.items() if ":" in driver and rate > 0}
        measured = True
        for pk in [panel] if panel is not None else self.of_job[job]:
            takeoff = self.measured.get(pk) or self._propose(pk, special)
            if takeoff is None:
                return None, False
            measured = measured and pk in self.measured
            share = copies_share(self.panels[pk].copies, rates.slope)
            for driver, quantity in takeoff.drivers().items():
                total[driver] += quantity * share
        if special and not special & total.keys():
            return None, measured
        return total, measured

    def _propose(self, pk: int, special: Collection[str]) -> Takeoff | None:
        beveled = any(driver.startswith("beveled") for driver in special)
        if (pk, beveled) not in self.proposed:
            try:
                self.proposed[pk, beveled] = _guess(self.panels[pk], self.usual, beveled=beveled)
            except TakeoffError:
                self.proposed[pk, beveled] = None
        return self.proposed[pk, beveled]


def _guess(panel: Panel, usual: Usual, *, beveled: bool) -> Takeoff:
    """A takeoff from size and pieces; of work that is beveled, as much as the panel's picture shows beveled."""
    takeoff = usual.propose(panel, beveled=beveled or None)
    drawn = (panel.drawing or {}).get("pieces", []) if beveled else []
    edges = [(bool(piece.get("beveled")), _perimeter(piece["points"])) for piece in drawn]
    shown = sum(length for is_beveled, length in edges if is_beveled)
    if not shown:
        return takeoff
    share = shown / sum(length for _, length in edges)
    return replace(takeoff, beveled_mm={key: length * share for key, length in takeoff.beveled_mm.items()})


def _perimeter(points: Sequence[Sequence[float]]) -> float:
    return sum(math.dist(one, other) for one, other in zip(points, [*points[1:], points[0]], strict=True))
