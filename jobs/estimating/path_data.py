"""The `d` of an SVG path (SVG 2, chapter 9), drawn with a pen, in a time that is in proportion to its length."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from jobs.estimating.linework import DrawingRefused, Pen

_TOKEN = re.compile(r"[\s,]*(?:([MmZzLlHhVvCcSsQqTtAa])|([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?))")
_FLAG = re.compile(r"[\s,]*([01])")
_REST = re.compile(r"[\s,]*")
_TAKES = {"m": 2, "z": 0, "l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "a": 7}


@dataclass(frozen=True, slots=True)
class Frame:
    """a b c d e f of the transform to millimeters, as SVG writes it."""

    a: float
    b: float
    c: float
    d: float
    e: float
    f: float

    def point(self, z: complex) -> complex:
        return self.vector(z) + complex(self.e, self.f)

    def vector(self, z: complex) -> complex:
        return complex(self.a * z.real + self.c * z.imag, self.b * z.real + self.d * z.imag)

    def inside(self, m: Frame) -> Frame:
        """This frame with `m` applied first."""
        x, y = self.vector(complex(m.a, m.b)), self.vector(complex(m.c, m.d))
        origin = self.point(complex(m.e, m.f))
        return Frame(x.real, x.imag, y.real, y.imag, origin.real, origin.imag)


def draw_path(data: str, frame: Frame, pen: Pen, count: Callable[[int], None]) -> None:
    """Draws path data; `count` is told of numbers and commands as they come, and may refuse. Ends with the pen up."""
    hand = _Hand(frame, pen)
    for command, numbers in _commands(data, count):
        hand.draw(command, numbers)
    pen.finish(closed=False)


def _unreadable() -> DrawingRefused:
    return DrawingRefused("A path of the drawing cannot be read; export it as plain SVG.")


def _commands(data: str, count: Callable[[int], None]) -> Iterator[tuple[str, list[float]]]:
    """(command, its numbers), one for each time its numbers are given."""
    position, end, command = 0, _end(data), ""
    while position < end:
        token = _TOKEN.match(data, position)
        if token is None or (token[2] and command in ("", "Z", "z")):
            raise _unreadable()
        if token[1]:
            if not command and token[1] not in "Mm":
                raise _unreadable()
            command, position = token[1], token.end()
        numbers, position = _numbers(data, position, command)
        count(1 + len(numbers))
        yield command, numbers
        if command in "Mm":
            command = "L" if command == "M" else "l"


def _end(data: str) -> int:
    return len(data.rstrip(" \t\r\n\f,"))


def _numbers(data: str, position: int, command: str) -> tuple[list[float], int]:
    numbers = []
    for i in range(_TAKES[command.lower()]):
        # The two flags of an arc may be written without anything between them and what follows.
        flag = command in "Aa" and i in (3, 4)
        token = (_FLAG if flag else _TOKEN).match(data, position)
        text = token and token[1 if flag else 2]
        if not token or not text:
            raise _unreadable()
        numbers.append(float(text))
        position = token.end()
    return numbers, position


class _Hand:
    """Where the pen is, in the drawing's own units, and what a smooth curve goes on from."""

    def __init__(self, frame: Frame, pen: Pen) -> None:
        self._frame, self._pen = frame, pen
        self._at = self._start = self._control = 0j
        self._last = ""
        self._up = True

    def draw(self, command: str, n: list[float]) -> None:
        kind = command.lower()
        base = self._at if command.islower() else 0j
        if kind == "m":
            self._at = self._start = base + complex(n[0], n[1])
            self._up = True
        elif kind == "z":
            self._pen.finish(closed=True)
            self._at, self._up = self._start, True
        else:
            self._down()
            self._stroke(kind, base, n)
        self._last = kind

    def _down(self) -> None:
        if self._up:
            self._pen.move(self._frame.point(self._at))
            self._up = False

    def _stroke(self, kind: str, base: complex, n: list[float]) -> None:
        if kind == "a":
            self._arc(n, base + complex(n[5], n[6]))
            return
        if kind == "h":
            points = [complex(base.real + n[0], self._at.imag)]
        elif kind == "v":
            points = [complex(self._at.real, base.imag + n[0])]
        else:
            points = [base + complex(x, y) for x, y in zip(n[::2], n[1::2], strict=True)]
        if kind in "st":
            goes_on = self._last in ("cs" if kind == "s" else "qt")
            points.insert(0, 2 * self._at - self._control if goes_on else self._at)
        if len(points) > 1:
            self._control = points[-2]
            self._pen.bezier(*(self._frame.point(z) for z in points))
        else:
            self._pen.line(self._frame.point(points[0]))
        self._at = points[-1]

    def _arc(self, n: list[float], end: complex) -> None:
        """An arc by its end points; `svgelements` turns them into a center and two half axes."""
        start, self._at = self._at, end
        if start == end:
            return
        if not (n[0] and n[1]):
            self._pen.line(self._frame.point(end))
            return
        # Loaded here because nothing but a drawing needs it.
        from svgelements import Arc

        try:
            arc = Arc(start, abs(n[0]), abs(n[1]), n[2], n[3], n[4], end)
            center, prx, pry = (complex(p.x, p.y) for p in (arc.center, arc.prx, arc.pry))
            begin, sweep = float(arc.get_start_t()), float(arc.sweep)
        except (ValueError, ArithmeticError, TypeError, AttributeError) as error:
            raise _unreadable() from error
        frame = self._frame
        self._pen.ellipse(
            frame.point(center), frame.vector(prx - center), frame.vector(pry - center), begin, sweep
        )
