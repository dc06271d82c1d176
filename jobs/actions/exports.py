"""That everything was taken out of the house: who took it stands with everything else that was done."""

from datetime import datetime

from django.db import transaction

from jobs.models import Event, Studio

from .base import Actor, record

EXPORTED = "exported all rows of"


@transaction.atomic
def note_export(*, rows: int, with_pay: bool, by: Actor, at: datetime) -> Event:
    """Write down that all rows were exported, `rows` of them, and whether what people are paid was among them."""
    return record(EXPORTED, Studio.current(), by=by, at=at, after={"rows": rows, "with pay": with_pay})
