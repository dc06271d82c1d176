"""A person's week as words and as a small picture: a column a weekday, its hours as bars, its breaks as gaps."""

from collections.abc import Iterable
from datetime import time
from typing import Any

from jobs.forms.setup import Span, write_spans
from jobs.models import Shift

WIDTH, GAP, HEIGHT = 16, 4, 56
# The picture shows the usual day, and more where somebody works earlier or later.
USUAL = 6 * 60, 18 * 60


def _minute(clock: time) -> int:
    return clock.hour * 60 + clock.minute


def _days(shifts: Iterable[Shift]) -> dict[int, list[Span]]:
    days: dict[int, list[Span]] = {}
    for shift in shifts:
        days.setdefault(shift.weekday, []).append((shift.start, shift.stop))
    return days


def _words(days: dict[int, list[Span]]) -> list[dict[str, str]]:
    """Neighboring days of the same hours in one line: Monday to Friday, 8:00-12:00, 12:30-16:30."""
    lines: list[tuple[int, int, list[Span]]] = []
    for weekday, spans in sorted(days.items()):
        if lines and lines[-1][1] == weekday - 1 and lines[-1][2] == spans:
            lines[-1] = (lines[-1][0], weekday, spans)
        else:
            lines.append((weekday, weekday, spans))
    label = {day.value: str(day.label) for day in Shift.Weekday}
    return [
        {
            "days": label[first] if first == last else f"{label[first]} to {label[last]}",
            "hours": write_spans(spans),
        }
        for first, last, spans in lines
    ]


def week_picture(shifts: Iterable[Shift]) -> dict[str, Any]:
    """`minutes` of a week, `words` of it, and `columns` with their `bars` in a box of `width` by `height`."""
    days = _days(shifts)
    spans = [(_minute(start), _minute(stop)) for day in days.values() for start, stop in day]
    first = min([USUAL[0], *(start for start, _ in spans)])
    last = max([USUAL[1], *(stop for _, stop in spans)])

    def down(minute: int) -> float:
        return round((minute - first) / (last - first) * HEIGHT, 1)

    columns = [
        {
            "x": day.value * (WIDTH + GAP),
            "middle": day.value * (WIDTH + GAP) + WIDTH / 2,
            "letter": str(day.label)[0],
            "bars": [
                {"y": down(_minute(start)), "height": round(down(_minute(stop)) - down(_minute(start)), 1)}
                for start, stop in days.get(day.value, [])
            ],
        }
        for day in Shift.Weekday
    ]
    lines = _words(days)
    return {
        "columns": columns,
        "width": 7 * (WIDTH + GAP) - GAP,
        "height": HEIGHT,
        "bar": WIDTH,
        "minutes": sum(stop - start for start, stop in spans),
        "lines": lines,
        "words": "; ".join(f"{line['days']} {line['hours']}" for line in lines) or "no weekly hours",
    }
