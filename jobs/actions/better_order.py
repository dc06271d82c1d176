"""A better order of the jobs: looked for, accepted as places in the stations' orders, and taken back."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import Max

from jobs.models import Event, Nature, Operation, PlanState, Stage, Studio
from jobs.planning.better import Better, better

from .base import Actor, Refused, mark_out_of_date, record
from .plan import read

ACCEPTED = "accepted a better order at"
TAKEN_BACK = "took back the better order at"
TRIES = 1000


def look_for_order(*, at: datetime, tries: int = TRIES) -> Better | None:
    """A better order than the present one, judged on fresh futures; None if there is none. Some seconds of work."""
    state = PlanState.current()
    return better(read(at).shop, now=at, seed=state.seed, tries=tries, futures=state.futures)


def order_in_force() -> Event | None:
    """The acceptance that has not been taken back; its `after` has the places by operation."""
    last = Event.objects.filter(subject="studio", verb__in=[ACCEPTED, TAKEN_BACK]).first()
    return last if last is not None and last.verb == ACCEPTED else None


@transaction.atomic
def accept_order(order: Sequence[int], *, by: Actor, at: datetime) -> int:
    """Let the jobs of `order` (ids) be taken in it at every station; how many operations got a place.

    What was put in place by hand stays before them. Work that lies on a bench goes on. Work entered later has no
    place, so that it comes after them until it is put first or the order is taken back.
    """
    if not by.is_lead:
        raise Refused("Only the lead changes the order of work.")
    # The studio's row is the lock: two orders at once would mix their places.
    studio = Studio.objects.select_for_update().get(pk=Studio.current().pk)
    if order_in_force() is not None:
        raise Refused("A better order is in force already; take it back first.")
    turn = {job: number for number, job in enumerate(order)}
    rows = list(
        Operation.objects.open(at)
        .select_for_update(of=("self",))
        .filter(job__in=turn, kind__nature=Nature.ATTENDED, keeper__isnull=True, pinned_place__isnull=True)
    )
    if not rows:
        raise Refused("No work of these jobs waits for a turn any more.")
    highest = Operation.objects.open(at).aggregate(highest=Max("pinned_place"))["highest"]
    first = max(0, highest + 1 if highest is not None else 0)
    for row in rows:
        row.pinned_place = first + turn[row.job_id]
    Operation.objects.bulk_update(rows, ["pinned_place"], batch_size=500)
    record(ACCEPTED, studio, by=by, at=at, after={"places": {str(row.pk): row.pinned_place for row in rows}})
    mark_out_of_date()
    return len(rows)


@transaction.atomic
def take_back_order(*, by: Actor, at: datetime) -> int:
    """Let the rule decide again for what the accepted order gave a place; what was moved by hand since stays."""
    if not by.is_lead:
        raise Refused("Only the lead changes the order of work.")
    studio = Studio.objects.select_for_update().get(pk=Studio.current().pk)
    accepted = order_in_force()
    if accepted is None:
        raise Refused("No better order is in force.")
    places: dict[str, int] = accepted.after["places"]
    rows = [
        row
        for row in Operation.objects.select_for_update(of=("self",)).filter(
            pk__in=[int(pk) for pk in places], job__stage=Stage.ORDERED
        )
        if row.pinned_place == places[str(row.pk)]
    ]
    for row in rows:
        row.pinned_place = None
    Operation.objects.bulk_update(rows, ["pinned_place"], batch_size=500)
    record(TAKEN_BACK, studio, by=by, at=at, before={"accepted": accepted.at})
    mark_out_of_date()
    return len(rows)
