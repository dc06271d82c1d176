"""What if: an answer beside today's plan that writes nothing, and writing down what was confirmed."""

from datetime import date, time, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.actions import Actor, Refused
from jobs.actions.people import add_day_off
from jobs.actions.whatif import Base, Wishes, carry_out, new_job, put_job_first, stand
from jobs.models import (
    Account,
    DayOff,
    ExtraHours,
    Gate,
    Job,
    Operation,
    Person,
    PlanState,
    Route,
    Skill,
    Station,
)
from jobs.planning.whatif import MorePeople
from jobs.snapshot import read_shop
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
NOW = at(2, "08:00")


@pytest.fixture(autouse=True)
def few_futures(shop: None) -> None:
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 50})


@pytest.fixture
def job() -> Job:
    job = cast.make_job(wanted_by=date(2026, 3, 5))
    cast.make_panel(job)
    return job


@pytest.fixture
def nora(lead: Account) -> Actor:
    return Actor(account=lead)


def asked(base: Base, **values: Any) -> Any:
    return base.effect(Wishes(**values).changes(base))


def test_the_same_floor_is_read_once_a_minute(job: Job, nora: Actor) -> None:
    base = stand(NOW)
    soon = stand(NOW + timedelta(seconds=59))
    assert soon.plan is base.plan
    assert soon.plan.now == NOW
    assert stand(NOW + timedelta(seconds=60)).plan is not base.plan


def test_a_write_is_seen_at_once(job: Job, nora: Actor) -> None:
    base = stand(NOW)
    add_day_off(Person.objects.first(), date(2026, 3, 3), date(2026, 3, 3), "ill", by=nora, at=NOW)  # type: ignore[arg-type]
    other = stand(NOW)
    assert other.shop != base.shop
    assert stand(NOW).plan is other.plan


def test_nothing_asked_is_no_change(job: Job) -> None:
    base = stand(NOW)
    assert Wishes().changes(base) == []
    effect = base.effect([])
    assert effect.moved == ()
    assert effect.at_risk[0] == effect.at_risk[1]
    assert effect.late_days[0] == effect.late_days[1]


def test_asking_writes_nothing(job: Job) -> None:
    base = stand(NOW)
    with CaptureQueriesContext(connection) as queries:
        asked(base, away=[cast.person("Mara")], away_until=date(2026, 3, 20), first=job)
    assert [query["sql"] for query in queries if not query["sql"].startswith("SELECT")] == []
    assert not DayOff.objects.exists()


def test_somebody_ill_makes_dates_later_and_breaks_them(job: Job) -> None:
    base = stand(NOW)
    everybody = list(Person.objects.all())
    effect = asked(base, away=everybody, away_until=date(2026, 3, 9))
    (moved,) = effect.moved
    assert moved.job == job.pk
    assert moved.days >= 7
    assert effect.at_risk == ([], [job.pk])
    assert effect.late_days[0] < 1 < effect.late_days[1]


def test_each_wish_becomes_its_change(job: Job) -> None:
    base = stand(NOW)
    gate = cast.make_gate(job, "drawing")
    mara, jonas = cast.person("Mara"), cast.person("Jonas")
    blasting = Station.objects.get(name="Blasting")
    wishes = Wishes(
        away=[mara, jonas],
        away_until=date(2026, 3, 6),
        gate=gate,
        gate_day=date(2026, 3, 6),
        outside=Operation.objects.earliest("pk"),
        outside_days=3,
        extra_days=[date(2026, 3, 7)],
        extra_people=[mara],
        trained=jonas,
        trained_at=blasting,
        trained_pace=0.5,
        first=job,
        more_people=blasting,
        more_benches=blasting,
        route=Route.objects.get(),
        pieces=4,
        rush=True,
    )
    names = [type(change).__name__ for change in wishes.changes(base)]
    assert names == [
        *("PersonAway", "PersonAway", "GateLater", "OutsideLater", "ExtraHours", "Trained", "JobFirst"),
        *("MorePeople", "MoreBenches", "NewJob", "JobFirst"),
    ]


def test_half_a_wish_is_none(job: Job) -> None:
    base = stand(NOW)
    assert Wishes(away=[cast.person("Mara")], extra_days=[date(2026, 3, 7)]).changes(base) == []


def test_a_new_job_follows_its_route(job: Job) -> None:
    shop = read_shop(NOW)
    made = new_job(shop, Route.objects.get(), 10, date(2026, 3, 20), at=NOW)
    assert made.job.due == date(2026, 3, 20)
    # 30 + 6 x 10, 45 x 10 and 240 minutes, one after another.
    assert [operation.minutes for operation in made.operations] == [90, 450, 240]
    first, second, third = made.operations
    assert (second.after, third.after) == ((first.id,), (second.id,))
    base = stand(NOW)
    effect = asked(base, route=Route.objects.get(), pieces=10, new_due=date(2026, 3, 20))
    assert effect.plan.jobs.keys() - base.plan.jobs.keys() == {made.job.id}


def test_what_is_not_there_is_an_error(job: Job) -> None:
    with pytest.raises(ValueError, match="no station"):
        stand(NOW).effect([MorePeople(99)])


class TestCarryOut:
    def test_all_that_can_be_is_written_down(self, job: Job, nora: Actor) -> None:
        gate = cast.make_gate(job, "drawing")
        mara, jonas = cast.person("Mara"), cast.person("Jonas")
        before = PlanState.current().revision
        done = carry_out(
            Wishes(
                away=[mara],
                away_until=date(2026, 3, 6),
                gate=gate,
                gate_day=date(2026, 3, 6),
                extra_days=[date(2026, 3, 7), date(2026, 3, 14)],
                extra_people=[jonas],
                trained=jonas,
                trained_at=Station.objects.get(name="Blasting"),
                trained_pace=0.5,
                first=job,
            ),
            by=nora,
            at=NOW,
        )
        assert len(done) == 5
        assert list(DayOff.objects.values_list("person", "first", "last")) == [
            (mara.pk, date(2026, 3, 2), date(2026, 3, 6))
        ]
        assert Gate.objects.get().expected == date(2026, 3, 6)
        assert list(ExtraHours.objects.values_list("person", "day", "start", "stop")) == [
            (jonas.pk, date(2026, 3, 7), time(8), time(12)),
            (jonas.pk, date(2026, 3, 14), time(8), time(12)),
        ]
        skills = dict(Skill.objects.filter(person=jonas).values_list("station__name", "pace"))
        assert skills.keys() == {"Assembly", "Cutting", "Blasting"}
        assert float(skills["Blasting"]) == 0.5
        assert all(operation.pinned_place is not None for operation in job.operations.all())
        assert PlanState.current().revision > before

    def test_a_supplier_who_takes_longer(self, nora: Actor) -> None:
        job = cast.make_job()
        cast.make_panel(job, kinds=("Lamination",))
        lamination = job.operations.get()
        carry_out(Wishes(outside=lamination, outside_days=2), by=nora, at=NOW)
        assert job.operations.get().estimate == lamination.estimate + 2 * 1440

    def test_all_or_nothing(self, job: Job, nora: Actor) -> None:
        gate = cast.make_gate(job, "drawing", cleared=date(2026, 3, 1))
        wishes = Wishes(
            away=[cast.person("Mara")], away_until=date(2026, 3, 6), gate=gate, gate_day=date(2026, 3, 6)
        )
        with pytest.raises(Refused, match="cleared already"):
            carry_out(wishes, by=nora, at=NOW)
        assert not DayOff.objects.exists()

    def test_what_has_its_own_page_is_refused(self, job: Job, nora: Actor) -> None:
        wishes = Wishes(more_people=Station.objects.get(name="Beveling"), route=Route.objects.get(), pieces=3)
        with pytest.raises(Refused, match="Nothing of this can be written down"):
            carry_out(wishes, by=nora, at=NOW)

    def test_only_the_lead(self, job: Job, office: Account) -> None:
        with pytest.raises(Refused, match="Only the lead"):
            carry_out(Wishes(first=job), by=Actor(account=office), at=NOW)

    def test_put_first_puts_the_whole_job_before_others(self, job: Job, nora: Actor) -> None:
        other = cast.make_job("0413")
        cast.make_panel(other)
        put_job_first(other, by=nora, at=NOW)
        put_job_first(job, by=nora, at=NOW)
        for kind in ("Cutting", "Beveling", "Assembly"):
            mine, theirs = (each.operations.get(kind__name=kind).pinned_place for each in (job, other))
            assert mine is not None
            assert theirs is not None
            assert mine < theirs

    def test_a_job_without_waiting_work_cannot_go_first(self, nora: Actor) -> None:
        with pytest.raises(Refused, match="no work that waits"):
            put_job_first(cast.make_job(), by=nora, at=NOW)
