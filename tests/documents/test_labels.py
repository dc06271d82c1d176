"""Labels: each on its place of the sheet, its words, its code, on either usual sheet and on the studio's own."""

import pytest
from django.test import Client

from jobs.actions.base import Actor
from jobs.actions.patterns import accept_pattern
from jobs.models import Account, Panel, Studio
from tests import cast
from tests.documents import codes, tags

PAGE = "/papers/0412/1/labels/"


@pytest.fixture
def panel(shop: None) -> Panel:
    return cast.make_panel(cast.make_job(), copies=3)


def made(client: Client) -> bytes:
    answer = client.get(PAGE)
    assert answer.status_code == 200
    return bytes(answer.content)


def corners(paper: bytes) -> list[tuple[float, float]]:
    """Where the head of each label stands on its page, in millimeters from the upper left."""
    found = []
    for page in tags.read(paper).pages:
        height = float(page.mediabox.height)

        def visit(text: str, cm: list[float], tm: list[float], *_: object, height: float = height) -> None:
            if text.strip() == "0412/1":
                x, y = cm[0] * tm[4] + cm[4], cm[3] * tm[5] + cm[5]
                found.append((x * tags.POINT, (height - y) * tags.POINT))

        page.extract_text(visitor_text=visit)
    return found


@pytest.mark.parametrize(
    ("values", "size", "across", "down"),
    [
        ({"labels": "letter-10"}, (215.9, 279.4), 106.3, 50.8),
        ({"labels": "a4-24"}, (210.0, 297.0), 70, 37),
        (
            {
                "labels": "own",
                "paper": "a4",
                "label_width_mm": 90,
                "label_across_mm": 5,
                "label_height_mm": 60,
                "label_down_mm": 2,
                "label_columns": 2,
                "label_rows": 4,
            },
            (210.0, 297.0),
            95,
            62,
        ),
    ],
)
def test_labels_stand_on_their_places(
    panel: Panel, office_client: Client, values: dict[str, object], size: object, across: float, down: float
) -> None:
    Studio.objects.update(**values)
    Panel.objects.update(copies=4)
    paper = made(office_client)
    assert tags.sizes_mm(paper) == {size}
    found = corners(paper)
    assert len(found) == 4
    columns = 3 if values["labels"] == "a4-24" else 2
    for place, (x, y) in enumerate(found):
        row, column = divmod(place, columns)
        assert x == pytest.approx(found[0][0] + column * across, abs=0.2)
        assert y == pytest.approx(found[0][1] + row * down, abs=0.2)


def test_more_labels_than_a_sheet_has_take_another(panel: Panel, office_client: Client) -> None:
    Panel.objects.update(copies=11)
    assert len(tags.read(made(office_client)).pages) == 2


def test_words_and_codes(panel: Panel, office: Account, office_client: Client) -> None:
    accept_pattern(cast.make_pattern(panel, office), by=Actor(account=office), at=cast.at(2, "10:00"))
    paper = made(office_client)
    words = tags.text(paper)
    for said in ("Light 1", "Hall window", "copy 3 of 3", "2 pieces: 1, 4", "2 pieces: 2, 3"):
        assert said in words
    found = codes.codes(paper)
    assert len(found) == 5
    assert {code.address for code in found} == {f"http://testserver/s/{panel.pk}/"}


def test_tags(panel: Panel, office_client: Client) -> None:
    tags.assert_tagged(made(office_client), "Labels 0412/1 Light 1")


def test_only_read_and_only_signed_in(panel: Panel, office_client: Client, client: Client) -> None:
    assert office_client.post(PAGE).status_code == 405
    assert client.get(PAGE).status_code == 302
    assert office_client.get("/papers/0412/9/labels/").status_code == 404
