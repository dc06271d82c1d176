import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.estimating.hours import HoursError, format_hours, parse_hours


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("4:30", 270),
        ("4.5", 270),
        ("4,5 h", 270),
        ("4 h 30 min", 270),
        ("4h30m", 270),
        ("270 min", 270),
        ("0:05", 5),
        ("8", 480),
        (".25", 15),
        ("100 h", 6000),
    ],
)
def test_hours_as_people_type_them(text: str, minutes: int) -> None:
    assert parse_hours(text) == minutes


@pytest.mark.parametrize("text", ["", "soon", "4:75", "-2", "1:2:3", "h", "99999:00", "9" * 40])
def test_what_is_not_hours_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(HoursError) as refused:
        parse_hours(text)
    assert str(refused.value).endswith(".")


def test_hours_as_people_read_them() -> None:
    assert format_hours(270, "clock") == "4:30"
    assert format_hours(270, "decimal") == "4.5 h"
    assert format_hours(-5, "clock") == "−0:05"
    assert format_hours(0, "clock") == "0:00"


@given(st.integers(0, 5_000_000))
def test_clock_hours_come_back_as_they_were(minutes: int) -> None:
    assert parse_hours(format_hours(minutes, "clock")) == minutes


@given(st.text(max_size=30))
def test_any_text_is_hours_or_a_sentence(text: str) -> None:
    try:
        assert parse_hours(text) >= 0
    except HoursError as refused:
        assert str(refused)
