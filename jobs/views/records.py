"""The record: estimated against actual hours, margins, what stood out, and what broke."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.estimating.shares import format_share
from jobs.forms.records import BY, ChosenForm
from jobs.models import Breakage, Event, Job, May, Operation, TimeEntry
from jobs.models import records as read
from jobs.models.records import Chosen
from jobs.planning.scores import Coverage, coverage
from jobs.snapshot.footing import ESTIMATED
from jobs.snapshot.rates import read_spreads
from jobs.templatetags.studio import day
from jobs.views.access import office_only
from jobs.views.csv_out import csv_file, hours
from jobs.views.middleware import StudioRequest

PAGE = 50
# Work that lies farther than this from the middle of its kind, in scales of its spread, stands out. Practice.
FAR = 2.5
LATELY = timedelta(days=365)


@dataclass(slots=True)
class Asked:
    """What the address asks for: the form that shows it, what is chosen, and whether as a file."""

    form: ChosenForm
    chosen: Chosen
    by: str
    csv: bool
    keep: str  # The address's own words, to be kept from page to page.

    @property
    def status(self) -> int:
        return 422 if self.form.is_bound and not self.form.is_valid() else 200


def _asked(request: StudioRequest, *without: str) -> Asked:
    """Without a word in the address it is the last year, by kind of work."""
    said = request.GET.copy()
    said.pop("csv", None)
    said.pop("page", None)
    if not said:
        said["first"] = (timezone.localdate(request.now) - LATELY).isoformat()
    form = ChosenForm(said, without=without)
    chosen = form.chosen(request.studio.zone)
    by = (form.is_valid() and form.cleaned_data.get("by")) or "kind"
    csv = request.GET.get("csv") == "1" and form.is_valid()
    return Asked(form, chosen, by, csv, said.urlencode())


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the comparison. Bars are in thousandths of the longest of the page."""

    words: str
    detail: str
    url: str
    works: int
    estimated: int
    actual: int
    again: int

    @property
    def ratio(self) -> float | None:
        return self.actual / self.estimated if self.estimated else None

    @property
    def over(self) -> int:
        return self.actual - self.estimated


def _line(by: str, row: dict[str, Any]) -> Line:
    words, detail, url = "no route", "", ""
    match by:
        case "kind":
            words, url = row["kind__name"], reverse("rate", args=[row["kind__slug"]])
        case "panel":
            words, detail = f"{row['job__number']}/{row['panel__number']}", row["panel__name"]
            url = reverse("panel", args=[row["job__number"], row["panel__number"]])
        case "job":
            words, detail = row["job__number"], row["job__title"]
            url = reverse("job", args=[words])
        case "route":
            words = row["panel__route__name"] or words
        case "month":
            words = f"{timezone.localtime(row['month']):%Y-%m}"
    return Line(words, detail, url, row["works"], row["estimated"], row["actual"], row["again"])


def _barred(lines: Sequence[Line]) -> list[dict[str, Any]]:
    longest = max((max(line.estimated, line.actual) for line in lines), default=0) or 1
    return [
        {
            "line": line,
            "estimated": round(1000 * line.estimated / longest),
            "actual": round(1000 * line.actual / longest),
        }
        for line in lines
    ]


@require_safe
@office_only
def records(request: StudioRequest) -> HttpResponse:
    asked = _asked(request)
    rows = read.compared(asked.chosen, asked.by)
    if asked.csv:
        head = [BY[asked.by], "what", "works", "estimated h", "actual h", "actual / estimated", "again h"]
        return csv_file(f"hours-by-{asked.by}", head, map(_cells, (_line(asked.by, row) for row in rows)))
    page = Paginator(rows, PAGE).get_page(request.GET.get("page", "1"))
    total = read.total(asked.chosen)
    context = {
        "asked": asked,
        "form": asked.form,
        "by": BY[asked.by],
        "page": page,
        "rows": _barred([_line(asked.by, row) for row in page]),
        "total": Line("All", "", "", total["works"], total["estimated"], total["actual"], total["again"]),
    }
    return render(request, "records.html", context, status=asked.status)


def _cells(line: Line) -> list[Any]:
    ratio = "" if line.ratio is None else f"{line.ratio:.3f}"
    times = (hours(line.estimated), hours(line.actual), ratio, hours(line.again))
    return [line.words, line.detail, line.works, *times]


@dataclass(frozen=True, slots=True)
class Margin:
    """What a job earned. `labor` is None for who does not see what hours cost, and so is the margin then."""

    job: Job
    spent: int
    price: Decimal | None
    materials: Decimal
    outside: Decimal
    labor: Decimal | None

    @property
    def margin(self) -> Decimal | None:
        if self.price is None or self.labor is None:
            return None
        return self.price - self.labor - self.materials - self.outside

    @property
    def share(self) -> float | None:
        return float(self.margin / self.price) if self.margin is not None and self.price else None

    def bar(self) -> dict[str, float] | None:
        """The parts of the price in thousandths: labor, materials, outside; what goes over the price is cut."""
        if not self.price or self.labor is None:
            return None
        found, left = {}, 1000.0
        for name, cost in (("labor", self.labor), ("materials", self.materials), ("outside", self.outside)):
            width = min(float(1000 * cost / self.price), left)
            found[name], found[f"{name}_at"] = round(width, 1), round(1000 - left, 1)
            left -= width
        return found


def _margin(job: Any) -> Margin:
    labor = getattr(job, "labor", None)
    return Margin(job, int(job.spent), job.price, job.materials, job.outside, labor)


@require_safe
@office_only
def record_margins(request: StudioRequest) -> HttpResponse:
    asked, lead = _asked(request, "by", "kind"), request.user.may(May.SEE_COSTS)
    jobs = read.margins(asked.chosen, with_pay=lead)
    if asked.csv:
        return _margins_file(map(_margin, jobs), lead=lead)
    page = Paginator(jobs, PAGE).get_page(request.GET.get("page", "1"))
    rows = [_margin(job) for job in page]
    context = {
        "asked": asked,
        "form": asked.form,
        "page": page,
        "rows": rows,
        "priced": any(row.bar() for row in rows),
    }
    return render(request, "record_margins.html", context, status=asked.status)


def _margins_file(rows: Iterable[Margin], *, lead: bool) -> HttpResponse:
    head = ["job", "title", "customer", "closed", "hours", "price", "materials", "outside work"]
    more = ["labor at cost", "margin", "margin share"] if lead else []

    def cells(row: Margin) -> list[Any]:
        job = row.job
        found: list[Any] = [job.number, job.title, job.customer.name, job.closed_at, hours(row.spent)]
        found += [_money(amount) for amount in (row.price, row.materials, row.outside)]
        if lead:
            share = "" if row.share is None else f"{row.share:.3f}"
            found += [_money(row.labor), _money(row.margin), share]
        return found

    return csv_file("margins", head + more, map(cells, rows))


def _money(amount: Decimal | None) -> Decimal | None:
    return None if amount is None else round(amount, 2)


@dataclass(slots=True)
class Outlier:
    """Work that stands out, and what was written down about it."""

    operation: Any
    estimated: int
    notes: list[str] = field(default_factory=list)

    @property
    def ratio(self) -> float:
        return float(self.operation.spent / self.estimated)

    @property
    def bar(self) -> dict[str, int]:
        """Estimated and actual in thousandths of the longer of both."""
        longest = max(self.estimated, self.operation.spent)
        return {
            "estimated": round(1000 * self.estimated / longest),
            "actual": round(1000 * self.operation.spent / longest),
        }


@require_safe
@office_only
def record_outliers(request: StudioRequest) -> HttpResponse:
    asked = _asked(request, "by")
    spreads = {pk: (known.m, known.scale) for pk, known in read_spreads(request.now).items()}
    rows = read.outliers(asked.chosen, spreads, FAR)
    if asked.csv:
        head = ["panel", "work", "finished", "estimated h", "actual h", "actual / estimated", "notes"]
        return csv_file("outliers", head, map(_outlier_cells, _outliers(rows)))
    page = Paginator(rows, PAGE).get_page(request.GET.get("page", "1"))
    context = {"asked": asked, "form": asked.form, "page": page, "rows": _outliers(page), "far": FAR}
    return render(request, "record_outliers.html", context, status=asked.status)


def _outlier_cells(row: Outlier) -> list[Any]:
    work = row.operation
    times = [hours(row.estimated), hours(work.spent), f"{row.ratio:.3f}"]
    return [_code(work), str(work), work.finished_at, *times, "; ".join(row.notes)]


def _code(work: Operation) -> str:
    return f"{work.job.number}/{work.panel.number}" if work.panel else work.job.number


def _outliers(rows: Iterable[Operation]) -> list[Outlier]:
    """The rows with their notes, from the hours, the breakages and the reasons of new estimates: three queries."""
    found = [Outlier(row, row.estimate * row.kind.crew) for row in rows]
    notes = _notes([row.operation.pk for row in found])
    for row in found:
        if row.operation.panel is not None:
            row.operation.panel.job = row.operation.job
        row.notes = notes[row.operation.pk]
    return found


def _notes(wanted: Sequence[int]) -> dict[int, list[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    entries = TimeEntry.objects.valid().filter(operation__in=wanted).exclude(note="").order_by("started_at")
    for number, person, note in entries.values_list("operation", "person__name", "note"):
        found[number].append(f"{person}: {note}")
    broken = Breakage.objects.filter(operation__in=wanted).order_by("at")
    for number, pieces, note in broken.values_list("operation", "pieces", "note"):
        found[number].append(f"{pieces} broken" + (f": {note}" if note else ""))
    anew = Event.objects.filter(subject="operation", subject_id__in=wanted, verb=ESTIMATED)
    for number, moment, why in anew.order_by("at").values_list("subject_id", "at", "why"):
        found[number].append(f"{ESTIMATED} {day(moment)}: {why}")
    return found


@dataclass(frozen=True, slots=True)
class Broken:
    """Breakage of one kind of work; `share` is pieces broken a piece worked, with its 95 % interval."""

    kind: str
    slug: str
    worked: int
    broken: int
    times: int
    again: int
    share: Coverage | None
    bar: int = 0

    @property
    def share_percent(self) -> str:
        return _percent(self.share.share) if self.share else ""

    @property
    def low_percent(self) -> str:
        return _percent(self.share.low) if self.share else ""

    @property
    def high_percent(self) -> str:
        return _percent(self.share.high) if self.share else ""


def _percent(share: float) -> str:
    """With digits after the point: breakage is a small share."""
    return format_share(share, 2 if share < 0.1 else 0)


def _broken(rows: Sequence[dict[str, Any]]) -> list[Broken]:
    shares = {
        row["kind"]: coverage(min(row["broken"], row["worked"]), row["worked"]) if row["worked"] else None
        for row in rows
    }
    most = max((share.share for share in shares.values() if share), default=0) or 1
    found = []
    for row in rows:
        share = shares[row["kind"]]
        values = (
            row["kind__name"],
            row["kind__slug"],
            row["worked"],
            row["broken"],
            row["times"],
            row["again"],
        )
        found.append(Broken(*values, share, round(1000 * share.share / most) if share else 0))
    return found


@require_safe
@office_only
def record_breakage(request: StudioRequest) -> HttpResponse:
    asked = _asked(request, "by")
    rows = _broken(read.breakage(asked.chosen))
    if asked.csv:
        head = ["work", "pieces worked", "pieces broken", "times", "share", "at least", "at most", "again h"]
        return csv_file("breakage", head, map(_broken_cells, rows))
    context = {"asked": asked, "form": asked.form, "rows": rows, "any": any(row.broken for row in rows)}
    return render(request, "record_breakage.html", context, status=asked.status)


def _broken_cells(row: Broken) -> list[Any]:
    share = ["", "", ""]
    if row.share:
        share = [f"{n:.5f}" for n in (row.share.share, row.share.low, row.share.high)]
    return [row.kind, row.worked, row.broken, row.times, *share, hours(row.again)]
