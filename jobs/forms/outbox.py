"""What a tablet sends when the line is back: a batch of taps as JSON, read strictly and without the database."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_noop

# What a tablet may send in one go; it sends the rest in the next.
MOST_BYTES = 256 * 1024
MOST_ITEMS = 100
MOST_FIELDS = 12
LONGEST_NAME, LONGEST_VALUE, LONGEST_PROOF = 40, 2000, 400
MOST_KEY = 2**63 - 1
# Milliseconds since 1970, up to the year 2100.
LAST_MILLISECOND = 4_102_444_800_000
NOT_UNDERSTOOD = gettext_noop("This was not understood. Write it down under My hours, or tell the lead.")


class BadBatch(ValueError):
    """The batch as a whole cannot be read."""


@dataclass(frozen=True, slots=True)
class Sent:
    """One tap: its id, the verb and the row, when it happened, what was typed, and the mark of who was there."""

    id: UUID
    verb: str
    pk: int
    at: datetime
    who: str
    fields: dict[str, str]


@dataclass(frozen=True, slots=True)
class Unreadable:
    """An item of a batch that is none; `id` as far as it could be read."""

    id: str
    sentence: str = NOT_UNDERSTOOD


def read_batch(body: bytes) -> list[Sent | Unreadable]:
    """The items of `{"items": [...]}` in their order. BadBatch where it is too large or no such thing."""
    if len(body) > MOST_BYTES:
        raise BadBatch("That is too much at once.")
    try:
        batch = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise BadBatch("That is no JSON.") from error
    items = batch.get("items") if isinstance(batch, dict) else None
    if not isinstance(items, list):
        raise BadBatch("There is no list of items.")
    if len(items) > MOST_ITEMS:
        raise BadBatch(f"There are more than {MOST_ITEMS} items.")
    return list(_read_items(items))


def _read_items(items: list[Any]) -> Iterator[Sent | Unreadable]:
    for item in items:
        try:
            yield _read(item)
        except (KeyError, TypeError, ValueError):
            known = item.get("id") if isinstance(item, dict) else None
            yield Unreadable(known[:36] if isinstance(known, str) else "")


def _read(item: Any) -> Sent:
    fields = item["fields"]
    if not isinstance(fields, dict) or len(fields) > MOST_FIELDS:
        raise ValueError("fields")
    return Sent(
        id=UUID(_text(item["id"], 36)),
        verb=_text(item["verb"], LONGEST_NAME),
        pk=_whole(item["pk"], MOST_KEY),
        at=datetime.fromtimestamp(_whole(item["at"], LAST_MILLISECOND) / 1000, UTC),
        who=_text(item["who"], LONGEST_PROOF),
        fields={_text(name, LONGEST_NAME): _text(value, LONGEST_VALUE) for name, value in fields.items()},
    )


def _text(value: Any, longest: int) -> str:
    if not isinstance(value, str) or len(value) > longest or "\0" in value:
        raise ValueError("text")
    # Half of a pair of surrogates is no letter that a database could keep.
    value.encode()
    return value


def _whole(value: Any, most: int) -> int:
    if type(value) is not int or not 0 <= value <= most:
        raise ValueError("whole number")
    return value
