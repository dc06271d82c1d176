"""Two people at the same instant, on two connections: nothing is lost, made twice, or waits for ever.

SQLite lets one writer in after the other; what these tests are about happens on PostgreSQL.
"""

import threading
from datetime import date
from typing import Any
from uuid import uuid4

import pytest
from django.db import OperationalError, connection, transaction

from jobs.actions import Actor, Refused, bench
from jobs.actions.base import mark_out_of_date
from jobs.actions.bench import count_pieces, finish, start
from jobs.actions.customer_links import Shared, make_link, renew_link
from jobs.actions.plan import replan
from jobs.actions.quotes import accept_quote, make_quote, send_quote
from jobs.actions.timers import locked, locked_person
from jobs.models import (
    Account,
    CustomerLink,
    Event,
    Job,
    Operation,
    Panel,
    Person,
    PlanState,
    Projection,
    Quote,
    QuoteState,
    Skill,
    Station,
    TimeEntry,
)
from tests import cast, quoting
from tests.at_once import in_threads
from tests.cast import at

ON_POSTGRESQL = pytest.mark.skipif(
    connection.vendor != "postgresql", reason="SQLite has one writer at a time"
)


@pytest.fixture
def panel(transactional_db: None, shop: None) -> Panel:
    return cast.make_panel(cast.make_job())


def by(person: Person) -> Actor:
    return Actor(person=person)


def refusals(results: list[Any]) -> list[str]:
    return [result.sentence for result in results if isinstance(result, Refused)]


def test_pieces_that_four_tablets_count_at_once_add_up(panel: Panel) -> None:
    cutting = cast.operation_of(panel, "Cutting")
    before = PlanState.current().revision
    in_threads(
        *(
            lambda: [
                count_pieces(cutting, None, by=Actor(), at=at(2), add=1, client_id=uuid4()) for _ in range(2)
            ]
            for _ in range(4)
        )
    )
    cutting.refresh_from_db()
    assert cutting.quantity_done == 8
    assert Event.objects.filter(verb="counted").count() == 8
    assert PlanState.current().revision == before + 8


def test_the_last_piece_is_counted_once(panel: Panel) -> None:
    cutting = cast.operation_of(panel, "Cutting")
    Operation.objects.filter(pk=cutting.pk).update(quantity_done=9)
    results = in_threads(
        *(lambda: count_pieces(cutting, None, by=Actor(), at=at(2), add=1) for _ in range(3))
    )
    assert len(refusals(results)) == 2
    assert Operation.objects.get(pk=cutting.pk).quantity_done == 10


def test_one_person_who_starts_two_things_at_once_is_at_one(panel: Panel) -> None:
    mara, other = cast.person("Mara"), cast.make_panel(panel.job, 2)
    both = [cast.operation_of(panel, "Cutting"), cast.operation_of(other, "Cutting")]
    results = in_threads(*(lambda one=one: start(one, mara, by=by(mara), at=at(2)) for one in both))
    assert refusals(results) == []
    [running] = TimeEntry.objects.running()
    assert running.operation in both


def test_work_is_finished_once(panel: Panel) -> None:
    cutting, mara = cast.operation_of(panel, "Cutting"), cast.person("Mara")
    results = in_threads(*(lambda: finish(cutting, mara, by=by(mara), at=at(2)) for _ in range(3)))
    assert refusals(results) == ["It is finished already."] * 2
    assert Event.objects.filter(verb="finished").count() == 1


@pytest.fixture
def swapping(panel: Panel) -> dict[Person, Operation]:
    """Mara and Jonas are each at a piece of cutting; each is to take over the other's."""
    other = cast.make_panel(panel.job, 2)
    mara, jonas = cast.person("Mara"), cast.person("Jonas")
    mine, yours = cast.operation_of(panel, "Cutting"), cast.operation_of(other, "Cutting")
    start(mine, mara, by=by(mara), at=at(2, "08:00"))
    start(yours, jonas, by=by(jonas), at=at(2, "08:00"))
    return {mara: yours, jonas: mine}


def meet_before_stopping(monkeypatch: Any, times: int = 1) -> None:
    """Both hold their own timer before either asks for the other's, so many times."""
    both, stop_all, left = threading.Barrier(2), bench.stop_all, threading.local()

    def meet(*args: Any, **values: Any) -> Any:
        left.times = getattr(left, "times", times) - 1
        if left.times >= 0:
            both.wait(20)
        return stop_all(*args, **values)

    monkeypatch.setattr(bench, "stop_all", meet)


@ON_POSTGRESQL
def test_two_who_take_over_each_others_work_do_not_wait_for_ever(
    swapping: dict[Person, Operation], monkeypatch: Any
) -> None:
    meet_before_stopping(monkeypatch)
    results = in_threads(
        *(
            lambda who=who, what=what: start(what, who, by=by(who), at=at(2, "09:00"), take_over=True)
            for who, what in swapping.items()
        )
    )
    assert refusals(results) == []
    assert {entry.person: entry.operation for entry in TimeEntry.objects.running()} == swapping
    assert TimeEntry.objects.valid().filter(stopped_at=at(2, "09:00")).count() == 2


@ON_POSTGRESQL
def test_a_deadlock_inside_a_larger_transaction_is_told(
    swapping: dict[Person, Operation], monkeypatch: Any
) -> None:
    """What the transaction did before is lost with it, so that only its owner can begin again."""
    meet_before_stopping(monkeypatch)

    def take_over(who: Person, what: Operation) -> Any:
        try:
            with transaction.atomic():
                return start(what, who, by=by(who), at=at(2, "09:00"), take_over=True)
        except OperationalError as error:
            return error

    results = in_threads(*(lambda who=who, what=what: take_over(who, what) for who, what in swapping.items()))
    assert sorted(isinstance(result, OperationalError) for result in results) == [False, True]


def test_the_next_version_of_a_quote_is_made_once(transactional_db: None, office: Account) -> None:
    job, who = enquiry(office)
    results = in_threads(*(lambda: make_quote(job, by=who, at=at(2)) for _ in range(3)))
    assert refusals(results) == ["Version 1 is a draft still; change that one."] * 2
    send_quote(Quote.objects.get(), by=who, at=at(2))
    results = in_threads(*(lambda: make_quote(job, by=who, at=at(3)) for _ in range(3)))
    assert refusals(results) == ["Version 2 is a draft still; change that one."] * 2
    assert sorted(Quote.objects.values_list("version", flat=True)) == [1, 2]


def test_a_quote_is_accepted_once(transactional_db: None, office: Account) -> None:
    job, who = enquiry(office)
    quote = send_quote(make_quote(job, by=who, at=at(2)), by=who, at=at(2))
    results = in_threads(*(lambda: accept_quote(quote, by=who, at=at(2)) for _ in range(3)))
    assert len(refusals(results)) == 2
    assert Quote.objects.get().state == QuoteState.ACCEPTED
    assert Event.objects.filter(subject="quote", verb="accepted").count() == 1


def enquiry(office: Account) -> tuple[Job, Actor]:
    quoting.make_stock()
    quoting.sixty_an_hour()
    job = quoting.make_enquiry()
    quoting.take_off(job.panels.get(), office)
    return job, Actor(account=office)


def test_a_job_has_one_open_link(transactional_db: None, office: Account) -> None:
    job, who, shared = cast.make_job(), Actor(account=office), Shared(date(2026, 6, 1))
    results = in_threads(*(lambda: make_link(job, shared, by=who, at=at(2)) for _ in range(3)))
    assert len(refusals(results)) == 2
    tokens = {
        link.token for link in in_threads(*(lambda: renew_link(job, by=who, at=at(3)) for _ in range(3)))
    }
    assert len(tokens) == 3
    [link] = CustomerLink.objects.filter(revoked_at=None)
    assert link.token in tokens
    assert CustomerLink.objects.count() == 4


def test_a_plan_made_while_somebody_writes_is_out_of_date(panel: Panel, monkeypatch: Any) -> None:
    """Two plan at once while a third writes, over and over: no revision is lost, and the last write shows."""
    Skill.objects.get_or_create(person=cast.person("Mara"), station=Station.objects.get(name="Blasting"))
    before = PlanState.current().revision

    def write() -> None:
        for _ in range(5):
            with transaction.atomic():
                mark_out_of_date()

    in_threads(*(lambda: replan(at=at(2), futures=20, force=True) for _ in range(2)), write, write)
    state = PlanState.current()
    assert state.revision == before + 10
    assert state.planned_revision <= state.revision
    replan(at=at(2, "08:01"), futures=20, force=True)
    assert not PlanState.current().out_of_date


@ON_POSTGRESQL
def test_the_planner_waits_for_nobody_at_a_bench(panel: Panel) -> None:
    """Dates name the work and the person that they are of: they are kept while somebody logs hours there, who may wait
    to tell the planner of it in turn."""
    cutting, mara = cast.operation_of(panel, "Cutting"), cast.person("Mara")

    def keep_dates() -> Projection:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET LOCAL lock_timeout = '5s'")
            return Projection.objects.create(operation=cutting, person=mara, p50=at(2), p80=at(3), p95=at(4))

    with transaction.atomic():
        locked(cutting)
        locked_person(mara)
        assert in_threads(keep_dates) == [Projection.objects.get()]
