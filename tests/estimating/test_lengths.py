"""Lengths as they are typed. An inch is 25.4 mm exactly (international yard and pound agreement, 1959)."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.estimating.lengths import LengthError, format_length, format_size, in_units, parse_length


@pytest.mark.parametrize(
    ("text", "millimeters"),
    [
        ("24 1/2 in", "622.30"),
        ('24.5"', "622.30"),
        ("24,5”", "622.30"),
        ("24½ in", "622.30"),
        ("24-1/2", "622.30"),
        ("1/16", "1.59"),
        ("622 mm", "622.00"),
        ("62.2cm", "622.00"),
        ("0.622 m", "622.00"),
        ("2' 1/2\"", "622.30"),
        ("2 ft", "609.60"),
        ("3/4 in", "19.05"),
        (" 36 ", "914.40"),
    ],
)
def test_inches_fractions_and_metric(text: str, millimeters: str) -> None:
    assert parse_length(text, "in") == Decimal(millimeters)


def test_a_bare_number_is_in_the_unit_of_the_studio() -> None:
    assert parse_length("622", "mm") == Decimal("622.00")
    assert parse_length("24.5", "in") == Decimal("622.30")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "wide",
        "24 1/0 in",
        "-3 in",
        "0",
        "24 in 3 ft",
        "24 in 24 in",
        "1e9",
        "nan",
        "9000 ft",
        "3//4",
        "1" * 60,
    ],
)
def test_what_is_not_a_length_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(LengthError) as refused:
        parse_length(text, "in")
    assert str(refused.value).endswith(".")


@given(st.integers(1, 12000))
def test_sixteenths_of_an_inch_come_back_as_they_were(sixteenths: int) -> None:
    length = (Decimal(sixteenths) * Decimal("25.4") / 16).quantize(Decimal("0.01"))
    assert parse_length(format_length(length, "in"), "in") == pytest.approx(length, abs=Decimal("0.01"))


@given(st.text(max_size=30))
def test_any_text_is_a_length_or_a_sentence(text: str) -> None:
    try:
        assert Decimal(0) < parse_length(text, "in") <= 20000
    except LengthError as refused:
        assert str(refused)


def test_a_size_names_its_unit_once() -> None:
    assert format_size(Decimal("622.30"), Decimal("914.40"), "in") == "24 1/2 × 36 in"
    assert format_size(Decimal("622.30"), Decimal("914.40"), "mm") == "622.3 × 914.4 mm"


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("A gap of 1.2 mm: this line stops short.", "A gap of 0.05 in: this line stops short."),
        ("for 254 mm; they are counted once.", "for 10 in; they are counted once."),
        ("The drawing is 300 × 457.2 mm, said.", "The drawing is 11 13/16 × 18 in, said."),
        ("Two pieces overlap here by 12.9 cm².", "Two pieces overlap here by 2.00 sq in."),
        ("0.929 m² Red", "10.00 sq ft Red"),
        ("This line ends in the open.", "This line ends in the open."),
    ],
)
def test_a_sentence_is_said_in_the_units_of_the_studio(said: str, meant: str) -> None:
    assert in_units(said, "in") == meant
    assert in_units(said, "mm") == said
