"""What is to be cut for a panel: each piece with its cut size, by glass."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from jobs.documents.render import pdf
from jobs.models import Panel, Pattern, Studio


def cut_list(
    panel: Panel,
    pattern: Pattern,
    pieces: Iterable[Mapping[str, Any]],
    cautions: Sequence[tuple[str, str]],
    *,
    studio: Studio,
) -> bytes:
    """`pieces` as the pattern's page shows them: number, glass, cut, curved, inner, hard. For one copy of the panel."""
    by_glass: dict[str, list[Mapping[str, Any]]] = {}
    for piece in pieces:
        by_glass.setdefault(piece["glass"], []).append(piece)
    context = {
        "panel": panel,
        "pattern": pattern,
        "glasses": list(by_glass.items()),
        "pieces": sum(map(len, by_glass.values())),
        "cautions": cautions,
    }
    title = f"Cut list {panel.code} {panel.name}"
    return pdf("documents/cut_list.html", context, studio=studio, title=title)
