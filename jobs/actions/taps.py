"""A tap sent twice is one tap: tablets repeat what they are not sure has arrived."""

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import wraps
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import IntegrityError, OperationalError, connection, models, transaction

from jobs.models import Tap
from jobs.models.prepared import Prepared

from .base import Actor, Refused

# A tablet that was out of reach for longer than this has been given up.
REMEMBERED = timedelta(days=30)
DEADLOCK = "40P01"  # PostgreSQL's SQLSTATE deadlock_detected.
TRIES = 4


def once[Result](action: Callable[..., Result]) -> Callable[..., Result]:
    """Make an action own its transaction and take `client_id`: with the same one again it changes nothing and gives
    what it gave the first time. What was refused left nothing behind, so the same tap may be tried again.
    """

    @wraps(action)
    def tapped(*args: Any, by: Actor, at: datetime, client_id: UUID | None = None, **values: Any) -> Result:
        verb = action.__name__

        def carry_out() -> Result:
            with transaction.atomic():
                found, earlier = _earlier(client_id, verb)
                if found:
                    return earlier  # type: ignore[no-any-return]
                result = action(*args, by=by, at=at, **values)
                if client_id is not None:
                    Tap.objects.create(client_id=client_id, at=at, verb=verb, result=_told(result))
                return result

        try:
            return _unless_deadlocked(carry_out)
        except (Refused, IntegrityError):
            # The same tap may have been carried out by another request in the meantime: then its answer holds.
            found, earlier = _earlier(client_id, verb)
            if not found:
                raise
            return earlier  # type: ignore[no-any-return]

    return tapped


def _unless_deadlocked[Result](carry_out: Callable[[], Result]) -> Result:
    """What `carry_out` gives. Two who take over each other's work at once wait for each other: PostgreSQL then ends
    one of the transactions, and what it would have done is simply done after the other.
    """
    for _ in range(TRIES - 1):
        try:
            return carry_out()
        except OperationalError as error:
            if connection.in_atomic_block or getattr(error.__cause__, "sqlstate", None) != DEADLOCK:
                raise
    return carry_out()


def forget_taps(at: datetime) -> int:
    """Delete the taps that no tablet will send again; gives how many. What they did stays, in Event."""
    return Tap.objects.filter(at__lt=at - REMEMBERED).delete()[0]


def _told(result: Any) -> dict[str, Any]:
    return {"model": result._meta.model_name, "pk": result.pk} if isinstance(result, models.Model) else {}


def _earlier(client_id: UUID | None, verb: str) -> tuple[bool, Any]:
    """Whether this tap was carried out, and what came of it."""
    tap = _TAP.first(client_id) if client_id is not None else None
    if tap is None:
        return False, None
    if tap.verb != verb:
        raise Refused("This was sent once already, as something else. Open the page again.")
    if not tap.result:
        return True, None
    return True, apps.get_model("jobs", tap.result["model"]).objects.filter(pk=tap.result["pk"]).first()


_TAP = Prepared(lambda client_id: Tap.objects.filter(client_id=client_id))
