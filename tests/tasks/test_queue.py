"""A task is done once, whoever ends on the way."""

import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from django.core.management import call_command
from django.tasks import TaskResultStatus
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from jobs.actions.leases import WORKER, clear_away, hold, workers_live
from jobs.models import Lease
from jobs.tasks import queue
from jobs.tasks.queue import PAPERS, alive, carry_out, give_back, take, take_up_from_the_dead
from tests.at_once import in_threads
from tests.tasks import work

pytestmark = pytest.mark.django_db

READY, RUNNING = TaskResultStatus.READY, TaskResultStatus.RUNNING
SUCCESSFUL, FAILED = TaskResultStatus.SUCCESSFUL, TaskResultStatus.FAILED


@pytest.fixture(autouse=True)
def nothing_happens() -> Iterator[list[Callable[[], object]]]:
    work.happens.clear()
    yield work.happens
    work.happens.clear()


def asked(number: int = 21) -> UUID:
    return UUID(work.double.enqueue(number).id)


def row() -> Any:
    return DBTaskResult.objects.get()


def dies(name: str) -> None:
    """Nothing is heard of it for as long as its lease holds."""
    Lease.objects.filter(name=name).update(until=timezone.now() - timedelta(seconds=1))


def test_what_is_taken_is_done() -> None:
    asked()
    with alive() as life:
        taken = take(life.name, PAPERS)
        assert taken is not None
        assert (row().status, row().worker_ids) == (RUNNING, [life.name])
        assert take(life.name, PAPERS) is None
        assert carry_out(taken)
    assert (row().status, row().return_value) == (SUCCESSFUL, 42)
    assert not Lease.objects.exists()


def test_only_what_waits_in_these_queues_is_taken() -> None:
    asked()
    other = asked()
    assert take("mine", queue.DATES) is None
    taken = take("mine", PAPERS, task=other)
    assert taken is not None
    assert taken.pk == other


def test_what_fails_is_written_down_and_not_tried_again(caplog: pytest.LogCaptureFixture) -> None:
    work.fail.enqueue()
    with alive() as life:
        taken = take(life.name, PAPERS)
        assert taken is not None
        assert not carry_out(taken)
        assert take(life.name, PAPERS) is None
    assert row().status == FAILED
    assert "it cannot be done" in row().traceback
    assert "fail failed" in caplog.text


def test_what_a_dead_process_had_in_hand_is_taken_up_again() -> None:
    asked()
    with alive() as dead:
        take(dead.name, PAPERS)
        assert take_up_from_the_dead() == 0
        dies(dead.name)
        assert take_up_from_the_dead() == 1
        assert take_up_from_the_dead() == 0
        with alive() as other:
            taken = take(other.name, PAPERS)
            assert taken is not None
            assert carry_out(taken)
    assert (row().status, len(row().worker_ids)) == (SUCCESSFUL, 2)


def test_who_slept_says_nothing_of_what_was_taken_up_meanwhile(
    nothing_happens: list[Callable[[], object]],
) -> None:
    asked()

    def it_sleeps() -> None:
        dies(sleeper.name)
        take_up_from_the_dead()
        assert take(other.name, PAPERS) is not None
        nothing_happens.clear()

    nothing_happens.append(it_sleeps)
    with alive() as sleeper, alive() as other:
        taken = take(sleeper.name, PAPERS)
        assert taken is not None
        carry_out(taken)
        assert (row().status, row().worker_ids) == (RUNNING, [sleeper.name, other.name])
        assert carry_out(row())
        assert row().status == SUCCESSFUL


def test_what_ends_its_processes_is_given_up() -> None:
    asked()
    for _ in range(queue.MOST_ATTEMPTS):
        assert take("nobody that lives", PAPERS) is not None
        assert take_up_from_the_dead() == 1
    assert row().status == FAILED
    assert "It ended 6 processes." in row().traceback
    assert not queue.is_open(row().pk)


def test_who_ends_in_good_order_gives_back_and_it_counts_for_nothing() -> None:
    asked()
    with alive() as first, alive() as second:
        take(first.name, PAPERS)
        give_back(second.name)
        assert row().status == RUNNING
        give_back(first.name)
    assert (row().status, row().worker_ids) == (READY, [])


def test_where_no_worker_lives_this_process_does_it(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[Callable[[], None]] = []
    monkeypatch.setattr(queue, "start", started.append)
    task = asked()
    with alive() as worker:
        queue.see_to(task, PAPERS)
        assert started == []
        dies(worker.name)
        queue.see_to(task, PAPERS)
    # Somebody looked twice before it was taken.
    queue.see_to(task, PAPERS)
    for each in started:
        each()
    assert len(started) == 2
    assert (row().status, len(row().worker_ids)) == (SUCCESSFUL, 1)
    queue.see_to(task, PAPERS)
    assert len(started) == 2


def test_this_process_goes_on_where_one_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[Callable[[], None]] = []
    monkeypatch.setattr(queue, "start", started.append)
    task = asked()
    take("nobody that lives", PAPERS)
    queue.see_to(task, PAPERS)
    started.pop()()
    assert row().status == SUCCESSFUL


def test_a_worker_that_lives_is_seen() -> None:
    assert not workers_live()
    with alive(queue.ASIDE):
        assert not workers_live()
        with alive(WORKER) as worker:
            assert workers_live()
            dies(worker.name)
            assert not workers_live()


def test_a_lease_has_one_holder_until_it_runs_out() -> None:
    with hold("dates") as held:
        assert held is not None
        assert held.still()
        with hold("dates") as second:
            assert second is None
        assert held.still()
        dies("dates")
        with hold("dates") as third:
            assert third is not None
            assert not held.still()
    # Who lost it does not end another's.
    with hold("dates") as first:
        assert first is not None
        Lease.objects.update(holder="another's")
    assert Lease.objects.get().holder == "another's"


def test_what_ran_out_is_cleared_away() -> None:
    with hold("dates"), hold("papers"):
        dies("papers")
        assert clear_away() == 1
        assert [lease.name for lease in Lease.objects.all()] == ["dates"]


def test_a_lease_is_renewed_until_it_is_lost(transactional_db: None, settings: Any) -> None:
    settings.LEASE_SECONDS = 0.2
    with hold("dates") as held:
        assert held is not None
        until = Lease.objects.get().until
        while Lease.objects.get().until == until:
            time.sleep(0.01)
        Lease.objects.all().delete()
        assert held.lost.wait(20)


def test_what_ended_long_ago_is_forgotten() -> None:
    now = timezone.now()
    for days in (1, 3):
        pk = asked()
        DBTaskResult.objects.filter(pk=pk).update(status=SUCCESSFUL, finished_at=now - timedelta(days=days))
    asked()
    assert queue.forget_ended(now) == 1
    assert DBTaskResult.objects.count() == 2


def test_the_worker_does_what_waits_and_takes_up_what_was_left(shop: None) -> None:
    asked()
    take("nobody that lives", PAPERS)
    asked()
    call_command("worker", "--once")
    found = DBTaskResult.objects.filter(queue_name=PAPERS)
    assert set(found.values_list("status", flat=True)) == {SUCCESSFUL}
    assert not Lease.objects.exists()


def test_four_that_look_at_once_take_it_once(transactional_db: None) -> None:
    for _ in range(3):
        asked()
    taken = in_threads(*(lambda name=f"w{n}": take(name, PAPERS) for n in range(4)))
    # Who finds all rows locked looks again soon; nobody ever gets what another has.
    pks = [each.pk for each in taken if each is not None]
    assert pks
    assert len(pks) == len(set(pks))


def test_of_two_that_take_up_one_does(transactional_db: None) -> None:
    asked()
    take("nobody that lives", PAPERS)
    assert sorted(in_threads(*(take_up_from_the_dead for _ in range(3)))) == [0, 0, 1]
    assert (row().status, len(row().worker_ids)) == (READY, 1)


def test_of_four_that_want_a_lease_one_gets_it(transactional_db: None) -> None:
    got = in_threads(*(lambda: Lease.objects.take("dates", 60) for _ in range(4)))
    assert sum(holder is not None for holder in got) == 1
