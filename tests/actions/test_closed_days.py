"""Closed days, and public holidays against their laws."""

from datetime import date, timedelta

import pytest

from jobs.actions import Actor, Refused, closed_days
from jobs.models import Account, ClosedDay, Event, PlanState
from tests import cast

NOW = cast.at(2)


@pytest.fixture
def by(lead: Account) -> Actor:
    return Actor(account=lead)


def easter(year: int) -> date:
    """Easter Sunday of the Gregorian calendar: Meeus, Astronomical Algorithms, ch. 8 (after Butcher, 1876)."""
    a, (b, c) = year % 19, divmod(year, 100)
    (d, e), f = divmod(b, 4), (b + 8) // 25
    g = (b - f + 1) // 3
    h = (19 * a + b - d - g + 15) % 30
    i, k = divmod(c, 4)
    rest = (32 + 2 * e + 2 * i - h - k) % 7
    m = (a + 11 * h + 22 * rest) // 451
    month, day = divmod(h + rest - 7 * m + 114, 31)
    return date(year, month, day + 1)


def nth(year: int, month: int, weekday: int, number: int) -> date:
    first = date(year, month, 1)
    return first + timedelta((weekday - first.weekday()) % 7 + 7 * (number - 1))


def test_federal_holidays_of_the_united_states() -> None:
    """5 U.S.C. 6103: (a) the days; (b) one that falls on a Saturday is kept on the Friday before."""
    found = dict(closed_days.public_holidays("US", "", 2026))
    last_monday_of_may = max(day for day in (nth(2026, 5, 0, 4), nth(2026, 5, 0, 5)) if day.month == 5)
    by_law = {
        date(2026, 1, 1),
        nth(2026, 1, 0, 3),  # Birthday of Martin Luther King, Jr., the third Monday in January.
        nth(2026, 2, 0, 3),  # Washington's Birthday, the third Monday in February.
        last_monday_of_may,  # Memorial Day.
        date(2026, 6, 19),
        date(2026, 7, 3),  # Independence Day, 4 July, is a Saturday in 2026.
        nth(2026, 9, 0, 1),  # Labor Day, the first Monday in September.
        nth(2026, 10, 0, 2),  # Columbus Day, the second Monday in October.
        date(2026, 11, 11),
        nth(2026, 11, 3, 4),  # Thanksgiving Day, the fourth Thursday in November.
        date(2026, 12, 25),
    }
    assert set(found) == by_law | {date(2026, 7, 4)}
    assert nth(2026, 11, 3, 4) == date(2026, 11, 26)
    assert found[date(2026, 11, 26)] == "Thanksgiving Day"
    assert "Independence Day" in found[date(2026, 7, 3)]


@pytest.mark.parametrize("year", [2024, 2026, 2027, 2038])
def test_holidays_of_austria_move_with_easter(year: int) -> None:
    """Arbeitsruhegesetz (BGBl. 144/1983), § 7 (2), from memory: the days."""
    sunday = easter(year)
    fixed = [(1, 1), (1, 6), (5, 1), (8, 15), (10, 26), (11, 1), (12, 8), (12, 25), (12, 26)]
    by_law = {date(year, *day) for day in fixed} | {sunday + timedelta(n) for n in (1, 39, 50, 60)}
    assert {day for day, _ in closed_days.public_holidays("AT", "", year)} == by_law


def test_austria_2026_by_name() -> None:
    assert easter(2026) == date(2026, 4, 5)
    found = dict(closed_days.public_holidays("AT", "", 2026))
    assert found[date(2026, 4, 6)] == "Ostermontag"
    assert found[date(2026, 5, 14)] == "Christi Himmelfahrt"


def test_a_region_has_holidays_of_its_own() -> None:
    """Bavaria keeps Epiphany, Berlin does not: Art. 1 (1) BayFTG and § 1 (1) of Berlin's act, both from memory."""
    epiphany = date(2026, 1, 6)
    assert epiphany in dict(closed_days.public_holidays("DE", "BY", 2026))
    assert epiphany not in dict(closed_days.public_holidays("DE", "BE", 2026))


@pytest.mark.parametrize(
    ("country", "region", "year", "sentence"),
    [
        ("", "", 2026, "which country"),
        ("ZZ", "", 2026, "is not a country whose holidays are known. Known are: AD, .*AT,"),
        ("AT", "BY", 2026, "is not a region of Austria. Known are: 1, 2, 3, 4, 5, 6, 7, 8, 9."),
        ("AT", "", 1800, "2000 to 2100"),
        ("", "BY", 2026, "which country"),
    ],
)
def test_what_is_not_known_is_refused_with_what_is(
    country: str, region: str, year: int, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence):
        closed_days.public_holidays(country, region, year)


def test_countries_have_names_and_codes() -> None:
    found = closed_days.countries()
    assert found["US"] == "United States"
    assert found["AT"] == "Austria"
    assert {len(code) for code in found} == {2}
    assert "WLS" in closed_days.regions("GB")
    assert closed_days.regions("ZZ") == []


def test_closed_days_are_added_together_and_written_down(by: Actor) -> None:
    before = PlanState.current().revision
    days = [(date(2026, 4, 6), " Easter Monday "), (date(2026, 5, 1), "x" * 100)]
    rows = closed_days.add_closed_days(days, by=by, at=NOW)
    assert [(row.day, row.name) for row in rows] == [
        (date(2026, 4, 6), "Easter Monday"),
        (date(2026, 5, 1), "x" * 80),
    ]
    assert [event.verb for event in Event.objects.all()] == ["closed", "closed"]
    assert PlanState.current().revision == before + 1


def test_one_that_is_closed_already_refuses_all(by: Actor) -> None:
    closed_days.add_closed_days([(date(2026, 5, 1), "")], by=by, at=NOW)
    with pytest.raises(Refused, match="closed on 1 May 2026 already"):
        closed_days.add_closed_days([(date(2026, 4, 6), ""), (date(2026, 5, 1), "")], by=by, at=NOW)
    assert ClosedDay.objects.count() == 1


def test_no_day_at_all_is_refused(by: Actor) -> None:
    with pytest.raises(Refused, match="No day"):
        closed_days.add_closed_days([], by=by, at=NOW)


def test_a_day_is_opened_once(by: Actor) -> None:
    [row] = closed_days.add_closed_days([(date(2026, 5, 1), "May Day")], by=by, at=NOW)
    again = ClosedDay.objects.get(pk=row.pk)
    closed_days.remove_closed_day(row, by=by, at=NOW)
    event = Event.objects.first()
    assert (event.verb, event.before) == ("opened", {"day": "2026-05-01", "name": "May Day"})
    with pytest.raises(Refused, match="open on that day already"):
        closed_days.remove_closed_day(again, by=by, at=NOW)
