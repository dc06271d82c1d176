"""The numbers of the pieces in every picture of a panel, and where they are left out because nobody could read them."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.patterns import accept_pattern
from jobs.actions.quotes import make_quote
from jobs.documents.drawing import drawn
from jobs.models import Account, Job, Panel, Stage
from jobs.models.standing import panels_drawn
from jobs.templatetags.floor import LARGE_PX, LIST_PX, outline
from jobs.templatetags.studio import READABLE_PX, piece_numbers
from tests import cast, quoting


def square(number: int, x: float, y: float, side: float) -> dict[str, Any]:
    points = [[x, y], [x + side, y], [x + side, y + side], [x, y + side]]
    return {"number": number, "points": points, "at": [x + side / 2, y + side / 2]}


# One large piece beside one a tenth as wide, in a picture of 1000 mm.
PIECES = [square(1, 0, 0, 900), square(2, 900, 0, 90)]


def numbers(**how: Any) -> list[int]:
    return [each.number for each in piece_numbers(PIECES, 1000.0, **how)]


def test_a_number_is_left_out_where_it_cannot_be_read() -> None:
    assert numbers() == [1, 2], "a picture that is shown large has all"
    # 0.6 of 90 mm is 7 px high where 1000 mm are 130 px long.
    assert (numbers(px=129), numbers(px=130)) == ([1], [1, 2])
    assert (numbers(px=129, all_or_none=True), numbers(px=130, all_or_none=True)) == ([], [1, 2])


def test_no_number_is_lower_than_it_can_be_read() -> None:
    for px in (40, 120, 400):
        for each in piece_numbers(PIECES, 1000.0, px=px):
            assert float(each.size) * px / 1000 >= READABLE_PX


def test_pieces_without_numbers_and_carving_have_none() -> None:
    plain = [{key: value for key, value in piece.items() if key != "number"} for piece in PIECES]
    carved = {"points": PIECES[0]["points"], "carved": True}
    assert piece_numbers([*plain, carved], 1000.0) == ()


@pytest.fixture
def panel(office: Account) -> Panel:
    """Of six pieces of some 200 x 450 mm."""
    quoting.make_stock()
    job = quoting.make_enquiry()
    pattern = cast.make_pattern(job.panels.get(), office)
    accept_pattern(pattern, by=Actor(account=office), at=timezone.now())
    return job.panels.get()


def shown(text: str) -> list[str]:
    groups = re.findall(r'<g class="picture-numbers">(.*?)</g>', text, re.DOTALL)
    groups += re.findall(r'<text class="pc-number".*?</text>', text)
    return [number for group in groups for number in re.findall(r">(\d+)</text>", group)]


def test_the_pages_show_them(panel: Panel, office: Account, office_client: Client) -> None:
    pieces = [str(number) for number in range(1, panel.pieces + 1)]
    assert len(pieces) > 1
    quote = make_quote(panel.job, by=Actor(account=office), at=timezone.now())
    for page in (
        panel.job.get_absolute_url(),
        panel.get_absolute_url(),
        reverse("quote", args=[panel.job.number, quote.version]),
    ):
        assert sorted(shown(office_client.get(page).content.decode())) == pieces, page


def test_lists_show_all_of_them_or_none(panel: Panel, office_client: Client) -> None:
    Job.objects.update(stage=Stage.ORDERED)
    many = len(outline(panel, px=LARGE_PX).numbers)
    assert many == panel.pieces
    assert len(outline(panel, px=LIST_PX).numbers) in (0, many)
    page = office_client.get(reverse("panels")).content.decode()
    assert len(shown(page)) == len(outline(panel, px=LIST_PX).numbers)
    assert panel.drawing is not None
    panel.drawing["pieces"].append(square(99, 0, 0, 5))
    assert outline(panel, px=LIST_PX).numbers == ()


def test_the_drawing_as_text_has_the_same(panel: Panel) -> None:
    [text] = panels_drawn([panel.pk]).values()
    assert outline(text, px=LARGE_PX) == outline(panel, px=LARGE_PX)


def test_the_paper_of_a_quote_has_them(panel: Panel) -> None:
    room = Decimal(76), Decimal(70)
    labels = [label.letter for label in drawn(panel, *room, "in", numbered=True).labels]
    assert sorted(labels) == [str(number) for number in range(1, panel.pieces + 1)]
    assert {label.letter for label in drawn(panel, *room, "in").labels} == {"A", "B"}
