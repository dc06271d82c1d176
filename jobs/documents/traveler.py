"""The paper that goes round with a panel: what it is, its route with boxes to tick, cautions, and codes to scan."""

from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import Any

from django.urls import reverse

from jobs.documents.drawing import drawn
from jobs.documents.render import lay_out, write
from jobs.models import Operation, Panel, Studio

# Beside the margins, and so high that the route begins below it on the first page.
ROOM_MM = (Decimal(174), Decimal(105))


def traveler(
    panel: Panel, operations: Iterable[Operation], *, studio: Studio, address: Callable[[str], str]
) -> bytes:
    """The traveler of one panel; see `traveler_pages`."""
    return write(traveler_pages(panel, operations, studio=studio, address=address))


def traveler_pages(
    panel: Panel, operations: Iterable[Operation], *, studio: Studio, address: Callable[[str], str]
) -> Any:
    """Laid out: `operations` in the order of the route, with their kinds and stations; `address` makes a path of ours
    an address that a telephone finds."""
    work = [operation for operation in operations if not operation.skipped]
    context = {
        "panel": panel,
        "drawn": drawn(panel, *ROOM_MM, studio.units, numbered=True),
        "job": panel.job,
        "work": [(operation, _code(panel, operation, address)) for operation in work],
        "cautions": cautions_of(work),
        "address": address(reverse("scan-panel", args=[panel.pk])),
    }
    title = f"Traveler {panel.code} {panel.name}"
    return lay_out("documents/traveler.html", context, studio=studio, title=title)


def cautions_of(work: Iterable[Operation]) -> list[tuple[str, str]]:
    """What to mind with each kind of work, said once, in the order of the work."""
    found = {operation.kind.name: operation.kind.cautions for operation in work if operation.kind.cautions}
    return list(found.items())


def _code(panel: Panel, operation: Operation, address: Callable[[str], str]) -> str:
    """The address of the work at its bench; nothing for a cure and for work outside, which have no bench."""
    station = operation.kind.station
    return address(reverse("scan-work", args=[panel.pk, station.slug])) if station else ""
