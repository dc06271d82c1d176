"""The pattern at full size over several sheets, each with register marks and bars to measure it by."""

from typing import Any

from jobs.documents.render import lay_out, page_size, write
from jobs.estimating.tiling import Tile, tiles
from jobs.models import Panel, Pattern, Studio

# What print.css leaves of a page beside its margins, less the sheet's name above and the bars below, in millimeters.
MARGINS = (30.0, 34.0)
NAME_AND_BARS = 32.0
# On paper, so on the drawing as well.
LARGEST_NUMBER = 6.0
OVERVIEW_MM = 150.0


def room(studio: Studio) -> tuple[float, float]:
    """How much of the pattern one sheet of the studio's paper shows, in millimeters."""
    width, height = page_size(studio)
    return width - MARGINS[0], height - MARGINS[1] - NAME_AND_BARS


def sheets_of(panel: Panel, studio: Studio) -> tuple[list[Tile], list[tuple[float, float]]]:
    """The sheets of the panel's pattern and its register marks."""
    return tiles(float(panel.width_mm), float(panel.height_mm), *room(studio))


def pattern_sheets(panel: Panel, pattern: Pattern, *, studio: Studio) -> bytes:
    """The accepted pattern 1:1: an overview first, then a sheet a page."""
    return write(pattern_pages(panel, pattern, studio=studio))


def pattern_pages(panel: Panel, pattern: Pattern, *, studio: Studio) -> Any:
    """The accepted pattern laid out."""
    found, marks = sheets_of(panel, studio)
    measured = {piece["number"]: piece for piece in pattern.measured["pieces"]}
    pieces = [_piece(piece, measured.get(piece["number"], {})) for piece in pattern.drawing["pieces"]]
    width, height = float(panel.width_mm), float(panel.height_mm)
    share = OVERVIEW_MM / max(width, height)
    context = {
        "panel": panel,
        "pattern": pattern,
        "pieces": pieces,
        "edge": (f"{width:g}", f"{height:g}"),
        "overview": {
            "width": f"{found[-1].x + found[-1].width:.2f}",
            "height": f"{found[-1].y + found[-1].height:.2f}",
            "on_paper": (
                f"{(found[-1].x + found[-1].width) * share:.2f}",
                f"{(found[-1].y + found[-1].height) * share:.2f}",
            ),
            "thin": f"{0.25 / share:.2f}",
            "letters": f"{6 / share:.2f}",
        },
        "sheets": [_sheet(tile, pieces, marks) for tile in found],
    }
    title = f"Full-size pattern {panel.code} {panel.name}"
    return lay_out("documents/pattern_sheets.html", context, studio=studio, title=title)


def _piece(drawn: dict[str, Any], measured: dict[str, Any]) -> dict[str, Any]:
    xs, ys = [x for x, _ in drawn["points"]], [y for _, y in drawn["points"]]
    digits = len(str(drawn["number"]))
    size = min((max(xs) - min(xs)) / digits, 0.6 * (max(ys) - min(ys)), LARGEST_NUMBER)
    return {
        "box": (min(xs), min(ys), max(xs), max(ys)),
        "path": "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in drawn["points"]) + "Z",
        "number": "" if drawn.get("carved") else drawn["number"],
        "x": f"{measured.get('x', sum(xs) / len(xs)):.2f}",
        "y": f"{measured.get('y', sum(ys) / len(ys)) + size * 0.36:.2f}",
        "size": f"{size:.2f}",
    }


def _sheet(tile: Tile, pieces: list[dict[str, Any]], marks: list[tuple[float, float]]) -> dict[str, Any]:
    right, below = tile.x + tile.width, tile.y + tile.height

    def meets(piece: dict[str, Any]) -> bool:
        left, top, end, bottom = piece["box"]
        return bool(left <= right and end >= tile.x and top <= below and bottom >= tile.y)

    return {
        "name": tile.name,
        "box": f"{tile.x:.2f} {tile.y:.2f} {tile.width:.2f} {tile.height:.2f}",
        "width": f"{tile.width:.2f}",
        "height": f"{tile.height:.2f}",
        "x": f"{tile.x:.2f}",
        "y": f"{tile.y:.2f}",
        "middle": (f"{tile.x + tile.width / 2:.2f}", f"{tile.y + tile.height / 2:.2f}"),
        "pieces": [piece for piece in pieces if meets(piece)],
        "marks": [
            f"M{x - 4:.2f} {y:.2f}h8M{x:.2f} {y - 4:.2f}v8"
            for x, y in marks
            if tile.x <= x <= right and tile.y <= y <= below
        ],
    }
