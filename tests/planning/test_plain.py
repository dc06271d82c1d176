"""The reason for a date in words for the customer, from chains made by hand."""

from datetime import timedelta

import pytest

from jobs.planning import Gate
from jobs.planning.plain import plain_reason
from jobs.planning.why import Cause, Segment, Why
from tests.planning.shops import BEVEL, BUILD, CURE, CUT, MONDAY, TEMPER, job, shop, work

SHOP = shop(
    work(1, 1, CUT, 60),
    work(2, 1, BEVEL, 600),
    work(3, 1, BUILD, 60),
    work(4, 1, CURE, 600),
    work(5, 1, TEMPER, 600),
    jobs=(job(1, None), job(2, None)),
    gates=(Gate(7, "drawing approved", 1, None, cleared=False), Gate(8, "scaffold", 1, None, cleared=False)),
)


def segment(cause: Cause, operation: int, minutes: int, gate: int | None = None) -> Segment:
    stop = MONDAY + timedelta(minutes=minutes)
    behind = (2,) if cause == Cause.STATION else ()
    return Segment(cause, operation, 1, MONDAY, stop, minutes, minutes, 0, behind=behind, gate=gate)


def told(*segments: Segment, **names: str) -> str:
    return plain_reason(Why(segments, "Mostly waiting behind 0402."), SHOP, {BEVEL: names.get("bevel", "")})


@pytest.mark.parametrize(
    ("cause", "operation", "gate", "words"),
    [
        (Cause.WORK, 2, None, "Most of the time is taken by the handwork itself: beveling."),
        (Cause.CURE, 4, None, "The panels have to dry and rest before they can be moved safely."),
        (Cause.GATE, 1, 7, "We need the approval of the drawing before we can go on."),
        (Cause.GATE, 1, 8, "We wait for something that has to be there before we can go on."),
        (Cause.HOLD, 1, None, "The work rests until an open question about it is settled."),
    ],
)
def test_each_cause_in_words(cause: Cause, operation: int, gate: int | None, words: str) -> None:
    assert told(segment(cause, operation, 600, gate)) == words


@pytest.mark.parametrize("cause", [Cause.STATION, Cause.PERSON, Cause.CLOSED])
def test_a_wait_names_neither_job_nor_person(cause: Cause) -> None:
    words = told(segment(cause, 2, 600))
    assert words == "Beveling waits for a turn in our workshop, where work is taken as it falls due."


def test_outside_work() -> None:
    assert "done outside our workshop" in told(segment(Cause.SUPPLIER, 5, 600))


def test_the_second_reason_is_told_where_it_weighs() -> None:
    words = told(segment(Cause.STATION, 2, 600), segment(Cause.CURE, 4, 200))
    assert words.startswith("Beveling waits")
    assert words.endswith("moved safely.")
    assert "rest" not in told(segment(Cause.STATION, 2, 600), segment(Cause.CURE, 4, 100))


def test_work_is_called_as_customers_are_told() -> None:
    assert told(segment(Cause.WORK, 2, 600), bevel="polishing").endswith("itself: polishing.")


def test_nothing_to_explain() -> None:
    assert told() == ""
