"""The full-size pattern and the cut list: sizes measured on the paper itself, pieces as the pattern's page has them."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from jobs.actions import Actor
from jobs.actions.patterns import accept_pattern
from jobs.documents.pattern_sheets import room
from jobs.estimating.tiling import OVERLAP_MM
from jobs.models import Account, Panel, Studio
from tests import cast
from tests.documents.reading import pages_of
from tests.documents.tags import POINT, assert_tagged, read, sizes_mm

SHEETS = reverse("paper-pattern", args=["0412", 1])
CUTS = reverse("paper-cut-list", args=["0412", 1])


@pytest.fixture
def panel(office: Account) -> Panel:
    """600 x 900 mm, four pieces."""
    panel = cast.make_panel(cast.make_job())
    pattern = cast.make_pattern(panel, office)
    accept_pattern(pattern, anyway=True, by=Actor(account=office), at=cast.at(2))
    return panel


def made(client: Client, address: str) -> bytes:
    response = client.get(address)
    assert response.status_code == 200
    return response.content


def frames(data: bytes, page: int) -> list[tuple[float, float, float, float]]:
    """Left, top from below, width and height in mm, as laid on the paper, of every rectangle of a page."""
    found: list[tuple[float, float, float, float]] = []

    def look(operator: bytes, operands: list[Any], cm: list[float], tm: list[float]) -> None:
        if operator == b"re":
            x, y, across, down = (float(value) for value in operands[:4])
            left, base = x * cm[0] + cm[4], y * cm[3] + cm[5]
            found.append((left * POINT, base * POINT, abs(across * cm[0]) * POINT, abs(down * cm[3]) * POINT))

    read(data).pages[page].extract_text(visitor_operand_before=look)
    return found


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_sheet_is_at_full_size(office_client: Client, panel: Panel, paper: str) -> None:
    Studio.objects.update(paper=paper)
    data = made(office_client, SHEETS)
    assert_tagged(data, "Full-size pattern 0412/1 Light 1")
    pages = pages_of(data)
    across, down = (600 - OVERLAP_MM, 900 - OVERLAP_MM)
    wide, high = room(Studio.current())
    columns, rows = -(-across // (wide - OVERLAP_MM)), -(-down // (high - OVERLAP_MM))
    assert len(pages) == 1 + columns * rows
    assert len(sizes_mm(data)) == 1
    for number in range(1, len(pages)):
        found = frames(data, number)
        # 4 in are 101.6 mm (the international inch, 25.4 mm by definition).
        for bar in (100.0, 101.6):
            assert [frame for frame in found if abs(frame[2] - bar) < 0.2 and abs(frame[3] - 3) < 0.2]
        assert [frame for frame in found if abs(frame[2] - 600) < 0.2 and abs(frame[3] - 900) < 0.2]


def test_neighbors_overlap_by_what_is_said(office_client: Client, panel: Panel) -> None:
    Studio.objects.update(paper="a4")
    data = made(office_client, SHEETS)
    first, second = (
        next(frame for frame in frames(data, page) if abs(frame[2] - 600) < 0.2) for page in (1, 2)
    )
    assert first[0] - second[0] == pytest.approx(room(Studio.current())[0] - OVERLAP_MM, abs=0.2)


def test_each_piece_has_its_number_on_a_sheet(office_client: Client, panel: Panel) -> None:
    data = made(office_client, SHEETS)
    words = " ".join(pages_of(data)[1:]).split()
    assert {"1", "2", "3", "4"} <= set(words)
    assert {"A1", "B2"} <= set(words)


def test_the_cut_list_is_the_pattern_page(office_client: Client, panel: Panel) -> None:
    data = made(office_client, CUTS)
    tree = assert_tagged(data, "Cut list 0412/1 Light 1")
    text = " ".join(pages_of(data))
    shown = office_client.get(reverse("pattern", args=["0412", 1])).content.decode()
    pattern = panel.patterns.get()
    for piece in pattern.measured["pieces"]:
        assert f"{piece['number']} " in text
    assert len([row for row in tree.all("TR") if row.all("TD")]) == 4
    # 300 x 450 mm less half a heart of 1.6 mm on each side: 298.4 x 448.4 mm, in sixteenths of an inch.
    assert "11 3/4 × 17 5/8 in" in shown
    assert text.count("11 3/4 × 17 5/8 in") == 4
    assert "2 pieces" in text


@pytest.mark.parametrize("address", [SHEETS, CUTS])
def test_without_an_accepted_pattern_there_is_none(office_client: Client, address: str) -> None:
    panel = cast.make_panel(cast.make_job())
    answer = office_client.get(address, follow=True)
    assert answer.redirect_chain[-1][0] == panel.get_absolute_url()
    assert "no accepted pattern yet" in answer.content.decode()


def test_what_takes_too_many_sheets_is_said(office_client: Client, panel: Panel) -> None:
    Panel.objects.update(width_mm=6000, height_mm=4000)
    answer = office_client.get(SHEETS, follow=True)
    assert "have it plotted in one piece" in answer.content.decode()
