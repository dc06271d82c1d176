"""All estimates of a kind on one footing: what the work would be estimated at by the rates in force now.

The planner learns ln(actual / estimate) from finished work and applies it to open work. Once the lead has accepted
learned rates, new estimates hold what was learned, and so the old ratios would correct them a second time. Therefore
each estimate, of finished and of open work alike, is taken times a factor before it is compared or planned; the rows
keep what was estimated and quoted.

- Work whose estimate was last given from its takeoff: by the rates that hold now over those that held then, both on
  that takeoff. "Then" is the day it was given, or the day its quote was sent.
- Other work (estimated by its route, typed by hand, of a whole job, not taken off): by what the rates accepted since
  its estimate was given have done to all finished work of its kind together. What its route says is taken to be from
  before all of them, because routes do not change when rates are accepted.

Where a factor is on both sides, on history and on open work, it changes no date, whatever it is: the history then
learns its inverse. So a studio that only estimates by routes plans on as it did, and one that takes its panels off has
a bias of about zero once it has accepted. What is left is a studio that accepts rates and puts them into its routes
by hand besides: that is learned anew within a few dozen operations, as any change of its estimates is.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime

from jobs.estimating.rates import KindRates, copies_share, unit_minutes
from jobs.estimating.takeoff import Takeoff
from jobs.models import Event, Operation, OperationKind, Quote, Studio
from jobs.models import Takeoff as TakeoffRow

from .rates_on import RateHistory

ACCEPTED = "accepted the learned rates of"
# What all finished work of the kind is estimated at, in the record of an acceptance: before and after it.
FINISHED = "minutes estimated of finished work"
ESTIMATED = "estimated anew"
FROM_TAKEOFF = "from the takeoff, by the rates that hold"
AS_QUOTED = "as quoted, version "
_BEFORE_ALL = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Footing:
    """The factors of one instant.

    `accepted`: by kind, when learned rates were accepted and by how much finished work was then estimated at more.
    `given`: by operation, when its estimate was last given. `by_rate`: the day of the rates, where it came from its
    takeoff. `takeoffs`: by panel, with its copies.
    """

    today: date
    rates: RateHistory
    accepted: Mapping[int, list[tuple[datetime, float]]] = field(default_factory=dict)
    given: Mapping[int, datetime] = field(default_factory=dict)
    by_rate: Mapping[int, date] = field(default_factory=dict)
    takeoffs: Mapping[int, tuple[Takeoff, int]] = field(default_factory=dict)

    def factor(self, operation: int, kind: OperationKind, panel: int | None) -> float:
        """What the estimate of this operation has to be taken times."""
        if panel is not None and operation in self.by_rate and panel in self.takeoffs:
            then = self._minutes(kind, self.by_rate[operation], panel)
            now = self._minutes(kind, self.today, panel)
            if then > 0 and now > 0:
                return now / then
        return self.usual(kind, self.given.get(operation, _BEFORE_ALL))

    def usual(self, kind: OperationKind, since: datetime = _BEFORE_ALL) -> float:
        """The same of work of the kind that has no takeoff, with an estimate given then; by its route if left out."""
        return math.prod(by for when, by in self.accepted.get(kind.pk, ()) if when > since)

    def _minutes(self, kind: OperationKind, day: date, panel: int) -> float:
        rates: KindRates | None = self.rates.on(kind, day)
        if rates is None:
            return 0.0
        takeoff, copies = self.takeoffs[panel]
        return rates.setup + unit_minutes(takeoff, rates) * copies_share(copies, rates.slope)


def read_footing(at: datetime, studio: Studio | None = None) -> Footing:
    """The factors at `at`: two queries where no rate was ever changed, seven otherwise, however much there is; one more
    without `studio`."""
    zone = (studio or Studio.current()).zone
    today = at.astimezone(zone).date()
    rates = RateHistory.read(today)
    if not rates.changed:
        return Footing(today, rates)
    given, by_rate = _given(rates.changed, at)
    return Footing(
        today,
        rates,
        accepted=_accepted(at),
        given=given,
        by_rate={pk: when.astimezone(zone).date() for pk, when in by_rate.items()},
        takeoffs=_takeoffs(by_rate),
    )


def _accepted(at: datetime) -> dict[int, list[tuple[datetime, float]]]:
    events = Event.objects.filter(subject="operationkind", verb=ACCEPTED, at__lte=at).order_by("at", "pk")
    found: dict[int, list[tuple[datetime, float]]] = defaultdict(list)
    for kind, when, before, after in events.values_list("subject_id", "at", "before", "after"):
        old, new = before.get(FINISHED), after.get(FINISHED)
        if old and new:
            found[kind].append((when, new / old))
    return found


def _given(kinds: Collection[int], at: datetime) -> tuple[dict[int, datetime], dict[int, datetime]]:
    """By operation, when its estimate was last given; and when the rates held that it follows, if it follows any."""
    rows = Operation.objects.filter(kind__in=kinds)
    events = Event.objects.filter(
        subject="operation", verb=ESTIMATED, at__lte=at, subject_id__in=rows.values("pk")
    )
    sent = {
        (job, version): when
        for job, version, when in Quote.objects.filter(sent_at__isnull=False).values_list(
            "job", "version", "sent_at"
        )
    }
    given: dict[int, datetime] = {}
    by_rate: dict[int, datetime] = {}
    for pk, when, why, job in events.order_by("at", "pk").values_list("subject_id", "at", "why", "job"):
        given[pk] = when
        by_rate.pop(pk, None)
        if why == FROM_TAKEOFF:
            by_rate[pk] = when
        elif why.startswith(AS_QUOTED) and why.removeprefix(AS_QUOTED).isdigit():
            by_rate[pk] = sent.get((job, int(why.removeprefix(AS_QUOTED)))) or when
    return given, by_rate


def _takeoffs(operations: Iterable[int]) -> dict[int, tuple[Takeoff, int]]:
    """The newest takeoff of each panel of these operations."""
    panels = set(
        Operation.objects.filter(pk__in=list(operations), panel__isnull=False).values_list("panel", flat=True)
    )
    rows = TakeoffRow.objects.filter(panel__in=panels).order_by("panel", "version")
    newest = {
        panel: (numbers, copies)
        for panel, numbers, copies in rows.values_list("panel", "numbers", "panel__copies")
    }
    return {panel: (Takeoff.from_json(numbers), copies) for panel, (numbers, copies) in newest.items()}
