"""The lengths of came that a panel is leaded with, to be cut from sticks.

A takeoff has lengths by profile, not line by line. The border is two widths and two heights; the lines inside are taken
to be of one length, each ending on two others, as the proposal of a takeoff takes them.
"""

from __future__ import annotations

import math
from collections import defaultdict

from jobs.estimating.takeoff import Takeoff

CORNERS = 4
LEAST_MM = 0.1  # What is shorter than a saw's tenth is rounding.


def came_lengths(takeoff: Takeoff, stick_mm: dict[str, float]) -> dict[str, list[float]]:
    """By profile, the lengths (mm) of one copy. What is longer than a stick of its profile is joined from several.

    A profile without a stick length is left out.
    """
    found: dict[str, list[float]] = defaultdict(list)
    for profile, length in takeoff.came_mm.items():
        if profile not in stick_mm or length < LEAST_MM:
            continue
        border = _border_share(takeoff, profile)
        for each in (*_border(takeoff, border), *_inside(takeoff, length - border)):
            found[profile] += _joined(each, stick_mm[profile])
    return dict(found)


def _border_share(takeoff: Takeoff, profile: str) -> float:
    """How much of this profile goes round the border: all of it for the profile that is as long as the border."""
    if len(takeoff.came_mm) == 1:
        return min(takeoff.border_mm, takeoff.came_mm[profile])
    nearest = min(takeoff.came_mm, key=lambda name: (abs(takeoff.came_mm[name] - takeoff.border_mm), name))
    return min(takeoff.border_mm, takeoff.came_mm[profile]) if profile == nearest else 0.0


def _border(takeoff: Takeoff, length: float) -> list[float]:
    """Two widths and two heights, as long together as the border is; a round one is longer or shorter than its box."""
    if length < LEAST_MM:
        return []
    share = length / (2 * (takeoff.width_mm + takeoff.height_mm))
    return [
        side * share for side in (takeoff.width_mm, takeoff.width_mm, takeoff.height_mm, takeoff.height_mm)
    ]


def _inside(takeoff: Takeoff, length: float) -> list[float]:
    if length < LEAST_MM:
        return []
    lines = max(1, math.ceil((takeoff.joints - CORNERS) / 2))
    return [length / lines] * lines


def _joined(length: float, stick: float) -> list[float]:
    """The length in parts of at most a stick."""
    whole = int(length // stick)
    rest = length - whole * stick
    return [stick] * whole + ([rest] if rest >= LEAST_MM else [])
