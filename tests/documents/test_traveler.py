"""The traveler: its words and figures, its codes read back, its tags, on either paper."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client, override_settings

from jobs.actions.base import Actor
from jobs.actions.patterns import accept_pattern
from jobs.documents.drawing import drawn
from jobs.models import Account, Operation, OperationKind, Panel, Station, Studio
from tests import cast
from tests.documents import codes, tags

PAGE = "/papers/0412/1/traveler/"


@pytest.fixture
def panel(shop: None) -> Panel:
    return cast.make_panel(cast.make_job())


def made(client: Client) -> bytes:
    answer = client.get(PAGE)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == 'inline; filename="traveler-0412-1.pdf"'
    return bytes(answer.content)


def test_it_says_what_the_panels_page_says(panel: Panel, office_client: Client) -> None:
    page = office_client.get(panel.get_absolute_url()).content.decode()
    paper = tags.text(made(office_client))
    for said in ("0412/1 Light 1", "Parish of the Two Rivers", "1:30", "7:30", "4:00", "Keep the wheel wet."):
        assert said in page
        assert said in paper
    assert "Lead: wash hands before you eat." in paper


def test_outside_work_is_told_in_days_as_on_the_page(panel: Panel, office_client: Client) -> None:
    away = panel.operations.get(kind__name="Assembly")
    away.kind, away.estimate = OperationKind.objects.get(name="Lamination"), 6 * 1440 + 30
    away.save()
    assert "7 days away" in office_client.get(panel.get_absolute_url()).content.decode()
    paper = tags.text(made(office_client))
    assert "7 days" in paper
    assert "144:30" not in paper


def test_it_is_tagged_with_its_fonts(panel: Panel, office_client: Client) -> None:
    tree = tags.assert_tagged(made(office_client), "Traveler 0412/1 Light 1")
    assert len(tree.all("Figure")) == 5
    # The head of the table is there once on each page.
    assert len([row for row in tree.all("TR") if row.all("TD")]) == 3


@override_settings(BASE_URL="https://floor.studio.example")
def test_its_codes_hold_the_addresses_and_nothing_else(panel: Panel, office_client: Client) -> None:
    found = codes.codes(made(office_client))
    start = f"https://floor.studio.example/s/{panel.pk}/"
    assert [code.address for code in found] == [start] + [
        f"{start}{slug}/" for slug in ("cutting", "beveling", "assembly")
    ]
    # 30 mm for a code that is read at an arm's length: common practice, no published source.
    assert all(code.side_mm >= 30 for code in found)


def test_either_paper(panel: Panel, office_client: Client) -> None:
    for paper, size in (("letter", (215.9, 279.4)), ("a4", (210.0, 297.0))):
        Studio.objects.update(paper=paper)
        assert tags.sizes_mm(made(office_client)) == {size}


def test_pieces_of_a_pattern_have_their_numbers(panel: Panel, office: Account, office_client: Client) -> None:
    pattern = cast.make_pattern(panel, office)
    accept_pattern(pattern, by=Actor(account=office), at=cast.at(2, "10:00"))
    panel.refresh_from_db()
    words = tags.text(made(office_client)).split()
    numbers = [str(piece["number"]) for piece in panel.drawing["pieces"]]  # type: ignore[index]
    assert numbers == ["1", "2", "3", "4"]
    assert set(numbers) <= set(words)


def test_each_number_stands_in_its_own_piece(panel: Panel, office_client: Client) -> None:
    """Two corners of one square: the boxes around them are the same, and so would be the middles of those."""
    halves = [[[0, 0], [600, 0], [0, 900]], [[600, 0], [600, 900], [0, 900]]]
    pieces = [{"points": points, "number": number} for number, points in enumerate(halves, 31)]
    carved = {"points": [[10, 10], [60, 10], [60, 60]], "number": 33, "carved": True}
    panel.drawing = {"width": 600, "height": 900, "pieces": [*pieces, carved]}
    panel.save(update_fields=["drawing"])
    made = drawn(panel, Decimal(174), Decimal(105), "mm", numbered=True)
    first, second = made.labels
    assert (first.letter, second.letter, made.small) == ("31", "32", 0)
    assert float(first.x) < 300 < float(second.x)
    words = tags.text(office_client.get(PAGE).content)
    assert "31" in words
    assert "32" in words
    assert "too small" not in words


def test_a_skipped_operation_is_left_out_and_a_finished_one_has_its_day(
    panel: Panel, tablet_client: Client
) -> None:
    Operation.objects.filter(kind__name="Assembly").update(skipped=True)
    done = cast.at(3)
    Operation.objects.filter(kind__name="Cutting").update(
        started_at=done - timedelta(hours=1), finished_at=done
    )
    paper = tags.text(made(tablet_client))
    assert "Lead: wash" not in paper
    assert "Tue 3 Mar" in paper


def test_a_station_of_another_slug_has_its_own_code(panel: Panel, office_client: Client) -> None:
    Station.objects.filter(name="Cutting").update(slug="cut")
    assert any(code.address.endswith(f"/s/{panel.pk}/cut/") for code in codes.codes(made(office_client)))


def test_no_such_panel(panel: Panel, office_client: Client) -> None:
    assert office_client.get("/papers/0412/9/traveler/").status_code == 404


def test_it_is_only_read(panel: Panel, office_client: Client) -> None:
    assert office_client.post(PAGE).status_code == 405


def test_nobody_reads_it_unsigned(panel: Panel, client: Client) -> None:
    answer = client.get(PAGE)
    assert (answer.status_code, answer["Location"]) == (302, f"/sign-in/?next={PAGE}")
