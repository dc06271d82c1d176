"""What is to be cut for a panel: each piece with its cut size, by glass."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from jobs.documents.render import lay_out, write
from jobs.models import Panel, Pattern, Studio


def cut_list(
    panel: Panel,
    pattern: Pattern,
    pieces: Iterable[Mapping[str, Any]],
    cautions: Sequence[tuple[str, str]],
    *,
    studio: Studio,
) -> bytes:
    """What is to be cut for one copy of the panel; see `cut_list_pages`."""
    return write(cut_list_pages(panel, pattern, pieces, cautions, studio=studio))


def cut_list_pages(
    panel: Panel,
    pattern: Pattern,
    pieces: Iterable[Mapping[str, Any]],
    cautions: Sequence[tuple[str, str]],
    *,
    studio: Studio,
) -> Any:
    """Laid out: `pieces` as the pattern's page shows them: number, glass, cut, curved, inner, hard."""
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
    return lay_out("documents/cut_list.html", context, studio=studio, title=title)
