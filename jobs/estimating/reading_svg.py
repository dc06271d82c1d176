"""Reads an SVG drawing into lines. Only its shapes are read: no script, image, text or address in it is followed.

What is stored and shown afterwards is our own redrawn pattern, never this file's markup.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

import numpy as np

from jobs.estimating.linework import (
    FLATTENING_MM,
    MOST_BYTES,
    MOST_DEPTH,
    MOST_SEGMENTS,
    Drafting,
    DrawingRefused,
    Linework,
    Pen,
)
from jobs.estimating.path_data import Frame, draw_path

MOST_ELEMENTS = 100_000
LONGEST_STYLE = 100_000
MM_PER_UNIT = {
    "mm": 1.0,
    "cm": 10.0,
    "in": 25.4,
    "pt": 25.4 / 72,
    "pc": 25.4 / 6,
    "q": 0.25,
    "px": 25.4 / 96,  # CSS Values and Units: 96 px to the inch.
}
_LENGTH = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-zA-Z%]*)\s*")
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_COMMENT = re.compile(r"/\*[^*]{0,5000}\*/")
_SKIPPED = {"defs", "symbol", "clipPath", "mask", "pattern", "marker", "metadata", "title", "desc", "style"}
_LEFT_OUT = {"text": "text", "image": "pictures", "foreignObject": "foreign parts", "script": "scripts"}
_GROUPS = {"svg", "g", "a", "switch", "symbol"}


@dataclass(slots=True)
class _Element:
    tag: str
    attributes: dict[str, str]
    children: list[_Element] = field(default_factory=list)
    text: list[str] = field(default_factory=list)


def read_svg(data: bytes, *, tolerance: float = FLATTENING_MM) -> Linework:
    """The lines of an SVG file in millimeters; curves flattened to within `tolerance` mm.

    Without a width and height in real units the drawing is read at 96 units to the inch and `units_known` is False.
    DrawingRefused says in a sentence why a file is not read; time and memory are bounded whatever the bytes are.
    """
    if len(data) > MOST_BYTES:
        raise DrawingRefused(
            f"The file is larger than {MOST_BYTES // 1_000_000} MB; export the lead lines alone."
        )
    if data[:2] == b"\x1f\x8b":
        raise DrawingRefused("The file is compressed; export it as plain SVG.")
    root = _parse(data)
    reader = _Reader(root, tolerance)
    frame, size, known = _page(root)
    try:
        reader.walk(root, frame, {}, 0)
    except ArithmeticError as error:
        raise DrawingRefused("The drawing has a point that is nowhere.") from error
    if not reader.drafting.paths:
        raise DrawingRefused("There is no line in the drawing.")
    width, height = size or (None, None)
    return Linework(tuple(reader.drafting.paths), known, width, height, tuple(sorted(reader.left_out)))


def _refuse_entities(*_: object) -> None:
    raise DrawingRefused("The file declares entities of its own; export it as plain SVG.")


def _parse(data: bytes) -> _Element:
    parser = expat.ParserCreate()
    top = _Element("", {})
    stack, count = [top], 0

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal count
        count += 1
        if count > MOST_ELEMENTS:
            raise DrawingRefused(
                f"The drawing has more than {MOST_ELEMENTS:,} parts; export the lead lines alone."
            )
        if len(stack) > MOST_DEPTH:
            raise DrawingRefused(
                "The drawing's groups lie too deep in one another; ungroup it and export it again."
            )
        element = _Element(name.rpartition(":")[2], attributes)
        stack[-1].children.append(element)
        stack.append(element)

    def words(text: str) -> None:
        if stack[-1].tag == "style":
            stack[-1].text.append(text)

    parser.buffer_text = True
    parser.StartElementHandler = start
    parser.EndElementHandler = lambda _name: stack.pop()
    parser.EntityDeclHandler = _refuse_entities
    parser.CharacterDataHandler = words
    try:
        parser.Parse(data, True)
    except (expat.ExpatError, ValueError, LookupError) as error:
        if isinstance(error, DrawingRefused):
            raise
        raise DrawingRefused("That is not an SVG drawing, or it is damaged.") from error
    if not top.children or top.children[0].tag != "svg":
        raise DrawingRefused("That is not an SVG drawing.")
    return top.children[0]


def _length(text: str | None) -> tuple[float, str] | None:
    """Number and unit of a length, or None where it is missing, a share of the page, or not a length."""
    found = _LENGTH.fullmatch(text or "")
    if found is None or found[2] == "%":
        return None
    return float(found[1]), found[2].lower()


def _page(root: _Element) -> tuple[Frame, tuple[float, float] | None, bool]:
    """How user units become millimeters, the page's size in mm, and whether the units were said."""
    sides = [_length(root.attributes.get(name)) for name in ("width", "height")]
    box = [float(n) for n in _NUMBER.findall(root.attributes.get("viewBox", "")[:200])]
    if len(box) != 4 or box[2] <= 0 or box[3] <= 0 or not all(map(math.isfinite, box)):
        box = []
    known = [side for side in sides if side is not None and side[1] in MM_PER_UNIT and side[0] > 0]
    if not known:
        # A length without a unit counts as px, and so does the drawing as a whole.
        scale = MM_PER_UNIT["px"]
        size = (box[2] * scale, box[3] * scale) if box else None
        return Frame(scale, 0, 0, scale, 0, 0), size, False
    mm = [None if s is None or s[1] not in MM_PER_UNIT else s[0] * MM_PER_UNIT[s[1]] for s in sides]
    if not box:
        # Without a viewBox a user unit is a px whatever unit the page's size is in.
        scale = MM_PER_UNIT["px"]
        size = (mm[0], mm[1]) if mm[0] is not None and mm[1] is not None else None
        return Frame(scale, 0, 0, scale, 0, 0), size, True
    scales = [None if side is None else side / span for side, span in zip(mm, box[2:], strict=True)]
    sx, sy = (scales[i] if scales[i] is not None else scales[1 - i] for i in (0, 1))
    assert sx is not None
    assert sy is not None
    if not root.attributes.get("preserveAspectRatio", "").strip().startswith("none"):
        sx = sy = min(sx, sy)
    return Frame(sx, 0, 0, sy, -box[0] * sx, -box[1] * sy), (box[2] * sx, box[3] * sy), True


class _Reader:
    def __init__(self, root: _Element, tolerance: float) -> None:
        self.drafting, self.left_out = Drafting(), set[str]()
        self._tolerance, self._visits, self._numbers = tolerance, 0, 0
        self._ids: dict[str, _Element] = {}
        self._classes: dict[str, dict[str, str]] = {}
        self._index(root)

    def _index(self, root: _Element) -> None:
        stack = [root]
        while stack:
            element = stack.pop()
            if "id" in element.attributes:
                self._ids.setdefault(element.attributes["id"], element)
            if element.tag == "style":
                self._read_rules("".join(element.text)[:LONGEST_STYLE])
            stack.extend(element.children)

    def _read_rules(self, text: str) -> None:
        for rule in _COMMENT.sub("", text).split("}"):
            selectors, _, body = rule.partition("{")
            for name in selectors.split(","):
                if name.strip().startswith("."):
                    self._classes.setdefault(name.strip()[1:], {}).update(_declarations(body))

    def _style(self, element: _Element, inherited: dict[str, str]) -> dict[str, str]:
        """fill, display and visibility as they hold for this element: attribute, then class, then its own style."""
        style = {key: value for key, value in inherited.items() if key != "display"}
        for key in ("fill", "display", "visibility"):
            if key in element.attributes:
                style[key] = element.attributes[key].strip()
        for name in element.attributes.get("class", "")[:1000].split():
            style |= self._classes.get(name, {})
        return style | _declarations(element.attributes.get("style", ""))

    def walk(self, element: _Element, frame: Frame, inherited: dict[str, str], depth: int) -> None:
        self._visits += 1
        if self._visits > 2 * MOST_ELEMENTS or depth > 2 * MOST_DEPTH:
            raise DrawingRefused(
                "The drawing repeats its parts too often; turn clones into paths and export again."
            )
        if element.tag in _LEFT_OUT:
            self.left_out.add(_LEFT_OUT[element.tag])
            return
        style = self._style(element, inherited)
        if style.get("display") == "none":
            return
        if "transform" in element.attributes:
            frame = frame.inside(_transform(element.attributes["transform"]))
        if element.tag in _GROUPS:
            if depth and element.tag == "svg":
                frame = frame.inside(
                    Frame(1, 0, 0, 1, self._number(element, "x"), self._number(element, "y"))
                )
            for child in element.children:
                if child.tag not in _SKIPPED:
                    self.walk(child, frame, style, depth + 1)
        elif element.tag == "use":
            self._use(element, frame, style, depth)
        elif style.get("visibility") not in ("hidden", "collapse"):
            self._shape(element, frame, _color(style.get("fill", "#000000")))

    def _use(self, element: _Element, frame: Frame, style: dict[str, str], depth: int) -> None:
        address = element.attributes.get("href") or element.attributes.get("xlink:href") or ""
        target = self._ids.get(address[1:]) if address.startswith("#") else None
        if target is None:
            self.left_out.add("parts that lie elsewhere")
            return
        shift = Frame(1, 0, 0, 1, self._number(element, "x"), self._number(element, "y"))
        self.walk(target, frame.inside(shift), style, depth + 1)

    def _shape(self, element: _Element, frame: Frame, fill: str) -> None:
        pen = Pen(self.drafting, fill, self._tolerance)
        if element.tag == "path":
            draw_path(element.attributes.get("d", ""), frame, pen, self._count)
        elif element.tag in ("polyline", "polygon"):
            numbers = self._numbers_of(element.attributes.get("points", ""))
            corners = [complex(x, y) for x, y in zip(numbers[::2], numbers[1::2], strict=False)]
            _polygon(pen, frame, corners, closed=element.tag == "polygon")
        elif element.tag == "line":
            ends = [self._number(element, key) for key in ("x1", "y1", "x2", "y2")]
            _polygon(pen, frame, [complex(*ends[:2]), complex(*ends[2:])], closed=False)
        elif element.tag == "rect":
            self._rect(element, frame, pen)
        elif element.tag in ("circle", "ellipse"):
            center = complex(self._number(element, "cx"), self._number(element, "cy"))
            rx = self._number(element, "r" if element.tag == "circle" else "rx")
            ry = rx if element.tag == "circle" else self._number(element, "ry")
            if rx > 0 and ry > 0:
                pen.move(frame.point(center + rx))
                pen.ellipse(
                    frame.point(center),
                    frame.vector(complex(rx)),
                    frame.vector(complex(0, ry)),
                    0.0,
                    math.tau,
                )
                pen.finish(closed=True)

    def _rect(self, element: _Element, frame: Frame, pen: Pen) -> None:
        x, y, w, h = (self._number(element, key) for key in ("x", "y", "width", "height"))
        if w <= 0 or h <= 0:
            return
        given = [self._number(element, key) if key in element.attributes else None for key in ("rx", "ry")]
        rx, ry = (min(max(given[i] or given[1 - i] or 0.0, 0.0), side / 2) for i, side in enumerate((w, h)))
        if not (rx and ry):
            corners = [complex(x, y), complex(x + w, y), complex(x + w, y + h), complex(x, y + h)]
            _polygon(pen, frame, corners, closed=True)
            return
        u, v = frame.vector(complex(rx)), frame.vector(complex(0, ry))
        centers = [
            complex(x + w - rx, y + ry),
            complex(x + w - rx, y + h - ry),
            complex(x + rx, y + h - ry),
            complex(x + rx, y + ry),
        ]
        pen.move(frame.point(centers[3] - 1j * ry))
        for quarter, center in enumerate(centers):
            start = (quarter - 1) * math.pi / 2
            middle = frame.point(center)
            pen.line(middle + u * math.cos(start) + v * math.sin(start))
            pen.ellipse(middle, u, v, start, math.pi / 2)
        pen.finish(closed=True)

    def _count(self, numbers: int) -> None:
        self._numbers += numbers
        if self._numbers > 3 * MOST_SEGMENTS:
            raise DrawingRefused(
                f"The drawing has more than {MOST_SEGMENTS:,} lines; draw the lead lines alone, without shading."
            )

    def _numbers_of(self, text: str) -> list[float]:
        if re.search(r"[^0-9eE+\-.,\s]", text):
            raise DrawingRefused("A line of the drawing has a point that is not a number.")
        numbers = [float(n) for n in _NUMBER.findall(text)]
        self._count(len(numbers))
        return numbers

    @staticmethod
    def _number(element: _Element, key: str) -> float:
        """An attribute in user units; a real unit inside the drawing counts at 96 to the inch, as CSS has it."""
        text = element.attributes.get(key)
        if text is None:
            return 0.0
        found = _length(text)
        if found is None or (found[1] and found[1] not in MM_PER_UNIT):
            raise DrawingRefused("A shape of the drawing has a size that is not a number.")
        return found[0] * (MM_PER_UNIT[found[1]] / MM_PER_UNIT["px"] if found[1] else 1.0)


def _polygon(pen: Pen, frame: Frame, corners: list[complex], *, closed: bool) -> None:
    if len(corners) < 2:
        return
    pen.move(frame.point(corners[0]))
    for corner in corners[1:]:
        pen.line(frame.point(corner))
    pen.finish(closed=closed)


def _transform(text: str) -> Frame:
    from svgelements import Matrix

    if len(text) > 10_000:
        raise DrawingRefused("The drawing has a transform that cannot be read.")
    try:
        m = Matrix(text)
        numbers = [float(getattr(m, name)) for name in "abcdef"]
    except (ValueError, TypeError, ArithmeticError, IndexError, AttributeError) as error:
        raise DrawingRefused("The drawing has a transform that cannot be read.") from error
    if not np.isfinite(numbers).all():
        raise DrawingRefused("The drawing has a transform that leads nowhere.")
    return Frame(*numbers)


def _declarations(text: str) -> dict[str, str]:
    found = {}
    for part in text[:4000].split(";"):
        key, _, value = part.partition(":")
        if key.strip() in ("fill", "display", "visibility"):
            found[key.strip()] = value.replace("!important", "").strip()
    return found


def _color(text: str) -> str:
    """A color as #rrggbb, "" for none; a name that is not known stays a name, cut short."""
    text = text.strip().lower()
    if text in ("none", "transparent", ""):
        return ""
    if text.startswith("url("):
        return "pattern"
    from svgelements import Color

    try:
        color = Color(text[:40])
        value = color.hexrgb if color.value is not None else None
    except (ValueError, TypeError, ArithmeticError, IndexError, AttributeError):
        value = None
    return str(value) if value else re.sub(r"[^a-z0-9 #-]", "", text)[:20] or "color"


def fills(linework: Linework) -> Iterator[str]:
    """The colors that closed shapes are filled with, in the order they are drawn, each once."""
    yield from dict.fromkeys(path.fill for path in linework.paths if path.fill)
