"""What a bench shows of its panels: their drawings, the pieces that are marked on them, and their photos.

Each is read for all work of a page in one query.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import TYPE_CHECKING

from django.db.models import BooleanField, Exists, OuterRef, TextField
from django.db.models.functions import Cast

from .drawings import Pattern
from .orders import Panel
from .photos import Photo
from .pieces import PieceMark

if TYPE_CHECKING:
    from .bench import Work

PHOTOS = 6


def read_drawings(shown: Iterable[Work]) -> None:
    """The drawings of the panels that are shown, as the text they are kept as: `drawing_text`; and whether their pieces
    can be marked on it, `is_measured`."""
    panels: dict[int, list[Panel]] = {}
    for work in shown:
        if work.operation.panel is not None:
            panels.setdefault(work.operation.panel.pk, []).append(work.operation.panel)
    accepted = Pattern.objects.filter(panel=OuterRef("pk"), accepted_at__isnull=False)
    texts = Panel.objects.filter(pk__in=panels).annotate(
        text=Cast("drawing", TextField()), measured=Exists(accepted, output_field=BooleanField())
    )
    for pk, text, measured in texts.values_list("pk", "text", "measured"):
        for panel in panels[pk]:
            panel.drawing_text = text  # type: ignore[attr-defined]
            panel.is_measured = measured  # type: ignore[attr-defined]


def read_marks(shown: Iterable[Work]) -> None:
    """The marks of each work that is shown, of the copy marked last: `marked`, by a piece's number whether it is done.
    A work at which nothing is marked gets none."""
    works = {work.operation.pk: work.operation for work in shown if work.operation.quantity}
    rows = PieceMark.objects.standing().filter(operation__in=works) if works else PieceMark.objects.none()
    copies: dict[int, dict[int, dict[int, bool]]] = {}
    last: dict[int, int] = {}
    for pk, copy, number, done in rows.order_by("at", "pk").values_list(
        "operation", "copy", "number", "completes"
    ):
        pieces = copies.setdefault(pk, {}).setdefault(copy, {})
        pieces[number] = done or pieces.get(number, False)
        last[pk] = copy
    for pk, copy in last.items():
        works[pk].marked = copies[pk][copy]  # type: ignore[attr-defined]


def read_photos(works: Collection[Work]) -> None:
    panels = {work.operation.panel_id for work in works if work.operation.panel_id}
    found: dict[int, list[Photo]] = {}
    for photo in Photo.objects.filter(panel__in=panels) if panels else ():
        found.setdefault(photo.panel_id, []).append(photo)
    for work in works:
        taken = found.get(work.operation.panel_id or 0, [])
        work.photos, work.more_photos = taken[:PHOTOS], max(0, len(taken) - PHOTOS)
