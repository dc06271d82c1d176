"""A tap sent twice is one tap: tablets repeat what they are not sure has arrived."""

from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import models, transaction

from jobs.models import Tap

from .base import Actor, Refused


def once[Result](action: Callable[..., Result]) -> Callable[..., Result]:
    """Make an action own its transaction and take `client_id`: with the same one again it changes nothing and gives
    what it gave the first time. What was refused left nothing behind, so the same tap may be tried again.
    """

    @wraps(action)
    def tapped(*args: Any, by: Actor, at: datetime, client_id: UUID | None = None, **values: Any) -> Result:
        with transaction.atomic():
            if client_id is None:
                return action(*args, by=by, at=at, **values)
            tap, fresh = Tap.objects.get_or_create(
                client_id=client_id, defaults={"at": at, "verb": action.__name__}
            )
            if not fresh:
                if tap.verb != action.__name__:
                    raise Refused("This was sent once already, as something else. Open the page again.")
                earlier: Result = _earlier(tap)
                return earlier
            result = action(*args, by=by, at=at, **values)
            if isinstance(result, models.Model):
                tap.result = {"model": result._meta.model_name, "pk": result.pk}
                tap.save(update_fields=["result"])
            return result

    return tapped


def _earlier(tap: Tap) -> Any:
    if not tap.result:
        return None
    return apps.get_model("jobs", tap.result["model"]).objects.filter(pk=tap.result["pk"]).first()
