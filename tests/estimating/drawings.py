"""Small drawings for the tests, as text of an SVG file."""

import math

from jobs.estimating.linework import Linework
from jobs.estimating.pattern import Pattern, measure
from jobs.estimating.reading_svg import read_svg
from jobs.estimating.takeoff import Came

H6 = Came("H 6 mm", face_mm=6, heart_mm=1.6)
PAGE = 'width="600mm" height="900mm" viewBox="0 0 600 900"'
FRAME = '<rect width="600" height="900" fill="none" stroke="black"/>'


def drawing(body: str, page: str = PAGE) -> bytes:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{body}</svg>'.encode()


def lines(body: str, page: str = PAGE) -> Linework:
    return read_svg(drawing(body, page))


def pattern(body: str, *, close_below: float = 0.0) -> Pattern:
    return measure(lines(body), came=H6, close_below=close_below)


def kinds(found: Pattern) -> list[str]:
    return [fault.kind for fault in found.faults]


def grid(rows: int, columns: int, side: float) -> str:
    """Filled squares, red and blue in turn."""
    size = f'width="{side}" height="{side}"'
    return "".join(
        f'<rect x="{c * side}" y="{r * side}" {size} fill="{"red" if (r + c) % 2 else "blue"}"/>'
        for r in range(rows)
        for c in range(columns)
    )


def hexagons(rows: int, columns: int, side: float) -> str:
    """Filled hexagons standing on a corner, every other row moved by half a hexagon."""
    wide = math.sqrt(3) * side
    shapes = []
    for r in range(rows):
        for c in range(columns):
            x, y = wide * (c + 0.5 + r % 2 / 2), side * (1 + 1.5 * r)
            corners = [
                f"{x + side * math.sin(k * math.pi / 3):.6f},{y - side * math.cos(k * math.pi / 3):.6f}"
                for k in range(6)
            ]
            shapes.append(f'<polygon points="{" ".join(corners)}" fill="green"/>')
    return "".join(shapes)


def wavy(rows: int, columns: int, side: float) -> str:
    """A network of lead lines, each side of each piece a curve that swings to one side and then to the other."""

    def swing(i: int, j: int) -> float:
        return side * 0.3 * (1 if (i + j) % 2 else -1)

    across = [
        f"M0 {i * side}" + "".join(f"q{side / 2} {swing(i, j)} {side} 0" for j in range(columns))
        for i in range(rows + 1)
    ]
    down = [
        f"M{j * side} 0" + "".join(f"q{swing(i, j)} {side / 2} 0 {side}" for i in range(rows))
        for j in range(columns + 1)
    ]
    return f'<path fill="none" d="{" ".join(across + down)}"/>'
