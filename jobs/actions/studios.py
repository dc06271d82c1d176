"""The studio itself: how it is called, measures, counts and promises."""

import re
import zoneinfo
from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from jobs.models import Studio

from .base import Actor, Refused, mark_out_of_date, put, record
from .closed_days import check_region

FIELDS = (
    "name",
    "address",
    "units",
    "hours",
    "currency",
    "time_zone",
    "country",
    "region",
    "labor_rate",
    "confidence",
    "rounding",
    "asks_pin",
    "leads_need_code",
    "paper",
    "labels",
    "label_columns",
    "label_rows",
    "label_width_mm",
    "label_height_mm",
    "label_left_mm",
    "label_top_mm",
    "label_across_mm",
    "label_down_mm",
)


@transaction.atomic
def change_studio(values: Mapping[str, Any], *, by: Actor, at: datetime) -> Studio:
    """Change what FIELDS say; refuses a time zone, currency, country or region that does not exist."""
    Studio.current()
    studio = Studio.objects.select_for_update().get(pk=1)
    before, after = put(studio, {name: values[name] for name in FIELDS if name in values})
    if not after:
        return studio
    _check(studio)
    studio.save(update_fields=list(after))
    record("changed", studio, by=by, at=at, before=before, after=after)
    mark_out_of_date()
    return studio


def _check(studio: Studio) -> None:
    if not studio.name.strip():
        raise Refused("The studio needs a name.", "name")
    if not re.fullmatch(r"[A-Z]{3}", studio.currency):
        raise Refused("A currency has three capital letters, such as USD or EUR.", "currency")
    if studio.time_zone not in zoneinfo.available_timezones():
        raise Refused(
            f"“{studio.time_zone}” is not a time zone; one is Europe/Vienna or America/Chicago.", "time_zone"
        )
    if not Decimal("0.5") <= studio.confidence <= Decimal("0.99"):
        raise Refused(
            "A promise holds with a confidence of 50 to 99\N{NO-BREAK SPACE}%: 0.5 to 0.99.", "confidence"
        )
    if studio.labor_rate < 0:
        raise Refused("An hour cannot be sold for less than nothing.", "labor_rate")
    _check_labels(studio)
    check_region(studio.country, studio.region)


def _check_labels(studio: Studio) -> None:
    if not 1 <= studio.label_columns <= 10:
        raise Refused("A sheet has 1 to 10 labels across.", "label_columns")
    if not 1 <= studio.label_rows <= 30:
        raise Refused("A sheet has 1 to 30 labels down.", "label_rows")
    if studio.label_width_mm < 20:
        raise Refused("A label is at least 20 mm wide.", "label_width_mm")
    if studio.label_height_mm < 15:
        raise Refused("A label is at least 15 mm high.", "label_height_mm")
    for name in ("label_left_mm", "label_top_mm", "label_across_mm", "label_down_mm"):
        if getattr(studio, name) < 0:
            raise Refused("A margin or a gap is not below zero.", name)
