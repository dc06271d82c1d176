"""Whatever is handed to a parser, it gives what it says it gives, or refuses with the error that it says it raises."""

import json
from collections.abc import Callable
from decimal import Decimal
from random import Random
from typing import Any
from uuid import UUID

import pytest
from django.db import transaction

from jobs.actions import Actor
from jobs.actions.imports import NEEDED, OPTIONAL, ImportRefused, import_jobs
from jobs.actions.panels import check_panel
from jobs.estimating.drawn import Answers, measure_with
from jobs.estimating.hours import HoursError, format_hours, parse_hours
from jobs.estimating.lengths import LARGEST_MM, LengthError, format_length, parse_length
from jobs.estimating.linework import DrawingRefused, Linework
from jobs.estimating.reading_dxf import read_dxf
from jobs.estimating.reading_svg import read_svg
from jobs.estimating.takeoff import Came
from jobs.forms.outbox import BadBatch, Sent, Unreadable, read_batch
from jobs.models import Customer, Event, Job, Operation, Panel
from tests import cast
from tests.fuzz.cases import cases, damaged, noise, odd, pieced
from tests.rows import writes

CAME = Came("H 6 mm", face_mm=6, heart_mm=1.6)
LENGTHS = [*"0123456789", "24", "1/2", " ", " ", "-", "/", ".", ",", "in", '"', "'", "ft", "mm", "cm", "m"]
LENGTHS += ["½", "”", "⁄", "٣", "x"]


@cases(2000)
def test_a_length(random: Random) -> None:
    text = pieced(random, LENGTHS, 9) if random.random() < 0.8 else odd(random)
    try:
        found = parse_length(text, random.choice(["in", "mm"]))
    except LengthError as refused:
        assert str(refused), repr(text)
        return
    assert Decimal(0) < found <= LARGEST_MM, repr(text)
    assert found == found.quantize(Decimal("0.01")), repr(text)
    # What is shown of it is read as a length again, no further from it than it was rounded.
    for shown_in, step in (("mm", Decimal("0.05")), ("in", Decimal("25.4") / 32)):
        shown = format_length(found, shown_in)
        # What is longer than 20 m by its rounding, and what is rounded to nothing, is no length that may be typed.
        if not shown.startswith("0 ") and found + step <= LARGEST_MM:
            assert abs(parse_length(shown, shown_in) - found) <= step + Decimal("0.01"), repr(text)


TIMES = [*"0123456789", ":", ".", ",", "h", " ", "min", "½", "٣", "-"]


@cases(1000)
def test_an_amount_of_time(random: Random) -> None:
    text = pieced(random, TIMES, 8) if random.random() < 0.8 else odd(random)
    try:
        found = parse_hours(text)
    except HoursError as refused:
        assert str(refused), repr(text)
        return
    assert found >= 0, repr(text)
    assert parse_hours(format_hours(found, "clock")) == found, repr(text)


CELLS = [
    "A-1",
    "A-2",
    "",
    "Hall window",
    "Parish",
    "Light",
    "Beveled window",
    "24 1/2 in",
    "622 mm",
    "0",
    "24",
]
CELLS += ["2030-06-28", "2030-02-31", '"', '""', "a;b", "ü", "4:30", "x" * 200, "\u202e", "-3", "1"]
COLUMNS = [*NEEDED, *OPTIONAL, "hours: cutting", "hours: nothing", "other", ""]


def a_list(random: Random) -> bytes:
    """A list of jobs as it might come: mostly with the right columns, and with cells that may be anything."""
    header = (
        [*NEEDED, *OPTIONAL] if random.random() < 0.6 else random.choices(COLUMNS, k=random.randint(0, 12))
    )
    rows = [
        [random.choice(CELLS) if random.random() < 0.8 else odd(random) for _ in range(len(header))]
        for _ in range(random.randint(0, 4))
    ]
    mark, end = random.choice([",", ";", "\t"]), random.choice(["\n", "\r\n", "\r"])
    encoding = random.choice(["utf-8", "utf-8-sig", "utf-16", "latin-1"])
    return end.join(mark.join(row) for row in [header, *rows]).encode(encoding, "replace")


def a_right_list(random: Random) -> bytes:
    """A list that is right but for one cell, so that what is refused late is met as well."""
    lines = [
        [random.choice(["A-1", "A-2"]), "Hall", "Parish", f"Light {n}", "24 1/2 in", "622 mm"]
        for n in range(random.randint(1, 3))
    ]
    if random.random() < 0.8:
        cell = random.choice(CELLS) if random.random() < 0.5 else odd(random)
        random.choice(lines)[random.randint(0, 5)] = cell.replace(",", "")
    return "\n".join(",".join(row) for row in [list(NEEDED), *lines]).encode("utf-8", "replace")


def rows_of_jobs() -> int:
    return sum(model.objects.count() for model in (Job, Panel, Operation, Customer, Event))


@pytest.mark.usefixtures("shop")
@cases(100)
def test_a_list_of_jobs(random: Random) -> None:
    """All of it is taken, or nothing."""
    data = random.choice([a_right_list, a_list, noise])(random)
    before = rows_of_jobs()
    with transaction.atomic(), writes() as written:
        try:
            made = import_jobs(data, by=Actor(), at=cast.at(2))
        except ImportRefused as refused:
            assert refused.faults, data
            assert all(str(fault) for fault in refused.faults), data
            assert not written or rows_of_jobs() == before, data
            return
        assert made, data
        for job in made:
            for row in job.panels.all():
                check_panel(row.name, row.width_mm, row.height_mm, row.thickness_mm, row.pieces, row.copies)
        transaction.set_rollback(True)


def read_and_measure(read: Callable[[bytes], Linework], data: bytes) -> None:
    try:
        lines = read(data)
        assert lines.paths, data
        measure_with(lines, CAME, Answers(panel_width_mm=600, panel_height_mm=900))
    except DrawingRefused as refused:
        assert str(refused), data


NUMBERS = ["0", "1", "10", "-5", "1e3", "600", "900", "0.5", "1e308", "-1e308", "1e-300", "nan", "9" * 400]
NUMBERS += ["%", "10mm", ".", "--", "300", "450", "90"]
SHAPES = [
    '<rect x="{}" y="{}" width="{}" height="{}"/>',
    '<rect width="{}" height="{}" rx="{}" ry="{}" fill="red"/>',
    '<circle cx="{}" cy="{}" r="{}"/>',
    '<ellipse cx="{}" rx="{}" ry="{}" style="fill:{}"/>',
    '<line x1="{}" y1="{}" x2="{}" y2="{}"/>',
    '<polygon points="{} {},{} {}"/>',
    '<path d="M{} {}L{} {}z"/>',
    '<path d="m{} {}c1,2,3,4,{},{}"/>',
    '<path d="M0 0A{} {} {} 1 0 {} 9"/>',
    '<path d="{}{}{}"/>',
    '<g transform="scale({},{}) rotate({})">',
    '<g transform="matrix({} {} {} {} 0 0)">',
    '<svg x="{}" viewBox="0 0 {} {}">',
    "</g>",
    '<use href="#a" x="{}"/>',
    '<g id="a"><use href="#a"/></g>',
    "<style>.a!fill:{}?</style>",
    '<!ENTITY a "b">',
    "<text>{}</text>",
    "&#0;",
    "<",
]
PAGES = [
    'width="600mm" height="900mm" viewBox="0 0 600 900"',
    'width="{}" height="{}"',
    'viewBox="0 0 {} {}"',
    "",
]


def filled(random: Random, template: str) -> str:
    """The template with numbers for its gaps, most of them plain ones."""
    while "{}" in template:
        number = str(random.randint(0, 600)) if random.random() < 0.6 else random.choice(NUMBERS)
        template = template.replace("{}", number, 1)
    return template


def an_svg(random: Random) -> bytes:
    body = "".join(filled(random, random.choice(SHAPES)) for _ in range(random.randint(0, 5)))
    page = filled(random, random.choice(PAGES))
    closed = random.choice(["</svg>", "</g></svg>", "</svg>", ""])
    return f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{body}{closed}'.encode()


WHOLE_SVG = cast.LATTICE.encode()


@cases(300)
def test_an_svg_drawing(random: Random) -> None:
    chance = random.random()
    data = an_svg(random) if chance < 0.6 else damaged(random, WHOLE_SVG) if chance < 0.9 else noise(random)
    read_and_measure(read_svg, data)


ENTITIES: list[dict[int, str]] = [
    {0: "LINE", 10: "0", 20: "0", 11: "10", 21: "5"},
    {0: "CIRCLE", 10: "5", 20: "5", 40: "3"},
    {0: "ARC", 10: "5", 20: "5", 40: "3", 50: "0", 51: "90"},
    {0: "POLYLINE", 66: "1", 70: "1"},
    {0: "VERTEX", 10: "5", 20: "5", 42: "1"},
    {0: "SEQEND"},
    {0: "LWPOLYLINE", 90: "2", 70: "1", 10: "5", 20: "5", 42: "1"},
    {0: "ELLIPSE", 10: "5", 20: "5", 11: "3", 21: "1", 40: "0.5", 41: "0", 42: "6"},
    {0: "SPLINE", 71: "3", 72: "8", 73: "4", 40: "0", 10: "5", 20: "5"},
    {0: "INSERT", 2: "B", 10: "5", 20: "5", 41: "2", 42: "0", 70: "3", 44: "1"},
    {0: "HATCH", 91: "1", 92: "1", 72: "0"},
    {0: "TEXT", 1: "a", 10: "5"},
    {0: "XYZ", 10: "5"},
]
VALUES = ["0", "1", "-1", "10", "3.5", "1e308", "-1e308", "1e-320", "nan", "inf", "9" * 30, "", "x", "A", "B"]
VALUES += ["%%u", "2147483648"]
HEAD = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\n{}\n9\n$INSUNITS\n70\n{}\n0\nENDSEC\n"
BLOCK = "0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n8\n0\n2\nB\n70\n0\n10\n0\n20\n0\n3\nB\n{}0\nENDBLK\n0\nENDSEC\n"
BEGIN, END = "0\nSECTION\n2\nENTITIES\n", "0\nENDSEC\n0\nEOF\n"


def as_dxf(row: dict[int, str]) -> str:
    return "".join(f"{code}\n{value}\n" for code, value in {**row, 8: "0"}.items())


def a_dxf(random: Random) -> bytes:
    drawn = []
    for _ in range(random.randint(0, 4)):
        row = dict(random.choice(ENTITIES))
        for _ in range(random.choice((0, 0, 1, 2))):
            row[random.choice(list(row))] = random.choice(VALUES)
        drawn.append(as_dxf(row))
    version = random.choice(["AC1009", "AC1009", "AC1015", "AC1032", "AC9999", "x"])
    units = random.choice(["4", "1", "0", "99", "-1", "x", "1e400", ""])
    head = HEAD.replace("{}", version, 1).replace("{}", units)
    block = BLOCK.replace("{}", "".join(drawn[:1])) if random.random() < 0.3 else ""
    end = random.choice([END, END, "0\nENDSEC\n", ""])
    return f"{head}{block}{BEGIN}{''.join(drawn)}{end}".encode()


WHOLE_HEAD = HEAD.replace("{}", "AC1009", 1).replace("{}", "4")
WHOLE_DXF = (WHOLE_HEAD + BEGIN + "".join(map(as_dxf, ENTITIES[:3])) + END).encode()


@cases(200)
def test_a_dxf_drawing(random: Random) -> None:
    chance = random.random()
    mess = b"0\nSECTION\n" + noise(random)
    read_and_measure(
        read_dxf, a_dxf(random) if chance < 0.6 else damaged(random, WHOLE_DXF) if chance < 0.9 else mess
    )


ID = "7a3f9c52-6d1e-4b8a-9f00-12c4d5e6f708"
FIELDS: dict[str, Any] = {
    "id": ID,
    "verb": "start",
    "pk": 1,
    "at": 1_772_000_000_000,
    "who": "",
    "fields": {},
}
LEAVES: list[Any] = [
    None,
    True,
    False,
    0,
    1,
    -1,
    2**63,
    10**400,
    1.5,
    float("nan"),
    float("inf"),
    ID,
    "start",
    "hold",
]
LEAVES += [1_772_000_000_000, 10**18, [], {}, [[]]]


def leaf(random: Random) -> Any:
    return random.choice(LEAVES) if random.random() < 0.6 else odd(random)


def an_item(random: Random) -> Any:
    """An item as a tablet sends it, with some of what it holds changed or left out."""
    item = {**FIELDS, "fields": {odd(random): leaf(random)} if random.random() < 0.3 else {"note": "a"}}
    for name in random.sample(sorted(FIELDS), random.choice((0, 0, 1, 2))):
        item[name] = leaf(random) if random.random() < 0.8 else {odd(random): leaf(random)}
    if random.random() < 0.1:
        del item[random.choice(sorted(item))]
    return item


def a_batch(random: Random) -> bytes:
    some = [an_item(random) if random.random() < 0.9 else leaf(random) for _ in range(random.randint(0, 3))]
    whole = (
        {"items": some}
        if random.random() < 0.8
        else random.choice([some, {"items": {"a": some}}, {}, "items"])
    )
    data = json.dumps(whole).encode()
    return data if random.random() < 0.8 else damaged(random, data)


@cases(1000)
def test_an_outbox_batch(random: Random) -> None:
    chance = random.random()
    data = (
        a_batch(random)
        if chance < 0.9
        else noise(random)
        if chance < 0.99
        else b"[" * random.randint(1, 3000)
    )
    try:
        found = read_batch(data)
    except BadBatch as refused:
        assert str(refused), data
        return
    for item in found:
        match item:
            case Sent():
                assert isinstance(item.id, UUID), data
                assert 0 <= item.pk < 2**63, data
                assert all(isinstance(text, str) for pair in item.fields.items() for text in pair), data
                json.dumps(item.fields).encode()
            case Unreadable():
                assert item.sentence, data
