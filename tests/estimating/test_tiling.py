"""A drawing over sheets: all of it is on paper, neighbors overlap, marks lie on both."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.estimating.tiling import OVERLAP_MM, tiles

SIZES = st.floats(20, 3000)


def test_a_lattice_on_a4() -> None:
    """600 x 900 mm on sheets of 180 x 231 mm: 170 and 221 mm a step, so 4 across and 5 down. Reckoned by hand."""
    found, marks = tiles(600, 900, 180, 231)
    assert [tile.name for tile in found][:5] == ["A1", "A2", "A3", "A4", "B1"]
    assert found[-1].name == "E4"
    assert len(found) == 20
    assert (175.0, 5.0) in marks


def test_what_fits_on_one_sheet_is_on_one() -> None:
    assert len(tiles(180, 231, 180, 231)[0]) == 1


@given(SIZES, SIZES)
def test_all_of_the_drawing_is_on_paper_and_neighbors_share_their_marks(width: float, height: float) -> None:
    found, marks = tiles(width, height, 180, 231)
    right = max(tile.x + tile.width for tile in found)
    below = max(tile.y + tile.height for tile in found)
    assert right >= width - 1e-6
    assert below >= height - 1e-6
    by_name = {(tile.name[0], tile.name[1:]): tile for tile in found if len(tile.name) < 4}
    for (row, column), tile in by_name.items():
        other = by_name.get((row, str(int(column) + 1)))
        if other is None:
            continue
        assert other.x == pytest.approx(tile.x + tile.width - OVERLAP_MM)
        shared = [mark for mark in marks if other.x <= mark[0] <= tile.x + tile.width]
        assert len([mark for mark in shared if tile.y <= mark[1] <= tile.y + tile.height]) >= 2


@pytest.mark.parametrize("room", [(10, 200), (200, 10)])
def test_sheets_no_larger_than_their_overlap_are_refused(room: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="larger than their overlap"):
        tiles(100, 100, *room)
