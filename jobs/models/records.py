"""The record of finished work: estimated against actual hours, margins, what stood out, what broke.

Everything is summed by the database, in one number of queries whatever the history. Hours are those of people: work
that takes a crew of two counts twice, and a stretch counts as long as it was, whoever's pace it was worked at. They
are the hours logged, without timers that run, what was taken back and what is questioned.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import (
    Case,
    Count,
    DecimalField,
    ExpressionWrapper,
    F,
    FloatField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Abs, Cast, Coalesce, Ln, TruncMonth
from django.db.models.lookups import GreaterThan

from .hours import TimeEntry
from .kinds import Nature, OperationKind, Route
from .materials import Need
from .operations import Breakage, Operation
from .orders import Job, Stage
from .quotes import Quote, QuoteState

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Chosen:
    """What of the record is looked at: finished from `first` to `last`, days of the studio, both included; of one
    kind, one route, one job."""

    zone: ZoneInfo
    first: date | None = None
    last: date | None = None
    kind: OperationKind | None = None
    route: Route | None = None
    job: str = ""

    def period(self, name: str) -> Q:
        """The condition that the moment of this name lies in the days."""
        found = Q()
        if self.first is not None:
            found &= Q(**{f"{name}__gte": self._midnight(self.first)})
        if self.last is not None:
            found &= Q(**{f"{name}__lt": self._midnight(self.last + timedelta(days=1))})
        return found

    def _midnight(self, day: date) -> datetime:
        return datetime.combine(day, time(), self.zone)

    def of(self, before: str = "") -> Q:
        """The conditions on kind, route and job of an operation that is reached by `before`."""
        found = Q()
        if self.kind is not None:
            found &= Q(**{f"{before}kind": self.kind})
        if self.route is not None:
            found &= Q(**{f"{before}panel__route": self.route})
        if self.job:
            found &= Q(**{f"{before}job__number__iexact": self.job})
        return found


# What each way to look at the record groups by, and in which order; the first value is the key.
GROUPS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "kind": (("kind", "kind__name", "kind__slug", "kind__place"), ("kind__place", "kind__name")),
    "panel": (
        ("panel", "job__number", "panel__number", "panel__name"),
        ("-job__number", "panel__number"),
    ),
    "job": (("job", "job__number", "job__title"), ("-job__number",)),
    "route": (("panel__route", "panel__route__name"), ("panel__route__name",)),
    "month": (("month",), ("-month",)),
}

_WORK = F("estimate") * F("kind__crew")
_FIRST = Q(breakage=None)


def finished(chosen: Chosen) -> QuerySet[Operation]:
    """Finished work at benches that somebody logged hours on, with `spent`."""
    rows = Operation.objects.filter(kind__nature=Nature.ATTENDED, skipped=False, finished_at__isnull=False)
    logged = rows.filter(chosen.period("finished_at"), chosen.of()).with_hours()
    return logged.filter(GreaterThan(F("spent"), Value(0)))


def _summed() -> dict[str, Any]:
    zero = Value(0)
    return {
        "works": Count("pk", filter=_FIRST),
        "estimated": Coalesce(Sum(_WORK, filter=_FIRST), zero),
        "actual": Coalesce(Sum("spent", filter=_FIRST), zero),
        "again": Coalesce(Sum("spent", filter=~_FIRST), zero),
    }


def compared(chosen: Chosen, by: str) -> Any:
    """A query set of Rows by one of GROUPS: minutes `estimated` and `actual` of finished work, how many `works`, and
    the minutes `again`: what was done again after a breakage, which nobody had estimated."""
    names, order = GROUPS[by]
    rows: Any = finished(chosen)
    if by == "month":
        rows = rows.annotate(month=TruncMonth("finished_at", tzinfo=chosen.zone))
    if by == "panel":
        rows = rows.filter(panel__isnull=False)
    return rows.order_by().values(*names).annotate(**_summed()).order_by(*order)


def total(chosen: Chosen) -> Row:
    return finished(chosen).order_by().aggregate(**_summed())


_MONEY = DecimalField(max_digits=14, decimal_places=4)


def _of_job(rows: QuerySet[Any], job: str, amount: Any) -> Any:
    summed = rows.filter(**{job: OuterRef("pk")}).order_by().values(job).annotate(all=Sum(amount))
    return Subquery(summed.values("all"), output_field=_MONEY)


def margins(chosen: Chosen, *, with_pay: bool) -> QuerySet[Job]:
    """Complete jobs, the last closed first: `price` (net, of the accepted quote, or None), `spent` minutes, and what
    `materials` and `outside` work came to.

    With `with_pay` also `labor`, the hours at what they cost now. A kind is not asked for: a job is one whole.
    """
    jobs = Job.objects.filter(chosen.period("closed_at"), stage=Stage.COMPLETE)
    if chosen.job:
        jobs = jobs.filter(number__iexact=chosen.job)
    if chosen.route is not None:
        jobs = jobs.filter(panels__route=chosen.route).distinct()
    entries = TimeEntry.objects.counted()
    bought = ExpressionWrapper(F("amount") * F("price"), output_field=_MONEY)
    needs = Need.objects.filter(price__isnull=False)
    zero = Value(Decimal(0), output_field=_MONEY)
    found: dict[str, Any] = {
        "price": Subquery(
            Quote.objects.filter(job=OuterRef("pk"), state=QuoteState.ACCEPTED).values("net")[:1]
        ),
        "spent": Coalesce(_of_job(entries, "operation__job", F("minutes")), zero),
        "materials": Coalesce(_of_job(needs.filter(outside=None), "job", bought), zero),
        "outside": Coalesce(_of_job(needs.exclude(outside=None), "job", bought), zero),
    }
    if with_pay:
        cost = ExpressionWrapper(F("minutes") * F("person__hourly_cost"), output_field=_MONEY)
        found["labor"] = Coalesce(_of_job(entries, "operation__job", cost), zero) / Value(60)
    return jobs.annotate(**found).select_related("customer").order_by("-closed_at", "-pk")


def outliers(chosen: Chosen, spreads: Mapping[int, tuple[float, float]], far: float) -> QuerySet[Operation]:
    """Finished work whose ln(actual / estimate) lies more than `far` scales from the middle of its kind, the farthest
    first, with `away` in scales. `spreads` has the middle and the scale by the id of the kind."""
    if not spreads:
        return Operation.objects.none()
    ratio = Ln(Cast("spent", FloatField()) / Cast(_WORK, FloatField()))
    middle = Case(
        *(When(kind=pk, then=Value(m)) for pk, (m, _) in spreads.items()), output_field=FloatField()
    )
    scale = Case(*(When(kind=pk, then=Value(s)) for pk, (_, s) in spreads.items()), output_field=FloatField())
    rows = finished(chosen).filter(estimate__gt=0, kind__in=list(spreads))
    rows = rows.annotate(away=ExpressionWrapper((ratio - middle) / scale, output_field=FloatField()))
    return (
        rows.annotate(how_far=Abs("away"))
        .filter(how_far__gt=far)
        .select_related("kind", "job", "panel", "breakage")
        .order_by("-how_far", "-pk")
    )


def breakage(chosen: Chosen) -> list[Row]:
    """By kind that broke something or is counted by the piece, in the order of the floor: pieces `broken` and how many
    `times`, of how many pieces `worked`, and the minutes `again` that it took. Three queries.

    Worked are the pieces of finished work; where a kind is not counted by the piece, all pieces of its panels.
    """
    each = Case(
        When(quantity__gt=0, then=F("quantity")),
        default=F("panel__pieces") * F("panel__copies"),
    )
    done = Operation.objects.filter(chosen.period("finished_at"), chosen.of(), finished_at__isnull=False)
    done = done.filter(skipped=False, panel__isnull=False, kind__nature=Nature.ATTENDED, breakage=None)
    names = ("kind", "kind__name", "kind__slug", "kind__place", "kind__counts_pieces")
    found: dict[int, Row] = {
        row["kind"]: row | {"broken": 0, "times": 0, "again": 0}
        for row in done.order_by().values(*names).annotate(worked=Sum(each))
    }
    broke: Any = Breakage.objects.filter(chosen.period("at"), chosen.of("operation__"))
    of_kind = {name: F(f"operation__{name}") for name in names}
    summed = {"broken": Sum("pieces"), "times": Count("pk")}
    for row in broke.order_by().values(**of_kind).annotate(**summed):
        found.setdefault(row["kind"], row | {"worked": 0, "again": 0}).update(
            broken=row["broken"], times=row["times"]
        )
    entries = TimeEntry.objects.counted().filter(operation__breakage__in=broke)
    kind = "operation__breakage__operation__kind"
    for number, minutes in entries.order_by().values_list(kind).annotate(Sum("minutes")):
        found[number]["again"] = minutes
    told = [row for row in found.values() if row["broken"] or row["kind__counts_pieces"]]
    return sorted(told, key=lambda row: (row["kind__place"], row["kind__name"]))
