"""A day of hours written down, held against the hours of that day; and rounding for the weekly hours sheet.

Spans are pairs of aware datetimes, start before stop. All reckoning is done in UTC: in one zone Python would subtract
clocks, not times.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta

type Span = tuple[datetime, datetime]

# Shorter ones are a walk to the rack, not a gap.
LEAST_GAP = timedelta(minutes=15)
# What the law lets a sheet be rounded to: 5 minutes, a tenth and a quarter of an hour (29 CFR 785.48(b)).
STEPS = (5, 6, 15)


def rounded(minutes: int, step: int) -> int:
    """Minutes to the nearest multiple of `step` (1 leaves them). Half a step goes up, never against the worker.

    ValueError for minutes below zero or a step below one.
    """
    if minutes < 0 or step < 1:
        raise ValueError("minutes from 0 and a step from 1")
    return (2 * minutes + step) // (2 * step) * step


def gaps(worked: Iterable[Span], due: Sequence[Span], until: datetime) -> list[Span]:
    """The parts of the hours due, up to `until`, of which nothing is written down and that are no mere moments."""
    now = until.astimezone(UTC)
    hours = [(start, min(stop, now)) for start, stop in _ordered(due) if start < now]
    found = _less(hours, _joined(_ordered(worked)))
    return [(start, stop) for start, stop in found if stop - start >= LEAST_GAP]


def beyond(worked: Iterable[Span], due: Sequence[Span]) -> list[Span]:
    """What was worked before the first or after the last of the hours due; all of it on a day without hours.

    Work through a break is not beyond: a break is taken off where it is counted.
    """
    hours = _ordered(due)
    whole = [(hours[0][0], max(stop for _, stop in hours))] if hours else []
    found = _less(_joined(_ordered(worked)), whole)
    return [(start, stop) for start, stop in found if stop - start >= LEAST_GAP]


def overlaps(worked: Iterable[Span]) -> list[Span]:
    """Where two of the spans claim the same time."""
    found: list[Span] = []
    reach: datetime | None = None
    for start, stop in _ordered(worked):
        if reach is not None and start < reach:
            found.append((start, min(stop, reach)))
        reach = stop if reach is None else max(reach, stop)
    return _joined(found)


def minutes_of(spans: Iterable[Span]) -> int:
    """Whole minutes of spans that do not overlap."""
    return sum(int((stop - start).total_seconds() // 60) for start, stop in _ordered(spans))


def _ordered(spans: Iterable[Span]) -> list[Span]:
    return sorted((start.astimezone(UTC), stop.astimezone(UTC)) for start, stop in spans)


def _joined(spans: Sequence[Span]) -> list[Span]:
    """Spans in order, those that touch made one."""
    found: list[Span] = []
    for start, stop in spans:
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], stop))
        else:
            found.append((start, stop))
    return found


def _less(spans: Sequence[Span], taken: Sequence[Span]) -> list[Span]:
    """What is left of spans in order without what is taken, in order and joined."""
    found: list[Span] = []
    for begin, end in spans:
        at = begin
        for start, stop in taken:
            if stop <= at or start >= end:
                continue
            if start > at:
                found.append((at, start))
            at = max(at, stop)
        if at < end:
            found.append((at, end))
    return found
