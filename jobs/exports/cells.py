"""Values as cells of a CSV file (RFC 4180): a program reads them as they were, no spreadsheet reckons with them."""

import json
import re
from collections.abc import Callable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import models

Cell = Callable[[Any], str]
type AnyField = models.Field[Any, Any]  # Put off: at run time the class takes no arguments.

# What a spreadsheet would reckon with, where a text begins so; also as the wide forms that some take for the same.
_FORMULA = tuple("=+-@\t\r\n＝＋－＠")
# The secret end of an address that opens a page without signing in.
_SECRET_ADDRESS = re.compile(r"(/c/)[A-Za-z0-9_-]{24,}")


def guarded(text: str) -> str:
    """A text with an apostrophe before it where it would be taken for a formula. `unguarded` takes it off again."""
    return f"'{text}" if _looks_so(text) else text


def unguarded(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and _looks_so(cell[1:]) else cell


def _looks_so(text: str) -> bool:
    # Apostrophes count as nothing, so that a text that has one by itself is told apart from one that was given one.
    return text.lstrip("' ").startswith(_FORMULA)


def without_addresses(text: str) -> str:
    """Mail that was sent holds the secret address of the customer's page: what is exported does not."""
    return _SECRET_ADDRESS.sub(r"\1(left out)", text) if "/c/" in text else text


def cell_of(field: AnyField, zone: ZoneInfo, hidden: frozenset[str]) -> Cell:
    """How values of a field are written; nothing there is an empty cell.

    Times in `zone` with their offset, numbers with a point, JSON as text; `hidden` are keys that are left out of it.
    """
    kind = kind_of(field)
    if kind == "time":
        return lambda value: "" if value is None else value.astimezone(zone).isoformat()
    if kind in ("day", "clock"):
        return lambda value: "" if value is None else value.isoformat()
    if kind == "yes or no":
        return lambda value: "" if value is None else "true" if value else "false"
    if kind == "decimal":
        return lambda value: "" if value is None else format(value, "f")
    if kind in ("number", "id"):
        return lambda value: "" if value is None else str(value)
    if kind == "JSON":
        return lambda value: "" if value is None else guarded(_json(value, hidden))
    return lambda value: "" if value is None else guarded(without_addresses(str(value)))


def _json(value: Any, hidden: frozenset[str]) -> str:
    if hidden and isinstance(value, dict):
        value = {name: each for name, each in value.items() if name not in hidden}
    return without_addresses(json.dumps(value, ensure_ascii=False, separators=(",", ":")))


_KINDS: list[tuple[type[AnyField], str]] = [
    (models.DateTimeField, "time"),  # Before DateField, of which it is one.
    (models.DateField, "day"),
    (models.TimeField, "clock"),
    (models.BooleanField, "yes or no"),
    (models.DecimalField, "decimal"),
    (models.JSONField, "JSON"),
    (models.FileField, "name of a file"),
    (models.UUIDField, "UUID"),
    (models.IntegerField, "number"),
    (models.FloatField, "number"),
]


def kind_of(field: AnyField) -> str:
    """The kind of a field's values, as the dictionary calls it."""
    if field.is_relation or isinstance(field, models.AutoField):
        return "id"
    return next((word for kind, word in _KINDS if isinstance(field, kind)), "text")


def written_at(at: datetime, zone: ZoneInfo) -> str:
    return at.astimezone(zone).isoformat(timespec="seconds")
