"""What the studio's finished work teaches about estimates: ln(actual / estimate), a kind at a time.

Actual minutes are minutes at pace 1, as estimates are: an hour of somebody who works at a pace of 0.8 counts 48
minutes. What several people log on work that takes a crew is shared among the crew, since an estimate says how long
the crew is busy.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date, datetime

from django.db.models import F, OuterRef, Q, QuerySet, Subquery, Sum, Window
from django.db.models.functions import RowNumber

from jobs.models import Gate, GateKind, Nature, Operation, OperationKind, TimeEntry

from .footing import Footing

# So many finished operations of a kind say what there is to know; older ones are of another time.
MOST = 400
MOST_GATES = 200  # The same of gates of a kind.
FORGOTTEN = 365  # Days; a gate that was cleared later than that, or sooner, had another day all the while.

Paces = Mapping[tuple[int, int], float]
"""(person, station) -> pace"""


def kinds_with_reach(at: datetime) -> QuerySet[OperationKind]:
    """All kinds, each with `since`: when the oldest of its last MOST operations was finished, None if there are
    fewer. It follows the index of kind and finish, so that a long history costs no more than a short one."""
    newest = Operation.objects.filter(kind=OuterRef("pk"), finished_at__lte=at).order_by("-finished_at")
    return OperationKind.objects.annotate(since=Subquery(newest.values("finished_at")[MOST - 1 : MOST]))


def log_ratios(
    kinds: Iterable[OperationKind], at: datetime, paces: Paces, footing: Footing
) -> dict[int, tuple[float, ...]]:
    """By kind, ln(actual / estimate) of the operations finished by `at`, oldest first; kinds of `kinds_with_reach`.

    Estimates are taken on the footing of the rates that hold now (see footing.py), as those of open work are.

    Work at a bench that nobody logged hours on teaches nothing. Outside work is measured from the day it went to
    the day it came back. A cure takes the time it is given, so that it has nothing to teach. Two queries.
    """
    known = {kind.pk: kind for kind in kinds}
    chosen = Operation.objects.filter(within_reach(known.values(), at), estimate__gt=0, skipped=False)
    finished = list(
        chosen.order_by("finished_at", "pk").values_list(
            "pk", "kind", "panel", "estimate", "started_at", "finished_at"
        )
    )
    attended = [kind for kind in known.values() if kind.nature == Nature.ATTENDED]
    at_benches = Operation.objects.filter(within_reach(attended, at))
    worked = minutes_by_person(TimeEntry.objects.filter(operation__in=at_benches.values("pk")))
    ratios: dict[int, list[float]] = defaultdict(list)
    for pk, number, panel, estimate, started, ended in finished:
        kind = known[number]
        if kind.nature == Nature.ATTENDED:
            actual = at_pace_one(worked[pk], kind, paces)
        elif kind.nature == Nature.OUTSIDE and started is not None and ended is not None:
            actual = (ended - started).total_seconds() / 60
        else:
            continue
        if actual > 0:
            ratios[number].append(math.log(actual / (estimate * footing.factor(pk, kind, panel))))
    return {number: tuple(values) for number, values in ratios.items()}


def gate_days(today: date) -> dict[str, tuple[int, ...]]:
    """By kind of gate, in words, how many days after the day expected the last ones were cleared, oldest first; those
    that were cleared by `today`. One query."""
    by_kind = Window(RowNumber(), partition_by="kind", order_by=[F("cleared").desc(), F("pk").desc()])
    known = Gate.objects.filter(cleared__lte=today, expected__isnull=False)
    rows = known.annotate(turn=by_kind).filter(turn__lte=MOST_GATES).order_by("cleared", "pk")
    days: dict[str, list[int]] = defaultdict(list)
    for gate in rows:
        assert gate.cleared is not None
        assert gate.expected is not None
        late = (gate.cleared - gate.expected).days
        if abs(late) <= FORGOTTEN:
            days[str(GateKind(gate.kind).label)].append(late)
    return {kind: tuple(values) for kind, values in days.items()}


def at_pace_one(minutes: Mapping[int, int], kind: OperationKind, paces: Paces) -> float:
    """Minutes by person, as the minutes that a crew at pace 1 would have been busy.

    Never less than what one of them logged alone, since the others may have forgotten to.
    """
    if not minutes:
        return 0.0
    each = [logged * paces.get((person, kind.station_id or 0), 1.0) for person, logged in minutes.items()]
    return max(sum(each) / kind.crew, max(each) if kind.crew > 1 else 0.0)


def minutes_by_person(entries: QuerySet[TimeEntry]) -> dict[int, dict[int, int]]:
    """Minutes that count, by operation and person, summed by the database; an operation without any has none."""
    found: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    counted = entries.filter(voided_at__isnull=True, stopped_at__isnull=False, questioned=False).order_by()
    for operation, person, total in counted.values_list("operation", "person").annotate(Sum("minutes")):
        found[operation][person] += total
    return found


def within_reach(kinds: Iterable[OperationKind], at: datetime) -> Q:
    """The operations of these kinds that were finished by `at`, as far back as each kind's reach."""
    found = Q(pk__in=[])
    for kind in kinds:
        one = Q(kind=kind.pk, finished_at__lte=at)
        since = getattr(kind, "since", None)
        found |= one & Q(finished_at__gte=since) if since is not None else one
    return found
