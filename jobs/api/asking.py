"""What may be asked: pages, times and days as they stand in an address."""

from datetime import UTC, date, datetime
from typing import Annotated, Any

from django.db import models
from django.http import HttpRequest
from ninja import Field, Schema
from ninja.errors import ValidationError
from pydantic import AfterValidator, BeforeValidator

from jobs.models import Event

MOST, USUAL = 500, 100
# As large as a key can be.
LARGEST = 2**63 - 1
# Nothing here is older or later; beyond, engines cannot keep a time in each zone.
_FIRST, _LAST = datetime(1990, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)


def _written_time(value: Any) -> Any:
    """RFC 3339 only: a number would be taken for seconds since 1970."""
    if isinstance(value, str) and "T" in value.upper():
        found = datetime.fromisoformat(
            value.upper().replace(":60", ":59")
        )  # A leap second is no time of ours.
        if found.tzinfo is not None:
            return found
    raise ValueError("A time with its offset, such as 2026-03-02T08:00:00+01:00.")


def _written_day(value: Any) -> Any:
    if isinstance(value, str) and len(value) == len("2026-03-02"):
        return date.fromisoformat(value)
    raise ValueError("A day such as 2026-03-02.")


def _known_time(value: datetime) -> datetime:
    return min(max(value, _FIRST), _LAST)


def _known_day(value: date) -> date:
    return min(max(value, _FIRST.date()), _LAST.date())


Time = Annotated[datetime, BeforeValidator(_written_time), AfterValidator(_known_time)]
Day = Annotated[date, BeforeValidator(_written_day), AfterValidator(_known_day)]
Id = Annotated[int, Field(ge=1, le=LARGEST)]


class Asked(Schema):
    """Which page."""

    after: int = Field(
        0, ge=0, le=LARGEST, description="Only rows with a larger id: `next` of the page before."
    )
    limit: int = Field(USUAL, ge=1, le=MOST, description="How many rows at most.")


class AskedSince(Asked):
    changed_since: Time | None = Field(
        None,
        description="Only what something was written down of since then: all that changed is among it. "
        "What a tablet sends late counts by when it happened; after_event misses nothing.",
    )
    after_event: int | None = Field(
        None,
        ge=0,
        le=LARGEST,
        description="Only what something was written down of after this event: `event` of an answer before.",
    )

    def events(self) -> models.QuerySet[Event] | None:
        """What was written down meanwhile; None where all is asked for."""
        if self.changed_since is None and self.after_event is None:
            return None
        rows = Event.objects.order_by()
        if self.changed_since is not None:
            rows = rows.filter(at__gte=self.changed_since)
        return rows if self.after_event is None else rows.filter(pk__gt=self.after_event)


def page(rows: models.QuerySet[Any], asked: Asked, request: HttpRequest) -> dict[str, Any]:
    """The page of `rows` that was asked for. Two queries; where an index serves the ids, whatever the history.

    Refuses a filter that there is not: who mistypes one would be given all rows, and take them for those it asked for.
    """
    if unknown := sorted(set(request.GET) - set(type(asked).model_fields)):
        told = {"type": "extra_forbidden", "msg": "There is no such filter here."}
        raise ValidationError([told | {"loc": ["query", name]} for name in unknown])
    # Read first: what comes meanwhile is told twice rather than never.
    newest = Event.objects.newest()
    found = list(rows.filter(pk__gt=asked.after).order_by("pk")[: asked.limit + 1])
    shown = found[: asked.limit]
    return {"items": shown, "next": shown[-1].pk if len(found) > asked.limit else None, "event": newest}
