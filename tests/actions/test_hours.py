"""Hours typed in afterwards, corrected, taken back, and answers for timers left on."""

from datetime import timedelta
from itertools import pairwise
from uuid import uuid4

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.bench import finish, start
from jobs.actions.hours import answer, correct, log_hours, log_span, proposed_stop, take_back
from jobs.models import (
    Account,
    ClosedDay,
    DayOff,
    Event,
    ExtraHours,
    Hold,
    Job,
    Operation,
    Person,
    PlanState,
    Stage,
    TimeEntry,
)
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
NOON = at(4, "18:00")  # Wednesday, after the shift.


@pytest.fixture
def cutting() -> Operation:
    return cast.operation_of(cast.make_panel(cast.make_job()), "Cutting")


@pytest.fixture
def mara() -> Person:
    return cast.person("Mara")


@pytest.fixture
def by_mara(mara: Person) -> Actor:
    return Actor(person=mara)


@pytest.fixture
def by_lead(lead: Account) -> Actor:
    return Actor(account=lead)


def span(entry: TimeEntry) -> tuple[str, str, int | None]:
    start_at, stop_at = (moment.astimezone(cast.ZONE) for moment in (entry.started_at, entry.stopped_at))  # type: ignore[union-attr]
    return f"{start_at:%H:%M}", f"{stop_at:%H:%M}", entry.minutes


def test_a_span_is_written_down_without_its_break(cutting: Operation, mara: Person, by_mara: Actor) -> None:
    before = PlanState.current().revision
    entry = log_span(cutting, mara, at(4, "11:00"), at(4, "14:00"), by=by_mara, at=NOON, note="forgot")
    assert (entry.minutes, entry.source, entry.note) == (150, TimeEntry.Source.SPAN, "forgot")
    cutting.refresh_from_db()
    assert (cutting.started_at, cutting.keeper) == (at(4, "11:00"), None)
    assert PlanState.current().revision == before + 1
    event = Event.objects.get()
    assert (event.verb, event.person, event.job) == ("written down", mara, cutting.job)
    earlier = log_span(cutting, mara, at(3, "08:00"), at(3, "09:00"), by=by_mara, at=NOON)
    cutting.refresh_from_db()
    assert cutting.started_at == earlier.started_at


def test_the_same_form_sent_twice_is_one_entry(cutting: Operation, mara: Person, by_mara: Actor) -> None:
    sent = uuid4()
    for _ in range(2):
        log_span(cutting, mara, at(4, "08:00"), at(4, "09:00"), by=by_mara, at=NOON, client_id=sent)
        log_span(cutting, mara, at(4, "08:00"), at(4, "09:00"), by=by_mara, at=NOON, client_id=sent)
    assert TimeEntry.objects.count() == 1


@pytest.mark.parametrize(
    ("first", "last", "sentence"),
    [
        (at(4, "09:00"), at(4, "09:00"), "ends before it begins"),
        (at(4, "09:00"), at(4, "08:00"), "ends before it begins"),
        (at(4, "17:00"), at(4, "18:01"), "still to come"),
        (at(3, "01:00"), at(3, "17:01"), "more than 16 hours"),
        (
            at(4, "08:30"),
            at(4, "09:30"),
            "overlaps with Cutting of Mara Lind on Wednesday from 09:00 to 10:00",
        ),
        (at(4, "09:15"), at(4, "09:30"), "overlaps"),
        (at(4, "16:00"), at(4, "17:00"), "from 15:00 on, still running"),
    ],
)
def test_an_impossible_span_is_refused(
    cutting: Operation, mara: Person, by_mara: Actor, first: object, last: object, sentence: str
) -> None:
    log_span(cutting, mara, at(4, "09:00"), at(4, "10:00"), by=by_mara, at=at(4, "12:00"))
    start(cutting, mara, by=by_mara, at=at(4, "15:00"))
    with pytest.raises(Refused, match=sentence):
        log_span(cutting, mara, first, last, by=by_mara, at=NOON)
    assert TimeEntry.objects.count() == 2


def test_entries_may_touch_and_others_may_work_at_the_same_time(
    cutting: Operation, mara: Person, by_mara: Actor
) -> None:
    jonas = cast.person("Jonas")
    log_span(cutting, mara, at(4, "09:00"), at(4, "10:00"), by=by_mara, at=NOON)
    log_span(cutting, mara, at(4, "10:00"), at(4, "11:00"), by=by_mara, at=NOON)
    log_span(cutting, jonas, at(4, "09:30"), at(4, "10:30"), by=Actor(person=jonas), at=NOON)
    assert TimeEntry.objects.count() == 3


def test_sixteen_hours_are_the_most_and_are_allowed(cutting: Operation, mara: Person, by_mara: Actor) -> None:
    entry = log_span(cutting, mara, at(3, "01:00"), at(3, "17:00"), by=by_mara, at=NOON)
    assert entry.minutes == 16 * 60 - 30


def test_hours_on_work_that_may_not_be_done_are_refused_unless_the_lead_allows_them(
    cutting: Operation, mara: Person, by_mara: Actor, by_lead: Actor
) -> None:
    assert cutting.panel is not None
    beveling = cast.operation_of(cutting.panel, "Beveling")
    times = (at(4, "08:00"), at(4, "09:00"))
    with pytest.raises(Refused, match=r"before Cutting is finished\. The lead can allow it"):
        log_span(beveling, mara, *times, by=by_mara, at=NOON)
    with pytest.raises(Refused, match="before Cutting"):
        log_span(beveling, mara, *times, by=by_mara, at=NOON, allow=True)
    with pytest.raises(Refused, match="before Cutting"):
        log_span(beveling, mara, *times, by=by_lead, at=NOON)
    with pytest.raises(Refused, match="before Cutting"):
        log_hours(beveling, mara, times[0].date(), 60, by=by_mara, at=NOON)
    log_span(beveling, mara, *times, by=by_lead, at=NOON, allow=True)
    assert "allowed: It cannot be worked on before Cutting" in Event.objects.get().why


def test_hours_on_what_is_held_or_cancelled_are_refused(
    cutting: Operation, mara: Person, by_mara: Actor
) -> None:
    times = (at(4, "08:00"), at(4, "09:00"))
    hold = Hold.objects.create(panel=cutting.panel, reason="wrong glass", since=at(4, "10:00"), held_by="N")
    with pytest.raises(Refused, match="held: wrong glass"):
        log_span(cutting, mara, *times, by=by_mara, at=NOON)
    hold.delete()
    Job.objects.update(stage=Stage.CANCELLED, closed_at=at(4))
    with pytest.raises(Refused, match="cancelled"):
        log_span(cutting, mara, *times, by=by_mara, at=NOON)
    Job.objects.update(stage=Stage.ORDERED, closed_at=None)
    assert cutting.panel is not None
    cure = cast.operation_of(cast.make_panel(cutting.job, 2, kinds=("Cure",)), "Cure")
    with pytest.raises(Refused, match="nobody’s time"):
        log_hours(cure, mara, at(4).date(), 60, by=by_mara, at=NOON)


def test_hours_may_be_told_of_what_is_finished(cutting: Operation, mara: Person, by_mara: Actor) -> None:
    finish(cutting, mara, by=by_mara, at=at(4, "12:00"))
    assert log_span(cutting, mara, at(4, "08:00"), at(4, "09:00"), by=by_mara, at=NOON).minutes == 60


def test_hours_of_a_day_are_laid_into_what_is_free_of_it(
    cutting: Operation, mara: Person, by_mara: Actor
) -> None:
    def lay(minutes: int, now: str = "20:00") -> tuple[str, str, int | None]:
        return span(log_hours(cutting, mara, at(4).date(), minutes, by=by_mara, at=at(4, now)))

    # Mara works 8:00-12:00 and 12:30-16:30; 9:00-10:00 is taken.
    log_span(cutting, mara, at(4, "09:00"), at(4, "10:00"), by=by_mara, at=at(4, "10:00"))
    assert lay(60) == ("08:00", "09:00", 60)
    assert lay(180) == ("10:00", "13:30", 180)  # Over the break, which does not count.
    assert lay(180) == ("13:30", "16:30", 180)
    assert lay(120) == ("16:30", "18:30", 120)  # After the shift, once that is full.
    assert lay(120) == ("00:00", "02:00", 120)  # Before it, where after it there is no more time.
    with pytest.raises(Refused, match="more than is still free"):
        lay(8 * 60)
    spans = list(TimeEntry.objects.order_by("started_at").values_list("started_at", "stopped_at"))
    assert all(one[1] <= two[0] for one, two in pairwise(spans))


def test_hours_are_not_laid_into_the_break_nor_into_the_future(
    cutting: Operation, mara: Person, by_mara: Actor
) -> None:
    log_span(cutting, mara, at(4, "08:00"), at(4, "12:00"), by=by_mara, at=at(4, "12:00"))
    entry = log_hours(cutting, mara, at(4).date(), 60, by=by_mara, at=at(4, "14:00"))
    assert span(entry) == ("12:30", "13:30", 60)
    with pytest.raises(Refused, match="more than is still free"):
        log_hours(cutting, mara, at(4).date(), 9 * 60, by=by_mara, at=at(4, "14:00"))


def test_hours_of_a_day_without_hours_are_laid_down_from_the_morning(
    cutting: Operation, mara: Person, by_mara: Actor
) -> None:
    entry = log_hours(cutting, mara, at(7).date(), 90, by=by_mara, at=at(7, "12:00"))
    assert span(entry) == ("08:00", "09:30", 90)
    DayOff.objects.create(person=mara, first=at(3).date(), last=at(3).date())
    entry = log_hours(cutting, mara, at(3).date(), 300, by=by_mara, at=at(7, "12:00"))
    assert span(entry) == ("08:00", "13:00", 300)
    ClosedDay.objects.create(day=at(2).date())
    ExtraHours.objects.create(person=mara, day=at(2).date(), start="10:00", stop="14:00")
    entry = log_hours(cutting, mara, at(2).date(), 60, by=by_mara, at=at(7, "12:00"))
    assert span(entry) == ("10:00", "11:00", 60)


@pytest.mark.parametrize(
    ("day", "minutes", "sentence"),
    [
        (4, 0, "how many hours"),
        (4, -5, "how many hours"),
        (4, 961, "more than 16 hours"),
        (5, 60, "still to come"),
    ],
)
def test_impossible_hours_are_refused(
    cutting: Operation, mara: Person, by_mara: Actor, day: int, minutes: int, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence):
        log_hours(cutting, mara, at(day).date(), minutes, by=by_mara, at=NOON)


def test_hours_on_the_day_clocks_change(cutting: Operation, mara: Person, by_mara: Actor) -> None:
    # Sunday 29 March 2026 has 23 hours in Vienna (Directive 2000/84/EC).
    entry = log_hours(cutting, mara, at(29).date(), 14 * 60, by=by_mara, at=at(30, "07:00"))
    assert span(entry) == ("08:00", "22:00", 840)
    # From midnight on there are only seven hours until eight o'clock.
    entry = log_hours(cutting, mara, at(29).date(), 6 * 60, by=by_mara, at=at(30, "07:00"))
    assert span(entry) == ("00:00", "07:00", 360)


def test_a_span_over_a_clock_change_has_the_hours_that_pass(
    cutting: Operation, mara: Person, by_mara: Actor
) -> None:
    entry = log_span(cutting, mara, at(28, "23:00"), at(29, "04:00"), by=by_mara, at=at(30))
    assert entry.minutes == 4 * 60
    with pytest.raises(Refused, match="16 hours"):
        log_span(
            cutting,
            mara,
            at(24, "12:00", month=10),
            at(25, "03:30", month=10),
            by=by_mara,
            at=at(30, month=10),
        )


def test_a_correction_keeps_the_original(cutting: Operation, mara: Person, by_mara: Actor) -> None:
    entry = log_span(cutting, mara, at(4, "08:00"), at(4, "10:00"), by=by_mara, at=NOON)
    TimeEntry.objects.filter(pk=entry.pk).update(pieces_done=4, note="thick glass")
    made = correct(entry, at(4, "08:30"), at(4, "10:00"), by=by_mara, at=NOON, reason="bus was late")
    entry.refresh_from_db()
    assert (entry.minutes, entry.started_at, entry.voided_at) == (120, at(4, "08:00"), NOON)
    assert entry.void_reason == "bus was late"
    assert (made.minutes, made.corrects, made.pieces_done, made.note) == (90, entry, 4, "thick glass")
    assert list(TimeEntry.objects.counted()) == [made]
    with pytest.raises(Refused, match="already"):
        correct(entry, at(4, "08:00"), at(4, "09:00"), by=by_mara, at=NOON)
    third = correct(made, at(4, "08:00"), at(4, "10:00"), by=by_mara, at=NOON)
    assert (third.corrects, TimeEntry.objects.count()) == (made, 3)
    event = Event.objects.filter(verb="corrected").last()
    assert event is not None
    assert (event.before["minutes"], event.after["minutes"], event.why) == (120, 90, "bus was late")


def test_a_correction_is_refused(cutting: Operation, mara: Person, by_mara: Actor, by_lead: Actor) -> None:
    entry = log_span(cutting, mara, at(3, "08:00"), at(3, "10:00"), by=by_mara, at=NOON)
    log_span(cutting, mara, at(3, "10:00"), at(3, "11:00"), by=by_mara, at=NOON)
    jonas = Actor(person=cast.person("Jonas"))
    with pytest.raises(Refused, match="Only Mara Lind or the lead"):
        correct(entry, at(3, "08:00"), at(3, "09:00"), by=jonas, at=NOON)
    with pytest.raises(Refused, match="overlaps"):
        correct(entry, at(3, "08:00"), at(3, "10:30"), by=by_mara, at=NOON)
    with pytest.raises(Refused, match="ends before"):
        correct(entry, at(3, "08:00"), at(3, "07:30"), by=by_mara, at=NOON)
    with pytest.raises(Refused, match="still to come"):
        correct(entry, at(4, "08:00"), at(4, "19:00"), by=by_mara, at=NOON)
    with pytest.raises(Refused, match="16 hours"):
        correct(entry, at(2, "08:00"), at(3, "08:00"), by=by_mara, at=NOON)
    with pytest.raises(Refused, match="more than a day ago"):
        correct(entry, at(3, "08:00"), at(3, "09:00"), by=by_mara, at=at(5, "08:00"))
    entry.refresh_from_db()
    assert entry.voided_at is None
    assert correct(entry, at(3, "08:00"), at(3, "09:00"), by=by_lead, at=at(20, "08:00")).minutes == 60


def test_an_entry_is_taken_back_with_a_reason(cutting: Operation, mara: Person, by_mara: Actor) -> None:
    entry = log_span(cutting, mara, at(4, "08:00"), at(4, "10:00"), by=by_mara, at=NOON)
    with pytest.raises(Refused, match="Say why"):
        take_back(entry, by=by_mara, at=NOON, reason=" ")
    with pytest.raises(Refused, match="Only Mara"):
        take_back(entry, by=Actor(person=cast.person("Ilse")), at=NOON, reason="not mine")
    take_back(entry, by=by_mara, at=NOON, reason="wrong panel")
    assert not TimeEntry.objects.valid().exists()
    with pytest.raises(Refused, match="already"):
        take_back(entry, by=by_mara, at=NOON, reason="wrong panel")
    # The time is free again.
    log_span(cutting, mara, at(4, "08:00"), at(4, "10:00"), by=by_mara, at=NOON)


def test_an_answer_for_a_timer_left_on(
    cutting: Operation, mara: Person, by_mara: Actor, by_lead: Actor
) -> None:
    entry = start(cutting, mara, by=by_mara, at=at(2, "15:00"))
    assert proposed_stop(entry, at(2, "16:45")) == at(2, "16:45")
    assert proposed_stop(entry, at(3)) == at(2, "16:30")
    with pytest.raises(Refused, match="Only Mara Lind or the lead"):
        answer(entry, at(2, "16:00"), by=Actor(person=cast.person("Ilse")), at=at(3))
    with pytest.raises(Refused, match="ends before"):
        answer(entry, at(2, "14:00"), by=by_mara, at=at(3))
    with pytest.raises(Refused, match="still to come"):
        answer(entry, at(3, "09:00"), by=by_mara, at=at(3))
    with pytest.raises(Refused, match="16 hours"):
        answer(entry, at(3, "08:00"), by=by_mara, at=at(3, "08:00"))
    answer(entry, at(2, "16:30"), by=by_lead, at=at(6))
    entry.refresh_from_db()
    assert (entry.minutes, entry.is_running) == (90, False)
    with pytest.raises(Refused, match="answered already"):
        answer(entry, at(2, "16:30"), by=by_mara, at=at(6))


def test_an_answer_for_what_was_stopped_and_questioned(
    cutting: Operation, mara: Person, by_mara: Actor
) -> None:
    other = cast.operation_of(cast.make_panel(cutting.job, 2), "Cutting")

    def questioned(day: int) -> TimeEntry:
        entry = start(cutting, mara, by=by_mara, at=at(day, "15:00"))
        start(other, mara, by=by_mara, at=at(day + 1, "08:00"), late=True)
        take_back(TimeEntry.objects.running().get(), by=by_mara, at=at(day + 1, "08:01"), reason="test")
        return entry

    same = answer(questioned(2), at(2, "16:30"), by=by_mara, at=at(6))
    assert (same.minutes, same.questioned, TimeEntry.objects.filter(corrects__isnull=False).count()) == (
        90,
        False,
        0,
    )
    asked = questioned(9)
    made = answer(asked, at(9, "15:45"), by=by_mara, at=at(16))
    asked.refresh_from_db()
    assert (made.minutes, made.corrects, asked.voided_at, asked.questioned) == (45, asked, at(16), False)
    assert made in TimeEntry.objects.counted()


def test_what_left_on_counts_nothing_until_it_is_answered(
    cutting: Operation, mara: Person, by_mara: Actor
) -> None:
    entry = start(cutting, mara, by=by_mara, at=at(2, "15:00"))
    spent = Operation.objects.with_hours().get(pk=cutting.pk).spent
    assert spent == 0
    answer(entry, at(2, "16:00"), by=by_mara, at=at(3))
    assert Operation.objects.with_hours().get(pk=cutting.pk).spent == 60
    assert entry.started_at + timedelta(hours=1) == at(2, "16:00")
