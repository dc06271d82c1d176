"""What letters say, and how many people carry what."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from jobs.models import LetterSettings, May

from .base import Actor, Refused, save_changed

TEXTS = (
    "included",
    "not_included",
    "safety",
    "handling",
    "bring",
    "sealants",
    "site_cautions",
    "checks",
    "care",
)
LONGEST = 6000
# The least and the most of each, and what to say about anything else.
BOUNDS = {
    "lift_kg": (1, 100, "One person lifts from 1 to 100 kg."),
    "two_from_mm": (1, 20_000, "The side is up to 20 m long."),
    "crate_panels": (1, 100, "A crate holds from 1 to 100 panels."),
    "crate_kg": (1, 9999, "A crate weighs from 1 to 9999 kg."),
    "board_kg_m2": (0, 999, "A square meter of board weighs from nothing to 999 kg."),
}
FIELDS = (*TEXTS, *BOUNDS)


@transaction.atomic
def change_letter_settings(values: Mapping[str, Any], *, by: Actor, at: datetime) -> LetterSettings:
    """Change what FIELDS say; papers that were sent stay as they are."""
    if not by.may(May.SET_UP):
        raise Refused("Only the lead says what letters say.")
    LetterSettings.current()
    row = LetterSettings.objects.select_for_update().get(pk=1)
    given = {name: values[name] for name in FIELDS if name in values}
    for name in TEXTS:
        if name in given:
            given[name] = "\n".join(line.strip() for line in given[name].strip().splitlines())
            if len(given[name]) > LONGEST:
                raise Refused(f"At most {LONGEST} letters.", name)
    save_changed(row, given, BOUNDS, by=by, at=at)
    return row
