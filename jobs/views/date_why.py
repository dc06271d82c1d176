"""Why this date: the chain back from a job's finish, as a sentence, rows of words and a picture in working days."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_safe

from jobs import planning
from jobs.actions.plan import dates_for_reader, read
from jobs.models import Gate, GateKind, Job, Operation, Panel, Person, Projection, Station
from jobs.planning.advice import Advice, best_change
from jobs.planning.why import Cause, Segment, Why, why
from jobs.views.access import office_only
from jobs.views.date_rows import short
from jobs.views.middleware import StudioRequest

_NAMED = 4
_TURN = {Cause.STATION, Cause.PERSON, Cause.CLOSED}
# A stretch outside working hours has no width of its own; it is drawn as wide as this share of the whole.
_LEAST = 0.004


@dataclass(frozen=True, slots=True)
class Ahead:
    """A panel whose work goes before, or a job whose own work does."""

    code: str
    url: str


@dataclass(frozen=True, slots=True)
class Step:
    """One stretch of the chain. `left` and `width`: thousandths of the picture, which runs in working time."""

    cause: str
    what: str
    behind: list[Ahead]
    more_behind: int
    when: str
    days: str
    left: float
    width: float


@dataclass(frozen=True, slots=True)
class Chain:
    sentence: str
    steps: list[Step]
    finish: datetime | None
    days: str


@require_safe
@office_only
def date_why(request: StudioRequest, number: str) -> HttpResponse:
    """The chain of the job, or of its panel `?panel=`; with `?forward` also what would bring it forward."""
    job = get_object_or_404(Job.objects.select_related("customer", "projection"), number=number)
    panel = _panel(job, request.GET.get("panel", ""))
    state = dates_for_reader(request.now)
    shop = read(request.now).shop
    forward = job.is_open and "forward" in request.GET
    found = _why(shop, job, panel, request.now) if job.is_open else None
    context = {
        "job": job,
        "panel": panel,
        "chain": _chain(found, shop, request.now) if found else None,
        "dates": Projection.objects.filter(panel=panel).first()
        if panel
        else getattr(job, "projection", None),
        "problems": [each["sentence"] for each in state.problems if each["job"] == job.pk],
        "plan_state": state,
        "forward": _forward(shop, job, panel, request) if forward and found else None,
    }
    part = "forward" if forward else "chain"
    whole = not request.htmx or request.htmx.history_restore_request
    response = render(request, "dates_why.html" if whole else f"dates_why.html#{part}", context)
    patch_vary_headers(response, ["HX-Request"])
    return response


def _panel(job: Job, typed: str) -> Panel | None:
    """The panel of that number; an address with another one is wrong."""
    if not typed:
        return None
    if not (typed.isascii() and typed.isdigit() and len(typed) < 6):
        raise Http404
    return get_object_or_404(Panel.objects.select_related("job"), job=job, number=int(typed))


def _why(shop: planning.Shop, job: Job, panel: Panel | None, now: datetime) -> Why | None:
    return why(shop, now=now, job=job.pk) if panel is None else why(shop, now=now, panel=panel.pk)


def _forward(
    shop: planning.Shop, job: Job, panel: Panel | None, request: StudioRequest
) -> tuple[Advice, ...]:
    """What would bring it forward most, the most helpful first."""
    found = best_change(
        shop,
        now=request.now,
        job=job.pk,
        panel=panel.pk if panel else None,
        confidence=float(request.studio.confidence),
    )
    return found[:_NAMED]


def minutes_of_a_day(shop: planning.Shop) -> int:
    """The minutes of the longest weekday in which anybody works."""
    days = []
    for weekday in range(7):
        spans = sorted(
            (shift.start.hour * 60 + shift.start.minute, shift.stop.hour * 60 + shift.stop.minute or 1440)
            for person in shop.people
            for shift in person.shifts
            if shift.weekday == weekday
        )
        total, upto = 0, 0
        for start, stop in spans:
            total += max(0, stop - max(start, upto))
            upto = max(upto, stop)
        days.append(total)
    worked = [minutes for minutes in days if minutes]
    return max(worked) if worked else 480


def in_days(open_minutes: int, day: int) -> str:
    """Working time as days, or as hours while it is less than one day."""
    if open_minutes < day:
        hours = round(open_minutes / 60)
        return f"{hours} hour{'' if hours == 1 else 's'}" if hours else "under an hour"
    days = round(open_minutes * 2 / day) / 2
    return f"{days:g} working day{'' if days == 1 else 's'}"


def _when(start: datetime, stop: datetime, now: datetime) -> str:
    today, first, last = (timezone.localdate(at) for at in (now, start, stop))
    return short(first, today) if first == last else f"{short(first, today)} – {short(last, today)}"


def _chain(found: Why, shop: planning.Shop, now: datetime) -> Chain:
    names = _Names(found.segments)
    day = minutes_of_a_day(shop)
    total = sum(segment.open_minutes for segment in found.segments) or 1
    steps, so_far = [], 0
    for stretch in stretches(found.segments):
        open_minutes = sum(segment.open_minutes for segment in stretch)
        behind = names.ahead(stretch)
        width = max(open_minutes / total, _LEAST)
        steps.append(
            Step(
                cause=stretch[0].cause.value,
                what=names.what(stretch),
                behind=behind[:_NAMED],
                more_behind=max(0, len(behind) - _NAMED),
                when=_when(stretch[0].start, stretch[-1].stop, now),
                days=in_days(open_minutes, day),
                left=round(min(so_far / total, 1 - width) * 1000, 1),
                width=round(width * 1000, 1),
            )
        )
        so_far += open_minutes
    finish = found.segments[-1].stop if found.segments else None
    return Chain(found.sentence, steps, finish, in_days(so_far, day))


def stretches(segments: Iterable[Segment]) -> list[list[Segment]]:
    """Segments one after another, with the turns of one wait put together: whether a bench or a hand was missing
    changes by the hour."""
    found: list[list[Segment]] = []
    for segment in segments:
        last = found[-1][-1] if found else None
        if last and {last.cause, segment.cause} <= _TURN and last.operation == segment.operation:
            found[-1].append(segment)
        else:
            found.append([segment])
    return found


class _Names:
    """The rows that a chain speaks of: four queries."""

    def __init__(self, segments: Iterable[Segment]) -> None:
        segments = list(segments)
        self.operations = Operation.objects.select_related("job", "panel__job", "kind").in_bulk(
            {segment.operation for segment in segments}.union(*(segment.works for segment in segments))
        )
        self.people = Person.objects.in_bulk([each.person for each in segments if each.person is not None])
        self.stations = Station.objects.in_bulk(
            [each.station for each in segments if each.station is not None]
        )
        gates = Gate.objects.filter(pk__in=[each.gate for each in segments if each.gate is not None])
        self.gates = {gate.pk: GateKind(gate.kind).label for gate in gates}

    def ahead(self, stretch: list[Segment]) -> list[Ahead]:
        """What stood in the way, each panel once, the one that did so in the longest segments first."""
        weight: dict[Ahead, int] = defaultdict(int)
        for segment in stretch:
            for number in segment.works:
                if work := self.operations.get(number):
                    thing = work.panel or work.job
                    code = thing.code if isinstance(thing, Panel) else thing.number
                    weight[Ahead(code, thing.get_absolute_url())] += segment.open_minutes
        return sorted(weight, key=lambda each: (-weight[each], each.code))

    def what(self, stretch: list[Segment]) -> str:
        segment = stretch[0]
        operation = self.operations.get(segment.operation)
        if operation is None:  # It was taken out since the chain was read.
            return segment.cause.value
        work = f"{operation} of {operation.panel.name}" if operation.panel else str(operation)
        station = self.stations.get(segment.station or 0)
        person = self.people.get(segment.person or 0)
        if len({each.cause for each in stretch}) > 1:
            return f"{work} waits for its turn at {station}"
        match segment.cause:
            case Cause.WORK:
                return f"{work}, by {person}" if person else work
            case Cause.CURE:
                return f"{work}, by itself"
            case Cause.SUPPLIER:
                return f"{work}, at the supplier's"
            case Cause.STATION:
                return f"{work} waits for a bench of {station}"
            case Cause.PERSON:
                return f"{work} waits for {person or 'somebody'} at {station}"
            case Cause.GATE:
                return f"{work} waits for “{self.gates.get(segment.gate or 0, 'what is still to come')}”"
            case Cause.HOLD:
                return f"{work} is held"
        return f"{work}: nobody is at work"
