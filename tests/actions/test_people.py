"""People: their names, PINs, skills, weekly hours, days off and extra hours."""

from datetime import date, time
from decimal import Decimal

import pytest
from django.contrib.auth.hashers import check_password
from django.core.exceptions import ValidationError

from jobs.actions import Actor, Refused, people
from jobs.models import Account, ClosedDay, Event, ExtraHours, Person, PlanState, Shift, Station, TimeEntry
from tests import cast

NOW = cast.at(2)
MORNING, AFTERNOON = (time(8), time(12)), (time(12, 30), time(16, 30))


@pytest.fixture
def by(lead: Account) -> Actor:
    return Actor(account=lead)


def revision() -> int:
    return PlanState.current().revision


def test_somebody_new_is_written_down_and_the_dates_are_out_of_date(by: Actor) -> None:
    before = revision()
    otto = people.add_person("  Otto   Prax ", by=by, at=NOW)
    assert (otto.name, otto.active) == ("Otto Prax", True)
    event = Event.objects.get()
    assert (event.verb, event.subject, event.subject_id) == ("added", "person", otto.pk)
    assert (event.account, event.at) == (by.account, NOW)
    assert revision() == before + 1


@pytest.mark.parametrize(
    ("name", "sentence"), [("mara lind", "called mara lind already"), (" ", "needs a name"), ("x" * 61, "60")]
)
def test_a_name_twice_or_none_is_refused(by: Actor, name: str, sentence: str) -> None:
    with pytest.raises(Refused, match=sentence) as refused:
        people.add_person(name, by=by, at=NOW)
    assert refused.value.field == "name"


def test_a_changed_cost_is_written_with_what_it_was(by: Actor) -> None:
    people.change_person(cast.person("Mara"), {"hourly_cost": Decimal("32.50")}, by=by, at=NOW)
    event = Event.objects.get()
    assert (event.before, event.after) == ({"hourly_cost": "30.00"}, {"hourly_cost": "32.50"})


def test_nothing_changed_is_not_written(by: Actor) -> None:
    before = revision()
    people.change_person(cast.person("Mara"), {"name": "Mara Lind", "active": True}, by=by, at=NOW)
    assert (Event.objects.count(), revision()) == (0, before)


def test_a_cost_below_nothing_is_refused(by: Actor) -> None:
    with pytest.raises(Refused, match="less than nothing"):
        people.change_person(cast.person("Mara"), {"hourly_cost": Decimal(-1)}, by=by, at=NOW)


def test_a_name_cannot_become_somebody_elses(by: Actor) -> None:
    with pytest.raises(Refused, match="somebody called Ilse Roth"):
        people.change_person(cast.person("Mara"), {"name": "Ilse Roth"}, by=by, at=NOW)


def test_nobody_leaves_with_a_timer_running(by: Actor) -> None:
    panel, mara = cast.make_panel(cast.make_job()), cast.person("Mara")
    TimeEntry.objects.create(person=mara, operation=cast.operation_of(panel, "Cutting"), started_at=NOW)
    with pytest.raises(Refused, match="timer running on Cutting"):
        people.change_person(mara, {"active": False}, by=by, at=NOW)
    mara.refresh_from_db()
    assert mara.active


def test_who_leaves_puts_their_work_back(by: Actor) -> None:
    panel, mara = cast.make_panel(cast.make_job()), cast.person("Mara")
    kept, pinned = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
    type(kept).objects.filter(pk=kept.pk).update(keeper=mara)
    type(kept).objects.filter(pk=pinned.pk).update(pinned_person=mara)
    people.change_person(mara, {"active": False}, by=by, at=NOW)
    kept.refresh_from_db()
    pinned.refresh_from_db()
    assert (kept.keeper, pinned.pinned_person) == (None, None)
    put_back = Event.objects.get(verb="put back")
    assert (put_back.subject_id, put_back.why) == (kept.pk, "Mara Lind has left")
    freed = Event.objects.get(verb="freed")
    assert (freed.subject_id, freed.before) == (pinned.pk, {"person": "Mara Lind"})


def test_a_pin_is_kept_hashed_and_never_written_down(by: Actor) -> None:
    mara = people.set_pin(cast.person("Mara"), "0417", by=by, at=NOW)
    assert check_password("0417", mara.pin)
    event = Event.objects.get()
    assert (event.verb, event.before, event.after) == ("set PIN of", {}, {})
    assert people.set_pin(mara, "", by=by, at=NOW).pin == ""


@pytest.mark.parametrize("pin", ["123", "123456789", "12a4", "١٢٣٤", "1234 "])
def test_a_pin_has_four_to_eight_digits(by: Actor, pin: str) -> None:
    with pytest.raises(Refused, match="4 to 8 digits"):
        people.set_pin(cast.person("Mara"), pin, by=by, at=NOW)


def test_skills_are_replaced_as_a_whole(by: Actor) -> None:
    mara = cast.person("Mara")
    stations = {station.name: station for station in Station.objects.all()}
    paces = {stations["Beveling"]: Decimal("1.25"), stations["Blasting"]: Decimal(1)}
    people.set_skills(mara, paces, by=by, at=NOW)
    assert {skill.station.name: skill.pace for skill in mara.skills.all()} == {
        "Beveling": Decimal("1.25"),
        "Blasting": Decimal("1.00"),
    }
    event = Event.objects.get()
    assert event.before == {"Beveling": "1.00", "Cutting": "1.00"}
    before = revision()
    people.set_skills(mara, paces, by=by, at=NOW)
    assert (Event.objects.count(), revision()) == (1, before)


@pytest.mark.parametrize("pace", ["0.09", "10.01", "0", "-1"])
def test_a_pace_out_of_range_is_refused_at_its_station(by: Actor, pace: str) -> None:
    station = Station.objects.get(name="Beveling")
    with pytest.raises(Refused, match=r"between 0\.1 and 10") as refused:
        people.set_skills(cast.person("Mara"), {station: Decimal(pace)}, by=by, at=NOW)
    assert refused.value.field == f"pace_{station.pk}"
    assert cast.person("Mara").skills.count() == 2


def test_a_week_is_replaced_and_written_in_words(by: Actor) -> None:
    mara = cast.person("Mara")
    people.set_week(mara, {0: [AFTERNOON, MORNING], 5: [], 2: [MORNING]}, by=by, at=NOW)
    found = [(shift.weekday, shift.start, shift.stop) for shift in Shift.objects.filter(person=mara)]
    assert found == [(0, *MORNING), (0, *AFTERNOON), (2, *MORNING)]
    event = Event.objects.get()
    assert event.after == {"Monday": "08:00-12:00, 12:30-16:30", "Wednesday": "08:00-12:00"}
    assert event.before["Friday"] == "08:00-12:00, 12:30-16:30"


@pytest.mark.parametrize(
    ("spans", "sentence"),
    [
        ([(time(12), time(8))], "12:00-08:00 stops before it starts"),
        ([(time(8), time(8))], "stops before it starts"),
        ([(time(8), time(12)), (time(11, 59), time(16))], "08:00-12:00 and 11:59-16:00 overlap"),
        ([(time(8), time(12)), (time(9), time(10))], "overlap"),
    ],
)
def test_spans_of_a_day_must_make_sense(by: Actor, spans: list[tuple[time, time]], sentence: str) -> None:
    with pytest.raises(Refused, match=sentence) as refused:
        people.set_week(cast.person("Mara"), {0: [MORNING], 3: spans}, by=by, at=NOW)
    assert refused.value.field == "day_3"
    assert cast.person("Mara").shifts.count() == 10


def test_spans_may_touch(by: Actor) -> None:
    people.set_week(cast.person("Mara"), {0: [MORNING, (time(12), time(13))]}, by=by, at=NOW)
    assert cast.person("Mara").shifts.count() == 2


def test_one_day_off_has_one_date(by: Actor) -> None:
    off = people.add_day_off(cast.person("Mara"), date(2026, 3, 9), by=by, at=NOW)
    assert (off.first, off.last) == (date(2026, 3, 9), date(2026, 3, 9))
    people.remove_day_off(off, by=by, at=NOW)
    assert not cast.person("Mara").days_off.exists()
    assert [event.verb for event in Event.objects.all()] == ["took days off from", "gave days off to"]


@pytest.mark.parametrize(
    ("first", "last", "field"), [((9), (8), "last"), ((10), (12), "first"), ((6), (9), "first")]
)
def test_days_off_in_order_and_only_once(by: Actor, first: int, last: int, field: str) -> None:
    mara = cast.person("Mara")
    people.add_day_off(mara, date(2026, 3, 9), date(2026, 3, 11), by=by, at=NOW)
    with pytest.raises(Refused) as refused:
        people.add_day_off(mara, date(2026, 3, first), date(2026, 3, last), by=by, at=NOW)
    assert refused.value.field == field
    assert mara.days_off.count() == 1


def test_what_was_removed_cannot_be_removed_again(by: Actor) -> None:
    mara = cast.person("Mara")
    off = people.add_day_off(mara, date(2026, 3, 9), by=by, at=NOW)
    extra = people.add_extra_hours(mara, date(2026, 3, 7), *MORNING, by=by, at=NOW)
    type(off).objects.all().delete()
    type(extra).objects.all().delete()
    with pytest.raises(Refused, match="no such days off"):
        people.remove_day_off(off, by=by, at=NOW)
    with pytest.raises(Refused, match="no such extra hours"):
        people.remove_extra_hours(extra, by=by, at=NOW)


def test_extra_hours_within_the_week_are_refused_unless_it_does_not_hold(by: Actor) -> None:
    mara, monday = cast.person("Mara"), date(2026, 3, 9)
    with pytest.raises(Refused, match="Mara Lind works from 08:00-12:00 on Monday anyway") as refused:
        people.add_extra_hours(mara, monday, time(9), time(11), by=by, at=NOW)
    assert refused.value.field == "start"
    people.add_extra_hours(mara, monday, time(17), time(19), by=by, at=NOW)
    ClosedDay.objects.create(day=monday)
    people.add_extra_hours(mara, monday, time(9), time(11), by=by, at=NOW)
    assert mara.extra_hours.count() == 2


@pytest.mark.parametrize("model", [Shift, ExtraHours])
def test_hours_are_whole_minutes(model: type[Shift | ExtraHours]) -> None:
    """As the admin asks each row before it saves it."""
    with pytest.raises(ValidationError, match="whole minutes"):
        model(start=time(8, 0, 30), stop=time(12)).clean()
    model(start=time(8), stop=time(12)).clean()


def test_extra_hours_come_and_go(by: Actor) -> None:
    mara, saturday = cast.person("Mara"), date(2026, 3, 7)
    extra = people.add_extra_hours(mara, saturday, *MORNING, by=by, at=NOW)
    people.add_extra_hours(mara, saturday, *AFTERNOON, by=by, at=NOW)
    people.remove_extra_hours(extra, by=by, at=NOW)
    assert [(row.start, row.stop) for row in mara.extra_hours.all()] == [AFTERNOON]
    assert Event.objects.first().before == {"day": "2026-03-07", "hours": "08:00-12:00"}


@pytest.mark.parametrize(
    ("start", "stop", "field"), [(time(11), time(13), "start"), (time(9), time(9), "stop")]
)
def test_extra_hours_that_overlap_or_do_not_last_are_refused(
    by: Actor, start: time, stop: time, field: str
) -> None:
    mara, saturday = cast.person("Mara"), date(2026, 3, 7)
    people.add_extra_hours(mara, saturday, *MORNING, by=by, at=NOW)
    with pytest.raises(Refused) as refused:
        people.add_extra_hours(mara, saturday, start, stop, by=by, at=NOW)
    assert refused.value.field == field


@pytest.mark.parametrize("action", ["skills", "week", "off", "extra"])
def test_whatever_the_planner_reads_marks_the_dates(by: Actor, action: str) -> None:
    mara, before = cast.person("Mara"), revision()
    if action == "skills":
        people.set_skills(mara, {}, by=by, at=NOW)
    elif action == "week":
        people.set_week(mara, {}, by=by, at=NOW)
    elif action == "off":
        people.remove_day_off(people.add_day_off(mara, date(2026, 3, 9), by=by, at=NOW), by=by, at=NOW)
    else:
        extra = people.add_extra_hours(mara, date(2026, 3, 7), *MORNING, by=by, at=NOW)
        people.remove_extra_hours(extra, by=by, at=NOW)
    assert revision() == before + (2 if action in ("off", "extra") else 1)
    assert Person.objects.count() == 3
