import numpy as np
import pytest

from jobs.estimating.linework import MOST_BYTES, DrawingRefused, Linework
from jobs.estimating.reading_svg import fills, read_svg
from tests.estimating.drawings import PAGE, drawing, lines


def box(found: Linework) -> list[float]:
    points = np.concatenate([path.points for path in found.paths])
    return [round(float(x), 3) for x in (*points.min(axis=0), *points.max(axis=0))]


@pytest.mark.parametrize(
    ("page", "mm", "known"),
    [
        ('width="100mm" height="50mm" viewBox="0 0 10 5"', 10, True),
        ('width="10cm" height="5cm" viewBox="0 0 10 5"', 10, True),
        ('width="10in" height="5in" viewBox="0 0 10 5"', 25.4, True),
        ('width="720pt" height="360pt" viewBox="0 0 10 5"', 25.4, True),
        ('width="960px" height="480px" viewBox="0 0 10 5"', 25.4, True),
        ('width="100mm" viewBox="0 0 10 5"', 10, True),
        ('width="100mm" height="100mm" viewBox="0 0 10 5"', 10, True),
        ('width="100mm" height="50mm"', 25.4 / 96, True),
        ('width="100" height="50" viewBox="0 0 10 5"', 25.4 / 96, False),
        ('width="100%" height="100%" viewBox="0 0 10 5"', 25.4 / 96, False),
        ("", 25.4 / 96, False),
    ],
)
def test_units(page: str, mm: float, known: bool) -> None:
    # 25.4 mm, 72 pt and 96 px to the inch: CSS Values and Units, level 4.
    found = lines('<line x2="10" y2="5"/>', page)
    assert box(found) == [0, 0, round(10 * mm, 3), round(5 * mm, 3)]
    assert found.units_known is known


def test_a_view_box_that_does_not_begin_at_nothing() -> None:
    found = lines('<line x1="5" y1="5" x2="15" y2="15"/>', 'width="100mm" height="100mm" viewBox="5 5 10 10"')
    assert box(found) == [0, 0, 100, 100]


def test_a_stretched_page_stretches_only_when_it_says_so() -> None:
    page = 'width="100mm" height="100mm" viewBox="0 0 10 5" preserveAspectRatio="none"'
    assert box(lines('<line x2="10" y2="5"/>', page)) == [0, 0, 100, 100]


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ('<line x1="1" y1="2" x2="3" y2="4"/>', [1, 2, 3, 4]),
        ('<polyline points="1,2 3,4 5,0"/>', [1, 0, 5, 4]),
        ('<polygon points="1 2 3 4 5 0"/>', [1, 0, 5, 4]),
        ('<rect x="1" y="2" width="3" height="4"/>', [1, 2, 4, 6]),
        ('<rect x="1" y="2" width="30" height="40" rx="5"/>', [1, 2, 31, 42]),
        ('<circle cx="5" cy="5" r="5"/>', [0, 0, 10, 10]),
        ('<ellipse cx="5" cy="5" rx="5" ry="2"/>', [0, 3, 10, 7]),
        ('<path d="M1 2H5V6z"/>', [1, 2, 5, 6]),
        ('<path d="m1 2h4v4l-4-4"/>', [1, 2, 5, 6]),
        ('<path d="M0 0A10 10 0 0 1 20 0"/>', [0, -10, 20, 0]),
        ('<path d="M0 0a10 10 0 0020 0"/>', [0, 0, 20, 10]),
        ('<path d="M0 0Q10 20 20 0"/>', [0, 0, 20, 10]),
        ('<path d="M0 0Q10 20 20 0T40 0"/>', [0, -10, 40, 10]),
        ('<path d="M0 0C0 20 20 20 20 0S40-20 40 0"/>', [0, -15, 40, 15]),
        ('<g transform="translate(10,20) scale(2)"><line x2="1" y2="1"/></g>', [10, 20, 12, 22]),
        ('<g transform="scale(-1,1)"><line x1="1" x2="2" y2="1"/></g>', [-2, 0, -1, 1]),
        ('<line x2="10" transform="rotate(90)"/>', [0, 0, 0, 10]),
        ('<defs><line id="a" x2="1"/></defs><use href="#a" x="5" y="6"/>', [5, 6, 6, 6]),
        ('<line x2="1"/><g style="display:none"><line x2="9"/></g>', [0, 0, 1, 0]),
        ('<line x2="1"/><defs><line x2="9"/></defs>', [0, 0, 1, 0]),
    ],
)
def test_shapes(body: str, expected: list[float]) -> None:
    assert box(lines(body)) == pytest.approx(expected, abs=0.031)


def test_an_arc_lies_where_a_reference_library_puts_it() -> None:
    import svgelements

    data = "M3 4 A 50 30 30 1 0 40 20"
    arc = list(svgelements.Path(data))[1]
    points = lines(f'<path d="{data}"/>').paths[0].points
    reference = [arc.point(t) for t in np.linspace(0, 1, len(points))]
    assert np.allclose(points, [[p.x, p.y] for p in reference], atol=1e-9)


def test_curves_are_remembered_and_straight_ones_are_straight() -> None:
    path = lines('<path d="M0 0 L10 0 C10 10 20 10 20 0 C23 0 27 0 30 0"/>').paths[0]
    assert path.curve[0] == 0
    assert path.curve[-1] == 0
    assert len(set(path.curve[1:-1])) == 1
    assert path.curve[1] != 0


@pytest.mark.parametrize(
    ("attribute", "fill"),
    [
        ('fill="red"', "#ff0000"),
        ('fill="#0f0"', "#00ff00"),
        ('style="fill:rgb(0,0,255);stroke:none"', "#0000ff"),
        ('class="b a"', "#aabbcc"),
        ('fill="none"', ""),
        ('fill="url(#wood)"', "pattern"),
        ("", "#000000"),
    ],
)
def test_fills(attribute: str, fill: str) -> None:
    style = "<style>/* glass */ .a, .c{fill:#abc} .d{stroke:red}</style>"
    assert lines(f'{style}<rect {attribute} width="1" height="1"/>').paths[0].fill == fill


def test_a_fill_is_inherited_and_an_open_line_has_none() -> None:
    found = lines('<g fill="red"><rect width="1" height="1"/><line x2="9"/></g>')
    assert [path.fill for path in found.paths] == ["#ff0000", ""]
    assert list(fills(found)) == ["#ff0000"]


def test_what_is_left_out_is_said() -> None:
    body = '<line x2="9"/><text>no</text><image href="http://studio.example/a.png"/><script>no()</script>'
    found = lines(body + '<use href="other.svg#a"/>')
    assert found.left_out == ("parts that lie elsewhere", "pictures", "scripts", "text")
    assert len(found.paths) == 1


def test_a_document_type_without_entities_is_let_pass() -> None:
    head = b'<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://studio.example/svg11.dtd">'
    assert read_svg(head + drawing('<line x2="9"/>')).segments == 1


FLOOD = "".join(f'<g id="a{i}">' + f'<use href="#a{i + 1}"/>' * 10 + "</g>" for i in range(20))
HOSTILE = {
    "too large": b" " * (MOST_BYTES + 1),
    "compressed": b"\x1f\x8b" + b"0" * 100,
    "empty": b"",
    "junk": b"\x00\x01" * 1000,
    "another document": b"<html><body/></html>",
    "cut off": drawing('<line x2="9"/>')[:-8],
    "unknown encoding": b'<?xml version="1.0" encoding="klingon"?><svg/>',
    "nothing in it": drawing(""),
    "entities": b'<!DOCTYPE svg [<!ENTITY a "b">]><svg>&a;</svg>',
    "outer entities": b'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]><svg>&a;</svg>',
    "parameter entities": b'<!DOCTYPE svg [<!ENTITY % a SYSTEM "http://studio.example/">%a;]><svg/>',
    "deep": drawing("<g>" * 100_000 + "</g>" * 100_000),
    "many elements": drawing("<g/>" * 100_001),
    "flood of clones": drawing(f'<defs>{FLOOD}</defs><use href="#a0"/>'),
    "a clone of itself": drawing('<g id="a"><use href="#a"/></g>'),
    "a million lines": drawing('<path d="M0 0' + "h1" * 1_000_000 + '"/>'),
    "a million points": drawing('<polyline points="' + "1 2 " * 1_000_000 + '"/>'),
    "a million closings": drawing('<path d="M0 0' + "z" * 1_000_000 + '"/>'),
    "not a number": drawing('<line x1="nan" x2="9"/>'),
    "not a number in a path": drawing('<path d="M nan 0 L 1 1"/>'),
    "not a number in points": drawing('<polyline points="0 0 nan 1"/>'),
    "endless": drawing('<line x1="1e999" x2="9"/>'),
    "endless in a path": drawing('<path d="M0 0L1e999 1"/>'),
    "endless curve": drawing('<path d="M0 0C1e200 1e200 1e300 1e300 1 1"/>'),
    "endless circle": drawing('<circle r="1e308"/>'),
    "endless transform": drawing('<line x2="9" transform="scale(1e300) scale(1e300)"/>'),
    "long transform": drawing(f'<line x2="9" transform="{"scale(1) " * 5000}"/>'),
    "far away": drawing('<line x2="300000"/>'),
    "path without a beginning": drawing('<path d="L1 1"/>'),
    "path cut off": drawing('<path d="M0 0L1"/>'),
    "numbers after a closing": drawing('<path d="M0 0L1 1z5 5"/>'),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_refused(name: str) -> None:
    with pytest.raises(DrawingRefused) as refusal:
        read_svg(HOSTILE[name])
    assert str(refusal.value).endswith(".")


def test_a_long_style_is_read_only_in_part() -> None:
    assert lines(f'<style>{"a{" * 500_000}</style><line x2="9"/>', PAGE).segments == 1


def test_a_scale_is_given_afterwards() -> None:
    found = lines('<line x2="96" y2="9.6"/>', "").scaled(2)
    assert box(found) == pytest.approx([0, 0, 50.8, 5.08])
    assert found.units_known


@pytest.mark.parametrize("factor", [0.0, -1.0, float("nan"), float("inf"), 1e5])
def test_a_scale_that_cannot_be_is_refused(factor: float) -> None:
    with pytest.raises(DrawingRefused):
        lines('<line x2="9600"/>', "").scaled(factor)
