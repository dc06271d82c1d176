"""The scale of a drawing: the largest usual one that fits."""

from decimal import Decimal

import pytest

from jobs.estimating.scales import fitting_scale

ROOM = (Decimal(170), Decimal(150))


@pytest.mark.parametrize(
    ("width", "height", "unit", "words"),
    [
        (170, 150, "mm", "1:1 (full size)"),
        (171, 150, "mm", "1:2"),
        (600, 900, "mm", "1:10"),
        (600, 900, "in", "1:8 (1 1/2 in to 1 ft)"),
        (1000, 1800, "in", "1:12 (1 in to 1 ft)"),
        (20000, 100, "mm", "1:118"),
    ],
)
def test_the_largest_that_fits(width: int, height: int, unit: str, words: str) -> None:
    scale = fitting_scale(Decimal(width), Decimal(height), *ROOM, unit)
    assert scale.words == words
    assert scale.on_paper(Decimal(width)) <= ROOM[0]
    assert scale.on_paper(Decimal(height)) <= ROOM[1]


def test_nothing_has_no_scale() -> None:
    with pytest.raises(ValueError, match="more than nothing"):
        fitting_scale(Decimal(0), Decimal(1), *ROOM, "mm")
