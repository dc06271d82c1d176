"""Patterns: uploaded, asked about, given their glass, accepted or taken back; and takeoffs by hand."""

import gzip
from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from jobs.actions import Actor, Refused, patterns, takeoffs
from jobs.actions.pattern_glass import thickness_to_come
from jobs.estimating.linework import MOST_BYTES
from jobs.models import Account, Came, Event, Glass, Job, Panel, Pattern, Takeoff
from tests import cast
from tests.cast import at

NOW: datetime = at(3)
# The lattice without any unit, at 1 unit to the millimeter.
NO_UNITS = cast.LATTICE.replace('width="600mm" height="900mm" ', "")
# Two panes with 2 mm between them.
APART = """<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="900mm" viewBox="0 0 600 900">
<rect width="299" height="900" fill="#a83a45"/><rect x="301" width="299" height="900" fill="#4f78b5"/></svg>"""


@pytest.fixture
def panel(shop: None) -> Panel:
    cast.make_glass()
    return cast.make_panel(cast.make_job())


@pytest.fixture
def nora(lead: Account) -> dict[str, Any]:
    return {"by": Actor(account=lead), "at": NOW}


def upload(panel: Panel, drawing: str | bytes, nora: dict[str, Any], **values: Any) -> Pattern:
    data = drawing if isinstance(drawing, bytes) else drawing.encode()
    return patterns.upload_pattern(panel, "hall.svg", data, **nora, **values)


def kinds(row: Pattern) -> list[str]:
    return [fault["kind"] for fault in row.faults]


def refused(call: Any, words: str, field: str | None = None) -> None:
    with pytest.raises(Refused, match=words) as caught:
        call()
    assert caught.value.field == field


# Upload


def test_a_drawing_is_measured_and_kept_as_our_own_shapes(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)
    row.refresh_from_db()
    assert (row.version, row.file_name, row.faults) == (1, "hall.svg", [])
    # Four panes of 300 x 450 mm; cut half a heart of 1.6 mm smaller on every side: 298.4 x 448.4.
    assert [(p["cut_width"], p["cut_height"]) for p in row.measured["pieces"]] == [(298.4, 448.4)] * 4
    # The border is 2 (600 + 900), the cross 600 + 900; joints: 4 corners, 4 ends, 1 crossing.
    assert (row.measured["border_mm"], row.measured["inner_mm"], row.measured["joints"]) == (3000, 1500, 9)
    assert row.came.profile == "H 6 mm"
    assert row.border.profile == "H 10 mm border"
    assert Event.objects.get(verb="uploaded").after["pieces"] == 4
    assert Panel.objects.get(pk=panel.pk).drawing is None


def test_colors_that_are_a_glass_s_own_are_known(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)
    names = {fill: Glass.objects.get(pk=said["glass"]).name for fill, said in row.fills.items()}
    assert names == {"#a83a45": "Red", "#4f78b5": "Blue"}


def test_a_later_drawing_keeps_what_was_said_of_the_one_before(panel: Panel, nora: dict[str, Any]) -> None:
    first = upload(panel, cast.LATTICE, nora)
    plate = Glass.objects.get(name="Clear plate")
    said = {fill: patterns.Fill(plate, True, Decimal(19)) for fill in first.fills}
    patterns.map_fills(first, said, **nora)
    second = upload(panel, cast.LATTICE, nora)
    assert second.version == 2
    assert second.fills == {fill: {"glass": plate.pk, "beveled": True, "bevel_mm": "19"} for fill in said}


def test_a_dxf_is_read_as_well(panel: Panel, nora: dict[str, Any]) -> None:
    import io

    import ezdxf

    document = ezdxf.new(units=1)
    document.modelspace().add_lwpolyline([(0, 0), (24, 0), (24, 36), (0, 36)], close=True)
    text = io.StringIO()
    document.write(text)
    row = upload(panel, text.getvalue(), nora)
    # 24 x 36 in.
    assert (row.measured["width"], row.measured["height"]) == (609.6, 914.4)
    assert kinds(row) == ["scale"]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "neither an SVG nor a DXF"),
        (b"%PDF-1.7", "neither an SVG nor a DXF"),
        (b"<svg><g></svg>", "damaged"),
        (b"<html></html>", "not an SVG drawing"),
        (b'<!DOCTYPE s [<!ENTITY a "b">]><svg>&a;</svg>', "entities"),
        (gzip.compress(cast.LATTICE.encode()), "compressed"),
        (b'<svg><rect width="1e400" height="9"/></svg>', "nowhere|not a number"),
        (b'<svg><path d="M0 0 L nan 3"/></svg>', "cannot be read"),
        (b'<svg><text x="1">hello</text></svg>', "no line"),
        (b"<svg>" + b"<g>" * 500 + b"</g>" * 500 + b"</svg>", "too deep"),
        (b" " * (MOST_BYTES + 1), "larger than 10 MB"),
        (b"0\nSECTION\n2\nENTITIES\n", "damaged|no line"),
    ],
)
def test_what_is_no_drawing_is_refused_and_nothing_kept(
    panel: Panel, nora: dict[str, Any], data: bytes, words: str
) -> None:
    refused(lambda: upload(panel, data, nora), words, "file")
    assert not Pattern.objects.exists()
    assert not Event.objects.filter(subject="pattern").exists()


def test_nothing_of_the_file_itself_is_kept(panel: Panel, nora: dict[str, Any]) -> None:
    mark = '<script>alert("mark")</script><image href="http://mark.example/x.png"/></svg>'
    row = upload(panel, cast.LATTICE.replace("</svg>", mark), nora)
    kept = Pattern.objects.filter(pk=row.pk).values().get()
    assert "mark" not in str(kept)
    assert row.lines["left_out"] == ["pictures", "scripts"]


def test_a_name_of_a_file_is_cut_to_what_can_be_shown(panel: Panel, nora: dict[str, Any]) -> None:
    row = patterns.upload_pattern(panel, "a\x00\n" + "b" * 200 + ".svg", cast.LATTICE.encode(), **nora)
    assert row.file_name == "b" * 116 + ".svg"
    nameless = patterns.upload_pattern(panel, "\n", cast.LATTICE.encode(), **nora)
    assert nameless.file_name == "drawing"


def test_too_many_colors(panel: Panel, nora: dict[str, Any]) -> None:
    shapes = "".join(f'<rect x="{n * 5}" width="5" height="900" fill="#0000{n:02x}"/>' for n in range(61))
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" viewBox="0 0 600 900">'
    refused(lambda: upload(panel, head + shapes + "</svg>", nora), "61 colors", "file")


def test_a_closed_job_a_studio_without_came_and_nobody(panel: Panel, nora: dict[str, Any]) -> None:
    refused(lambda: patterns.upload_pattern(panel, "a", cast.LATTICE.encode(), by=Actor(), at=NOW), "office")
    Job.objects.update(stage="complete")
    refused(lambda: upload(panel, cast.LATTICE, nora), "complete")
    Came.objects.all().delete()
    refused(lambda: upload(panel, cast.LATTICE, nora), "no came yet", "came")


# Questions


def answers(row: Pattern, **values: Any) -> patterns.Answers:
    given: dict[str, Any] = {"came": row.came, "border": row.border}
    return patterns.Answers(**given | values)


def test_units_are_asked_for_and_then_measured_by(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, NO_UNITS, nora)
    assert kinds(row) == ["units"]
    refused(lambda: patterns.accept_pattern(row, anyway=True, **nora), "does not say its units")
    row = patterns.answer_pattern(row, answers(row, drawn_width_mm=Decimal(600)), **nora)
    assert row.faults == []
    assert (row.measured["width"], row.measured["height"]) == (600, 900)
    assert Event.objects.get(verb="measured anew").after["drawn_width_mm"] == "600"


def test_the_scale_is_asked_for_above_one_percent(panel: Panel, nora: dict[str, Any]) -> None:
    Panel.objects.update(width_mm=606, height_mm=909)
    panel.refresh_from_db()
    assert kinds(upload(panel, cast.LATTICE, nora)) == []
    Panel.objects.update(width_mm=630, height_mm=945)
    panel.refresh_from_db()
    row = upload(panel, cast.LATTICE, nora)
    assert kinds(row) == ["scale"]
    refused(lambda: patterns.accept_pattern(row, **nora), "Which is right")


def test_the_panel_is_right(panel: Panel, nora: dict[str, Any]) -> None:
    Panel.objects.update(width_mm=630, height_mm=945)
    panel.refresh_from_db()
    row = upload(panel, cast.LATTICE, nora)
    row = patterns.answer_pattern(row, answers(row, scale="panel"), **nora)
    assert row.faults == []
    assert (row.measured["width"], row.measured["scale"]) == (630, pytest.approx(1.05))
    patterns.accept_pattern(row, **nora)
    panel.refresh_from_db()
    assert (panel.width_mm, panel.height_mm) == (630, 945)


def test_the_drawing_is_right(panel: Panel, nora: dict[str, Any]) -> None:
    Panel.objects.update(width_mm=630, height_mm=800)
    panel.refresh_from_db()
    row = upload(panel, cast.LATTICE, nora)
    # At the panel's width the height is another still.
    row = patterns.answer_pattern(row, answers(row, scale="panel"), **nora)
    assert kinds(row) == ["scale"]
    row = patterns.answer_pattern(row, answers(row, scale="drawing"), **nora)
    patterns.accept_pattern(row, **nora)
    panel.refresh_from_db()
    assert (panel.width_mm, panel.height_mm) == (600, 900)


def test_gaps_are_shown_and_closed_below_a_tolerance(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, APART, nora)
    assert kinds(row) == ["gap"]
    assert row.faults[0]["x"] == pytest.approx(300, abs=0.1)
    row = patterns.answer_pattern(row, answers(row, close_below_mm=Decimal("2.5")), **nora)
    assert row.faults == []
    assert row.measured["inner_mm"] == pytest.approx(900, abs=0.1)


def test_answers_that_cannot_be(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)

    def answer(**values: Any) -> Any:
        return lambda: patterns.answer_pattern(row, answers(row, **values), **nora)

    refused(answer(close_below_mm=Decimal(11)), "up to 0.39 in", "close_below_mm")
    refused(answer(drawn_width_mm=Decimal(0)), "at most 20 m", "drawn_width_mm")
    refused(answer(scale="neither"), "is right", "scale")
    bare = upload(panel, NO_UNITS.replace("<rect ", '<rect x="0" ', 1), nora)
    thin = Decimal("0.0001")
    refused(lambda: patterns.answer_pattern(bare, answers(bare, drawn_width_mm=thin), **nora), "no scale")
    Came.objects.filter(profile="H 6 mm").update(heart_mm=3)
    wider = Came.objects.get(profile="H 6 mm")
    again = patterns.answer_pattern(bare, answers(bare, came=wider, drawn_width_mm=Decimal(600)), **nora)
    assert again.measured["pieces"][0]["cut_width"] == 297


# Glass


def test_glass_is_said_of_every_color(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)
    plate = Glass.objects.get(name="Clear plate")
    one = {"#a83a45": patterns.Fill(plate, True, Decimal(25))}
    refused(lambda: patterns.map_fills(row, one, **nora), "each color")
    wide = {fill: patterns.Fill(plate, True, Decimal(300)) for fill in row.fills}
    refused(lambda: patterns.map_fills(row, wide, **nora), "at most 7 7/8 in")
    Pattern.objects.update(fills={})
    row.refresh_from_db()
    refused(lambda: patterns.accept_pattern(row, **nora), "first which glass")


def test_a_glass_that_is_gone(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)
    Glass.objects.filter(name="Red").delete()
    refused(lambda: patterns.accept_pattern(row, **nora), "not there any more")


# Acceptance


def test_accepted_it_is_the_panel_s_drawing_pieces_and_takeoff(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)
    plate, blue = Glass.objects.get(name="Clear plate"), Glass.objects.get(name="Blue")
    said = {
        "#a83a45": patterns.Fill(plate, True, Decimal("25.4")),
        "#4f78b5": patterns.Fill(blue, False, Decimal(25)),
    }
    patterns.map_fills(row, said, **nora)
    row.refresh_from_db()
    taken = patterns.accept_pattern(row, **nora)
    panel.refresh_from_db()
    # Half of it is plate, half of it thin; a tie goes to the thicker one.
    assert (panel.pieces, panel.thickness_mm) == (4, Decimal("6.35"))
    assert cast.operation_of(panel, "Cutting").quantity == 4
    assert panel.drawing is not None
    first = panel.drawing["pieces"][0]
    assert (first["number"], first["glass"], first["beveled"]) == (1, "Clear plate", True)
    assert sorted(first["points"]) == [[0, 0], [0, 450], [300, 0], [300, 450]]
    numbers = takeoffs.current_takeoff(panel)
    assert numbers is not None
    assert (taken.version, taken.source, taken.pattern) == (1, "pattern", row)
    # Two panes of 298.4 x 448.4 mm beveled all round, two of blue.
    assert numbers.beveled_mm == {(6.35, 25.4): pytest.approx(2 * 2 * (298.4 + 448.4))}
    assert numbers.glass_mm2["Blue"] == pytest.approx(2 * 298.4 * 448.4)
    assert numbers.came_mm == {"H 10 mm border": pytest.approx(3000), "H 6 mm": pytest.approx(1500)}
    row.refresh_from_db()
    assert (row.accepted_at, row.accepted_by) == (NOW, nora["by"].account)


def test_another_thickness_is_told_beforehand_and_written_down(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)
    blue = Glass.objects.get(name="Blue")
    patterns.map_fills(row, {fill: patterns.Fill(blue, False, Decimal(25)) for fill in row.fills}, **nora)
    row.refresh_from_db()
    assert panel.thickness_mm != blue.thickness_mm
    assert thickness_to_come(row) == blue.thickness_mm
    patterns.accept_pattern(row, **nora)
    event = Event.objects.get(subject="pattern", verb="accepted")
    told = event.before["thickness_mm"], event.after["thickness_mm"]
    assert [Decimal(value) for value in told] == [panel.thickness_mm, blue.thickness_mm]
    panel.refresh_from_db()
    assert panel.thickness_mm == blue.thickness_mm


def test_no_thickness_is_told_while_a_glass_is_not_said(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)
    row.fills = dict(list(row.fills.items())[:1])
    assert thickness_to_come(row) is None


def test_accepted_it_is_changed_no_more(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)
    patterns.accept_pattern(row, **nora)
    for call in (
        lambda: patterns.accept_pattern(row, **nora),
        lambda: patterns.answer_pattern(row, answers(row), **nora),
        lambda: patterns.map_fills(row, {}, **nora),
        lambda: patterns.take_back(row, **nora),
    ):
        refused(call, "is accepted")


def test_a_later_pattern_is_the_one_to_accept(panel: Panel, nora: dict[str, Any]) -> None:
    first = upload(panel, cast.LATTICE, nora)
    second = upload(panel, cast.LATTICE, nora)
    refused(lambda: patterns.accept_pattern(first, **nora), "later pattern")
    patterns.take_back(second, **nora)
    refused(lambda: patterns.accept_pattern(second, **nora), "taken back")
    assert patterns.accept_pattern(first, **nora).version == 1
    assert Event.objects.filter(verb="taken back").count() == 1


def test_faults_may_be_let_pass(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, APART, nora)
    refused(lambda: patterns.accept_pattern(row, **nora), "1 fault is still", "anyway")
    assert not Takeoff.objects.exists()
    patterns.accept_pattern(row, anyway=True, **nora)
    assert Event.objects.get(verb="accepted").after["faults let pass"] == 1


def test_an_empty_drawing_is_never_accepted(panel: Panel, nora: dict[str, Any]) -> None:
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="900mm" viewBox="0 0 600 900">'
    row = upload(panel, head + '<path fill="none" d="M0 0L600 0L600 900"/></svg>', nora)
    assert "empty" in kinds(row)
    refused(lambda: patterns.accept_pattern(row, anyway=True, **nora), "no piece")


def test_changed_meanwhile(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)
    stale = Pattern.objects.select_related("panel__job", "came", "border").get(pk=row.pk)
    patterns.answer_pattern(row, answers(row, close_below_mm=Decimal(1)), **nora)
    refused(lambda: patterns.accept_pattern(stale, **nora), "meanwhile")


def test_more_pieces_are_done_than_the_drawing_has(panel: Panel, nora: dict[str, Any]) -> None:
    cutting = cast.operation_of(panel, "Cutting")
    cutting.quantity_done = 9
    cutting.save()
    row = upload(panel, cast.LATTICE, nora)
    refused(lambda: patterns.accept_pattern(row, **nora), "done already", "pieces")
    assert not Takeoff.objects.exists()
    row.refresh_from_db()
    assert row.accepted_at is None


def test_accepted_with_its_hours(panel: Panel, nora: dict[str, Any]) -> None:
    row = upload(panel, cast.LATTICE, nora)
    cutting, assembly = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Assembly")
    assembly.started_at = at(2)
    assembly.save()
    patterns.accept_pattern(row, hours=True, **nora)
    cutting.refresh_from_db()
    assembly.refresh_from_db()
    # By the default rates (common practice, no published source): 45 minutes and 6.3 for each of four pieces.
    assert cutting.estimate == 70
    # What has begun keeps its estimate.
    assert assembly.estimate == 240
    assert Event.objects.filter(verb="estimated anew", subject_id=cutting.pk).exists()


def test_accepted_without_its_hours(panel: Panel, nora: dict[str, Any]) -> None:
    patterns.accept_pattern(upload(panel, cast.LATTICE, nora), **nora)
    assert cast.operation_of(panel, "Cutting").estimate == 90


# Takeoffs by hand


def quantities(**values: Any) -> takeoffs.Quantities:
    inner, border = takeoffs.default_cames()
    return takeoffs.Quantities(inner=inner, border=border, **values)


def test_a_takeoff_by_hand(panel: Panel, nora: dict[str, Any]) -> None:
    assert takeoffs.current_takeoff(panel) is None
    plate = Glass.objects.get(name="Clear plate")
    given = quantities(
        inner_mm=4000.0,
        border_mm=3000.0,
        joints=22,
        bevels=[(6.35, 25.4, 5000.0), (6.35, 25.4, 1000.0)],
        carved=[(2.0, 10_000.0)],
        glasses=[(plate, 500_000.0)],
    )
    row = takeoffs.set_takeoff(panel, given, **nora)
    numbers = takeoffs.current_takeoff(panel)
    assert numbers is not None
    assert (row.source, row.pattern, numbers.pieces) == ("hand", None, 10)
    assert numbers.beveled_mm == {(6.35, 25.4): 6000.0}
    # 0.5 m2 of 6.35 mm at 2500 kg/m3 (EN 572-1, from memory) is 7.94 kg; 4 m and 3 m of came come to it.
    assert numbers.mass_kg == pytest.approx(7.9375 + 4 * 0.254 + 3 * 0.363, abs=0.01)
    takeoffs.set_takeoff(panel, quantities(), **nora)
    assert [t.version for t in panel.takeoffs.all()] == [1, 2]


def test_a_takeoff_that_cannot_be(panel: Panel, nora: dict[str, Any]) -> None:
    plate = Glass.objects.get(name="Clear plate")
    over = quantities(glasses=[(plate, 5_000_000.0)])
    refused(lambda: takeoffs.set_takeoff(panel, over, **nora), "more glass than the panel has room for")
    refused(lambda: takeoffs.set_takeoff(panel, quantities(hard_pieces=11), **nora), "hard to cut")
    assert not Takeoff.objects.exists()


def test_what_is_proposed_is_of_the_usual_glass_and_came(panel: Panel) -> None:
    # 10 square pieces in 600 x 900 mm: 2 (10 - 1) + 4 joints.
    proposed = takeoffs.proposed_takeoff(panel)
    assert (proposed.pieces, proposed.joints, proposed.border_mm) == (10, 22, 3000)
    assert list(proposed.glass_mm2) == ["Clear plate"]
    assert list(proposed.beveled_mm) == [(6.35, 25.4)]


def test_what_is_carved_is_kept_from_the_takeoff_before(panel: Panel, nora: dict[str, Any]) -> None:
    takeoffs.set_takeoff(panel, quantities(carved=[(3.0, 20_000.0)]), **nora)
    patterns.accept_pattern(upload(panel, cast.LATTICE, nora), **nora)
    now = takeoffs.current_takeoff(panel)
    assert now is not None
    assert now.carved_mm2 == {3.0: 20_000.0}


def test_the_panel_is_as_thick_as_most_of_its_glass(panel: Panel, nora: dict[str, Any]) -> None:
    patterns.accept_pattern(upload(panel, cast.LATTICE, nora), **nora)
    panel.refresh_from_db()
    assert panel.thickness_mm == 3
