"""The approval sheet: the drawing at its scale, its glass in letters, and the version that is signed."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from jobs.actions import Actor
from jobs.actions.patterns import accept_pattern, map_fills
from jobs.documents.approval import version_of
from jobs.documents.drawing import drawn
from jobs.models import Account, Customer, Glass, Job, Panel, Studio
from jobs.models.approvals import hash_of, shown_of
from jobs.models.said import Fill
from tests import cast
from tests.documents.reading import alts_of, pages_of
from tests.documents.tags import POINT, assert_tagged, read
from tests.documents.tags import text as text_of

SHEET = reverse("letter", args=["0412", "approval"])


@pytest.fixture
def job(office: Account) -> Job:
    """A panel with the lattice of red and blue accepted, and one that is not drawn."""
    job = cast.make_job()
    pattern = cast.make_pattern(cast.make_panel(job), office)
    by = Actor(account=office)
    known = {glass.color: glass for glass in Glass.objects.all()}
    fills = {color: Fill(known[color], False, Decimal("25.4")) for color in pattern.measured["fills"]}
    pattern = map_fills(pattern, fills, by=by, at=cast.at(2))
    accept_pattern(pattern, anyway=True, by=by, at=cast.at(2))
    cast.make_panel(job, 2, name="Transom")
    return job


def sheet(client: Client) -> bytes:
    response = client.get(SHEET)
    assert response.status_code == 200
    return response.content


def test_the_legend_and_the_version(office_client: Client, job: Job) -> None:
    data = sheet(office_client)
    text = text_of(data)
    panel = job.panels.get(number=1)
    panel.job = job
    version = hash_of(shown_of(panel))[:8]
    assert version_of(panel) == version
    assert text.count(version) == 2
    assert "from pattern 1" in text
    assert "A Blue 2" in text
    assert "B Red 2" in text
    assert "Not drawn yet" in text
    assert "0412/2 Transom" in text
    assert "Signature" in text
    assert_tagged(data, "For approval: 0412")
    alts = alts_of(data)
    assert "2 pieces of Blue, 2 pieces of Red" in alts[0]


def test_another_drawing_is_another_version(office_client: Client, job: Job) -> None:
    panel = job.panels.get(number=1)
    before = version_of(panel)
    panel.drawing["pieces"][0]["points"][0][0] += 0.5
    panel.save()
    assert version_of(panel) != before
    assert version_of(panel) in text_of(sheet(office_client))


def _frames(data: bytes) -> list[tuple[float, float]]:
    """Width and height in mm, as laid on the paper, of every rectangle and closed path that is a rectangle."""
    found: list[tuple[float, float]] = []

    def look(operator: bytes, operands: list[Any], cm: list[float], tm: list[float]) -> None:
        if operator == b"re":
            across, down = float(operands[2]) * cm[0], float(operands[3]) * cm[3]
            found.append((abs(across) * POINT, abs(down) * POINT))

    read(data).pages[0].extract_text(visitor_operand_before=look)
    return found


@pytest.mark.parametrize(("units", "ratio"), [("mm", 10), ("in", 8)])
def test_the_scale_that_is_named_is_that_of_the_paper(
    office_client: Client, job: Job, units: str, ratio: int
) -> None:
    Studio.objects.update(units=units)
    data = sheet(office_client)
    assert f"1:{ratio}" in text_of(data)
    wanted = (600 / ratio, 900 / ratio)
    close = [w for w in _frames(data) if abs(w[0] - wanted[0]) < 0.05 and abs(w[1] - wanted[1]) < 0.05]
    assert close
    # Drawing, legend and signature of a panel stand together.
    assert "Signature" in pages_of(data)[0]


def test_a_letter_stands_beside_what_lies_in_a_hole() -> None:
    whole = [[0, 0], [600, 0], [600, 600], [0, 600]]
    inner = [[150, 150], [450, 150], [450, 450], [150, 450]]
    job = Job(number="0412")
    panel = Panel(job=job, number=1, name="Eye", width_mm=Decimal(600), height_mm=Decimal(600))
    panel.drawing = {"pieces": [{"points": whole, "glass": "Clear"}, {"points": inner, "glass": "Red"}]}
    labels = {label.letter: label for label in drawn(panel, Decimal(170), Decimal(150), "mm").labels}
    assert set(labels) == {"A", "B"}
    assert 150 <= float(labels["B"].x) <= 450
    outer = labels["A"]
    assert not (150 < float(outer.x) < 450 and 150 < float(outer.middle) < 450)


def test_lines_that_cross_do_not_stop_it() -> None:
    job = Job(number="0412")
    panel = Panel(job=job, number=1, name="Bow", width_mm=Decimal(600), height_mm=Decimal(600))
    bow = [[0, 0], [600, 600], [600, 0], [0, 600]]
    panel.drawing = {"pieces": [{"points": bow, "glass": "Red", "beveled": True}]}
    assert re.match(r"1:5|1:10", drawn(panel, Decimal(170), Decimal(150), "mm").scale.words)


def test_nothing_drawn(office_client: Client, shop: None) -> None:
    cast.make_panel(cast.make_job())
    answer = office_client.get(SHEET, follow=True)
    assert "No panel of 0412 is drawn yet." in answer.content.decode()


def test_who_may_not(tablet_client: Client, job: Job) -> None:
    assert tablet_client.get(SHEET).status_code == 403


def test_no_such_paper(office_client: Client, job: Job) -> None:
    assert office_client.get(reverse("letter", args=["0412", "receipt"])).status_code == 404
    assert office_client.get(reverse("letter", args=["0999", "approval"])).status_code == 404
    assert office_client.post(SHEET).status_code == 405


def test_long_names_leave_the_signature_on_its_sheet(job: Job, office_client: Client) -> None:
    Job.objects.update(title="Restoration and re-leading of the chancel and both chapels after the hailstorm")
    Customer.objects.update(name="Cathedral Chapter of the United Dioceses of the Two Rivers and the Ridge")
    Panel.objects.update(name="Clerestory window above the baptistry, north aisle, third bay")
    signed = [words for words in pages_of(sheet(office_client)) if "Signature" in words]
    assert len(signed) == 1
    assert "For approval: 0412/1" in signed[0]
    assert "Approved as drawn" in signed[0]
