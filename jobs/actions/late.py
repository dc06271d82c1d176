"""Taps that were made while the line was away and come later: what becomes of the ones that do not fit.

The rule. Taps are carried out in the order in which they arrive, each at the time when it happened, by the same
actions as any other. Nothing that somebody else wrote down meanwhile is changed by one that comes late:

- Work of two people on one thing stands beside each other: hours are facts. Whoever had it keeps it.
- Pieces add up, up to the number there is; a finish counts what is left, so that no piece is counted twice.
- Of a piece marked on the drawing holds what was said of it last, by the time it was tapped (pieces.py).
- A timer that began later than a late tap is not stopped by it, and hours that were written down are not overlapped.
- Whatever else the rules of the floor refuse stays refused, and its person is told the sentence.

What was refused, and what stands beside something else, is kept as a LateTap with its time, its person and what was
typed; it is among the lead's decisions on the floor until the lead has settled it. Nothing is ever dropped.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from jobs.models import LateTap, Operation, Person, Tap

from .base import Actor, Refused, record
from .pieces import left_as_they_are


@dataclass(frozen=True, slots=True)
class Late:
    """A tap that came late: its id, its verb, who made it, on what, when it happened, and what was typed with it."""

    client_id: UUID
    verb: str
    person: Person
    operation: Operation | None
    happened_at: datetime
    typed: dict[str, str]


def carry_out(late: Late, act: Callable[[], str], *, by: Actor, at: datetime) -> str:
    """Let `act` carry the tap out, and keep for the lead what it stands beside, in one transaction; what it refuses
    is kept and raised again. Gives what there is to say of it."""
    try:
        with transaction.atomic():
            sent_before = Tap.objects.filter(client_id=late.client_id).exists()
            said = act()
            if sent_before:
                return said
            _fits_now(late.client_id, by=by, at=at)
            beside = _stands_beside(late)
            if beside:
                keep_late(late, beside, by=by, at=at, stands=True)
    except Refused as refusal:
        keep_late(late, refusal.in_english, by=by, at=at)
        raise
    return said


def keep_late(late: Late, sentence: str, *, by: Actor, at: datetime, stands: bool = False) -> LateTap:
    """Keep what does not fit for the lead. Sent again it is the same row, with the sentence of the last time."""
    with transaction.atomic():
        kept, made = LateTap.objects.select_for_update().get_or_create(
            client_id=late.client_id,
            defaults={
                "verb": late.verb,
                "person": late.person,
                "operation": late.operation,
                "happened_at": late.happened_at,
                "came_at": at,
                "stands": stands,
                "sentence": sentence[:400],
                "typed": late.typed,
            },
        )
        if not made:
            kept.sentence, kept.stands = sentence[:400], stands
            kept.save(update_fields=["sentence", "stands"])
        elif late.operation is not None:
            after = {"tap": late.verb, "person": late.person, "happened": late.happened_at}
            record("tapped late", late.operation, by=by, at=at, after=after, why=sentence[:200])
    return kept


def _stands_beside(late: Late) -> str:
    """What a late tap stands beside, as a sentence for the lead; empty where it is alone."""
    if late.verb == "mark" and late.operation is not None:
        return left_as_they_are(late.operation, late.typed)
    if late.verb != "start" or late.operation is None:
        return ""
    operation = Operation.objects.select_related("keeper", "kind").get(pk=late.operation.pk)
    if operation.finished_at is not None:
        return "It has been finished since. The hours stand."
    if operation.kind.crew == 1 and operation.keeper not in (None, late.person):
        return f"{operation.keeper} had it on the bench. The hours of both stand."
    return ""


def _fits_now(client_id: UUID, *, by: Actor, at: datetime) -> None:
    """What was refused before has been carried out after all: there is nothing left to settle."""
    LateTap.objects.unsettled().filter(client_id=client_id, stands=False).update(
        settled_at=at, settled_by=f"{by.name}, sent again"[:100]
    )


def settle(late: LateTap, *, by: Actor, at: datetime) -> LateTap:
    """The lead has seen it and has set right what had to be."""
    with transaction.atomic():
        late = LateTap.objects.select_for_update().get(pk=late.pk)
        if not by.is_lead:
            raise Refused("Only the lead can settle that.")
        if late.settled_at is not None:
            raise Refused("That is settled already.")
        late.settled_at, late.settled_by = at, by.name[:100]
        late.save(update_fields=["settled_at", "settled_by"])
        record(
            "settled",
            late,
            by=by,
            at=at,
            after={"tap": late.verb, "person": late.person},
            why=late.sentence[:200],
        )
    return late
