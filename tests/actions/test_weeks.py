"""The end of a day and of a week: what its person confirms and what the lead closes."""

from datetime import date

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.bench import start
from jobs.actions.hours import correct, log_hours, log_span, take_back
from jobs.actions.weeks import close_week, confirm_day
from jobs.models import Account, ClosedWeek, ConfirmedDay, Event, Operation, Person, Studio, TimeEntry
from jobs.models.sheets import read_day, read_week
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
MONDAY = date(2026, 3, 2)
WEDNESDAY = date(2026, 3, 4)
AFTER = at(9, "09:00")  # The Monday after.


@pytest.fixture
def cutting() -> Operation:
    return cast.operation_of(cast.make_panel(cast.make_job()), "Cutting")


@pytest.fixture
def mara() -> Person:
    return cast.person("Mara")


@pytest.fixture
def entry(cutting: Operation, mara: Person) -> TimeEntry:
    """Wednesday from 8 to 10."""
    return log_span(cutting, mara, at(4, "08:00"), at(4, "10:00"), by=Actor(person=mara), at=at(4, "16:30"))


def closed_by(lead: Account) -> ClosedWeek:
    return close_week(MONDAY, by=Actor(account=lead), at=AFTER)


def test_a_day_is_confirmed(entry: TimeEntry, mara: Person) -> None:
    word = confirm_day(mara, WEDNESDAY, by=Actor(person=mara), at=at(4, "16:31"))
    assert (word.minutes, str(word.person)) == (120, "Mara Lind")
    assert Event.objects.filter(verb="confirmed", person=mara).count() == 1


def test_what_changes_after_the_word_shows_and_can_be_confirmed_again(entry: TimeEntry, mara: Person) -> None:
    me = Actor(person=mara)
    confirm_day(mara, WEDNESDAY, by=me, at=at(4, "16:31"))
    correct(entry, at(4, "08:00"), at(4, "11:00"), by=me, at=at(4, "16:32"))
    assert read_day(mara, WEDNESDAY, at(4, "16:33"), Studio.current()).changed_since
    confirm_day(mara, WEDNESDAY, by=me, at=at(4, "16:34"))
    assert not read_day(mara, WEDNESDAY, at(4, "16:35"), Studio.current()).changed_since
    assert ConfirmedDay.objects.get().minutes == 180


def test_nobody_confirms_for_another(mara: Person) -> None:
    with pytest.raises(Refused, match="Only Mara Lind can confirm"):
        confirm_day(mara, WEDNESDAY, by=Actor(person=cast.person("Jonas")), at=at(4, "17:00"))


def test_a_day_to_come_is_not_confirmed(mara: Person) -> None:
    with pytest.raises(Refused, match="still to come"):
        confirm_day(mara, date(2026, 3, 5), by=Actor(person=mara), at=at(4, "17:00"))


def test_a_day_with_work_still_running_is_not_confirmed(cutting: Operation, mara: Person) -> None:
    start(cutting, mara, by=Actor(person=mara), at=at(4, "08:00"))
    with pytest.raises(Refused, match="still runs"):
        confirm_day(mara, WEDNESDAY, by=Actor(person=mara), at=at(4, "12:00"))
    with pytest.raises(Refused, match="left on"):
        confirm_day(mara, WEDNESDAY, by=Actor(person=mara), at=at(4, "22:00"))
    assert not ConfirmedDay.objects.exists()


def test_a_week_is_closed_as_it_stands(entry: TimeEntry, lead: Account, mara: Person) -> None:
    closed = closed_by(lead)
    assert closed.minutes == {str(mara.pk): 120}
    assert Event.objects.filter(verb="closed", account=lead).count() == 1


@pytest.mark.parametrize(
    ("monday", "when", "sentence"),
    [
        (date(2026, 3, 3), AFTER, "begins on a Monday"),
        (MONDAY, at(8, "23:59"), "not over yet"),
    ],
)
def test_what_is_no_week_that_is_over_is_not_closed(
    lead: Account, monday: date, when: object, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence):
        close_week(monday, by=Actor(account=lead), at=when)  # type: ignore[arg-type]


def test_only_the_lead_closes_a_week(office: Account) -> None:
    with pytest.raises(Refused, match="Only the lead"):
        close_week(MONDAY, by=Actor(account=office), at=AFTER)


def test_a_week_is_closed_once(lead: Account) -> None:
    closed_by(lead)
    with pytest.raises(Refused, match="closed already"):
        closed_by(lead)


def test_a_week_with_a_timer_left_on_is_not_closed(cutting: Operation, mara: Person, lead: Account) -> None:
    start(cutting, mara, by=Actor(person=mara), at=at(4, "08:00"))
    with pytest.raises(Refused, match="timers of Mara Lind"):
        closed_by(lead)


def test_a_timer_left_on_reaches_to_the_end_of_the_shift_at_the_most(
    cutting: Operation, mara: Person
) -> None:
    start(cutting, mara, by=Actor(person=mara), at=at(4, "08:00"))
    assert read_day(mara, WEDNESDAY, at(5, "13:59"), Studio.current()).beyond == []


def test_a_closed_week_is_changed_by_the_lead_with_a_reason_only(
    entry: TimeEntry, cutting: Operation, mara: Person, lead: Account
) -> None:
    closed_by(lead)
    boss = Actor(account=lead)
    with pytest.raises(Refused, match="say why it is changed"):
        correct(entry, at(4, "08:00"), at(4, "11:00"), by=boss, at=AFTER)
    with pytest.raises(Refused, match="say why it is changed"):
        log_span(cutting, mara, at(5, "08:00"), at(5, "09:00"), by=boss, at=AFTER)
    with pytest.raises(Refused, match="say why it is changed"):
        log_hours(cutting, mara, date(2026, 3, 5), 60, by=boss, at=AFTER)
    log_hours(cutting, mara, date(2026, 3, 5), 60, by=boss, at=AFTER, reason="was at the site")
    made = correct(entry, at(4, "08:00"), at(4, "11:00"), by=boss, at=AFTER, reason="the tablet was flat")
    assert Event.objects.get(verb="corrected", subject_id=made.pk).why == "the tablet was flat"
    entry.refresh_from_db()
    assert entry.voided_at is not None
    row = next(row for row in read_week(MONDAY, AFTER, Studio.current()).people if row.person == mara)
    assert row.changed_since == 120


def test_a_person_does_not_change_a_closed_week(entry: TimeEntry, mara: Person, lead: Account) -> None:
    # On Sunday's entry it is still "yesterday" when the week is closed on Monday morning.
    sunday = log_span(
        entry.operation, mara, at(8, "10:00"), at(8, "11:00"), by=Actor(person=mara), at=at(8, "12:00")
    )
    closed_by(lead)
    with pytest.raises(Refused, match="the lead can still change it"):
        take_back(sunday, by=Actor(person=mara), at=AFTER, reason="wrong work")
    with pytest.raises(Refused, match="the lead can still change it"):
        log_hours(entry.operation, mara, date(2026, 3, 8), 30, by=Actor(person=mara), at=AFTER)


def test_hours_are_not_moved_into_a_closed_week(cutting: Operation, mara: Person, lead: Account) -> None:
    boss = Actor(account=lead)
    monday = log_span(cutting, mara, at(9, "08:00"), at(9, "08:30"), by=boss, at=AFTER)
    closed_by(lead)
    with pytest.raises(Refused, match="say why"):
        correct(monday, at(6, "08:00"), at(6, "08:30"), by=boss, at=AFTER)


def test_a_week_says_what_stands_out(entry: TimeEntry, mara: Person) -> None:
    log_span(entry.operation, mara, at(4, "16:00"), at(4, "18:00"), by=Actor(person=mara), at=at(4, "18:00"))
    day = read_day(mara, WEDNESDAY, at(4, "19:00"), Studio.current())
    assert (day.minutes, day.due) == (240, 480)
    assert (day.gap_minutes, day.beyond_minutes) == (120 + 210, 90)
    assert day.stands_out


def test_the_sheet_rounds_each_day_and_nothing_else_does(entry: TimeEntry, mara: Person) -> None:
    Studio.objects.update(rounding=15)
    correct(entry, at(4, "08:00"), at(4, "09:52"), by=Actor(person=mara), at=at(4, "17:00"))
    day = read_day(mara, WEDNESDAY, at(4, "19:00"), Studio.current())
    assert (day.minutes, day.rounded) == (112, 105)
