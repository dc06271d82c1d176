"""Did the dates hold? Promises against what became of them, and the plan's dates looked back upon."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Max, Prefetch, Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from jobs.actions.look_back import ENOUGH, last_look, look_back
from jobs.models import Job, Promise, Stage
from jobs.planning.scores import Coverage, coverage
from jobs.views.access import lead_only, office_only
from jobs.views.middleware import StudioRequest

WEEKS = 26
PAGE = 50
# The record is of the jobs completed last; what was long ago says little of how dates are made now.
_LAST = 200


@dataclass(frozen=True, slots=True)
class Kept:
    """A finished job: the day promised first, the one promised last, and the day it was finished."""

    job: Job
    first: Promise
    last: Promise
    finished: date

    @property
    def changes(self) -> int:
        return len(self.job.given) - 1  # type: ignore[attr-defined]

    @property
    def late(self) -> int:
        """Days after the last promise; 0 if it was kept."""
        return max((self.finished - self.last.day).days, 0)

    @property
    def late_by_first(self) -> int:
        return max((self.finished - self.first.day).days, 0)


_DONE = Max("operations__finished_at", filter=Q(operations__skipped=False))


def kept_promises(jobs: QuerySet[Job] | None = None) -> list[Kept]:
    """The jobs completed last that were promised, the newest first, or those of them among `jobs`: two queries."""
    rows: Any = (
        (Job.objects.all() if jobs is None else jobs)
        .filter(stage=Stage.COMPLETE, closed_at__isnull=False, promises__isnull=False)
        .annotate(done=_DONE)
        .select_related("customer")
        .prefetch_related(Prefetch("promises", Promise.objects.order_by("given_at", "pk"), to_attr="given"))
        .order_by("-closed_at")[:_LAST]
    )
    found = []
    for job in rows:
        given: list[Promise] = job.given
        finished: datetime = job.done or job.closed_at
        found.append(Kept(job, given[0], given[-1], timezone.localdate(finished)))
    return found


def _share(kept: int, count: int) -> Coverage | None:
    return coverage(kept, count) if count else None


@require_safe
@office_only
def promise_record(request: StudioRequest) -> HttpResponse:
    rows = kept_promises()
    chances = [float(row.last.chance) for row in rows if row.last.chance is not None]
    context = {
        "page": Paginator(rows, PAGE).get_page(request.GET.get("page", "1")),
        "count": len(rows),
        "kept": _share(sum(not row.late for row in rows), len(rows)),
        "kept_first": _share(sum(not row.late_by_first for row in rows), len(rows)),
        "changed": sum(row.changes > 0 for row in rows),
        "chance": sum(chances) / len(chances) if chances else None,
    }
    return render(request, "dates_record.html", context)


@require_http_methods(["GET", "HEAD"])
@office_only
def looked_back(request: StudioRequest) -> HttpResponse:
    look = last_look()
    found: dict[str, Any] | None = look.after if look else None
    return render(
        request, "dates_look_back.html", {"look": look, "found": found, "wanted": ENOUGH, "weeks": WEEKS}
    )


@require_http_methods(["POST"])
@lead_only
def look_back_now(request: StudioRequest) -> HttpResponse:
    look_back(by=request.actor, at=request.now, weeks=WEEKS)
    messages.success(request, f"Looked back over {WEEKS} weeks.")
    return redirect("look-back")
