"""Labels: each on its place of the sheet, its words, its code, on either usual sheet and on the studio's own."""

from decimal import Decimal

import pytest
from django.test import Client

from jobs.actions.base import Actor
from jobs.actions.patterns import accept_pattern
from jobs.documents.labels import Label, _fitted, _steps, sheet_of
from jobs.models import Account, Job, LetterSettings, Panel, Stage, Studio
from jobs.models.loads import CrateLoad, loads_of
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
    for said in ("Light 1", "Hall window", "copy 3 of 3", "2 pieces: 1, 4", "2 pieces: 2–3"):
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


CRATES = "/papers/0412/crates/"


@pytest.fixture
def crates(panel: Panel) -> list[CrateLoad]:
    """Three crates: two panels of three copies each, two in a crate."""
    cast.make_panel(panel.job, 2, copies=3)
    LetterSettings.objects.update_or_create(pk=1, defaults={"crate_panels": 2})
    return loads_of(panel.job).crates


def crate_labels(client: Client) -> bytes:
    answer = client.get(CRATES)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return bytes(answer.content)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_crates_have_the_masses_of_the_delivery_note(
    crates: list[CrateLoad], office_client: Client, units: str
) -> None:
    Studio.objects.update(units=units)
    paper = crate_labels(office_client)
    tags.assert_tagged(paper, "Crate labels 0412")
    words = tags.text(paper)
    note = tags.text(office_client.get("/papers/letters/0412/delivery/").content)
    assert len(crates) == 3
    for row in crates:
        mass = f"{row.kg:.1f} kg" if units == "mm" else f"{row.kg / Decimal('0.45359237'):.0f} lb"
        assert f"0412 crate {row.crate.number} of 3" in words
        assert f"{mass}, {row.people} people" in words
        assert f"{mass} {row.people}" in note
    assert "holds 1 (2 copies)" in words
    assert "holds 1, 2" in words
    assert "keep upright" in words
    assert [code.address for code in codes.codes(paper)] == ["http://testserver/jobs/0412/"] * 3


def test_crate_labels_stand_on_the_studios_sheet(crates: list[CrateLoad], office_client: Client) -> None:
    Studio.objects.update(labels="a4-24")
    assert tags.sizes_mm(crate_labels(office_client)) == {(210.0, 297.0)}
    Studio.objects.update(labels="letter-10")
    assert tags.sizes_mm(crate_labels(office_client)) == {(215.9, 279.4)}


def test_who_may_have_crate_labels_and_of_what(
    panel: Panel, office_client: Client, tablet_client: Client
) -> None:
    assert tablet_client.get(CRATES).status_code == 403
    assert office_client.post(CRATES).status_code == 405
    assert CRATES in office_client.get("/jobs/0412/").content.decode()
    Job.objects.update(stage=Stage.CANCELLED, closed_at=cast.at(3))
    assert "nothing of it is delivered" in office_client.get(CRATES, follow=True).content.decode()


def test_much_is_written_smaller_and_what_has_no_room_is_said() -> None:
    sheet = sheet_of(Studio(labels="a4-24"))
    steps = _steps(sheet)
    short = Label("0412/1", ["Light 1"], "http://studio.example/s/1/")
    assert _fitted(short, sheet, steps) == (short, 0)
    long = Label(
        "0412/1", ["Light 1", "ruby antique", "60 pieces: " + ", ".join(map(str, range(1, 120, 2)))], "x"
    )
    found, step = _fitted(long, sheet, steps)
    assert found == long
    assert 0 < step < len(steps)
    endless = Label("0412/1", ["word " * 400], "x")
    found, step = _fitted(endless, sheet, steps)
    assert step == len(steps) - 1
    assert found.lines[-1].endswith(" …")
    assert len(found.lines) < 20
