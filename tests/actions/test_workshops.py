"""Workshops: made and named; their people, stations and jobs meet nobody else's; a job moves before it has begun."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from jobs.actions import Actor, Refused, people, stations, workshops
from jobs.actions.bench import start
from jobs.actions.hours import log_hours, log_span
from jobs.actions.jobs import copy_job, create_job
from jobs.actions.operations import add_operation
from jobs.actions.panels import PanelDraft, add_panel
from jobs.actions.turns import pin_person, put_first
from jobs.models import (
    Account,
    Event,
    Job,
    Operation,
    OperationKind,
    Person,
    PlanState,
    Route,
    Station,
    Studio,
    Workshop,
)
from tests import cast
from tests.cast import at
from tests.workshops import make_mill_panel, make_second

NOW = at(2)


@pytest.fixture
def by(lead: Account) -> Actor:
    return Actor(account=lead)


@pytest.fixture
def mill(shop: None) -> Workshop:
    return make_second()


def draft(name: str = "Left light") -> PanelDraft:
    return PanelDraft(name, Decimal(600), Decimal(900), Route.objects.get(), pieces=10)


def kinds(job: Job) -> list[str]:
    return [row.kind.name for row in job.operations.select_related("kind").order_by("place", "pk")]


class TestWorkshops:
    def test_a_studio_begins_with_one_that_everything_is_of(self, shop: None) -> None:
        only = Workshop.objects.get()
        assert {station.workshop for station in Station.objects.all()} == {only}
        assert {person.workshop for person in Person.objects.all()} == {only}
        assert cast.make_job().workshop == only
        assert not Studio.current().has_several_workshops

    def test_a_second_one_comes_last_and_has_an_address(self, by: Actor) -> None:
        before = PlanState.current().revision
        made = workshops.add_workshop("  Mill   Street ", by=by, at=NOW)
        assert (made.name, made.slug, made.place) == ("Mill Street", "mill-street", 1)
        assert Event.objects.get().verb == "added"
        assert PlanState.current().revision == before + 1
        assert Studio.current().has_several_workshops

    def test_an_address_is_never_given_twice(self, by: Actor) -> None:
        assert workshops.add_workshop("✂", by=by, at=NOW).slug == "workshop-2"

    def test_it_is_named_anew_and_keeps_its_address(self, by: Actor) -> None:
        only = Workshop.objects.get()
        changed = workshops.change_workshop(only, {"name": "Lakeside", "place": 3}, by=by, at=NOW)
        assert (changed.name, changed.slug, changed.place) == ("Lakeside", "workshop", 3)
        event = Event.objects.get()
        assert (event.before["name"], event.after["name"]) == ("Workshop", "Lakeside")

    def test_what_changes_nothing_writes_nothing(self, by: Actor) -> None:
        workshops.change_workshop(Workshop.objects.get(), {"name": "Workshop"}, by=by, at=NOW)
        assert not Event.objects.exists()

    @pytest.mark.parametrize("name", [" ", "x" * 41, "workshop"])
    def test_a_name_that_will_not_do_is_refused(self, by: Actor, name: str) -> None:
        with pytest.raises(Refused) as refused:
            workshops.add_workshop(name, by=by, at=NOW)
        assert refused.value.field == "name"

    def test_an_order_below_nothing_is_refused(self, by: Actor) -> None:
        with pytest.raises(Refused, match="from 0 on"):
            workshops.change_workshop(Workshop.objects.get(), {"place": -1}, by=by, at=NOW)

    def test_one_that_has_something_cannot_be_deleted(self, mill: Workshop) -> None:
        with pytest.raises(ProtectedError):
            mill.delete()

    def test_a_kind_is_not_the_same_as_itself_or_as_a_cure(self, shop: None) -> None:
        cutting, cure = (OperationKind.objects.get(name=name) for name in ("Cutting", "Cure"))
        for row, other in ((cutting, cutting), (cure, cutting)):
            row.same_as = other
            with pytest.raises(IntegrityError), transaction.atomic():
                row.save()


class TestPeople:
    def test_somebody_new_is_of_the_workshop_given(self, mill: Workshop, by: Actor) -> None:
        assert people.add_person("Olga Stern", mill, by=by, at=NOW).workshop == mill

    def test_a_skill_at_a_station_of_another_workshop_is_refused(self, mill: Workshop, by: Actor) -> None:
        station = Station.objects.get(slug="beveling-mill-street")
        with pytest.raises(Refused, match="Beveling Mill Street is at another workshop than Mara Lind"):
            people.set_skills(cast.person("Mara"), {station: Decimal(1)}, by=by, at=NOW)

    def test_who_goes_to_another_workshop_leaves_skills_and_work_behind(
        self, mill: Workshop, by: Actor
    ) -> None:
        mara = cast.person("Mara")
        operation = cast.operation_of(cast.make_panel(cast.make_job()), "Beveling")
        pin_person(operation, mara, by=by, at=NOW)
        moved = people.change_person(mara, {"workshop": mill}, by=by, at=NOW)
        operation.refresh_from_db()
        assert moved.workshop == mill
        assert not moved.skills.exists()
        assert operation.pinned_person is None
        event = Event.objects.get(subject="person", verb="changed")
        assert (event.before["workshop"], event.after["workshop"]) == ("Lakeside", "Mill Street")

    def test_whose_timer_runs_stays(self, mill: Workshop, by: Actor) -> None:
        jonas = cast.person("Jonas")
        start(cast.operation_of(cast.make_panel(cast.make_job()), "Cutting"), jonas, by=by, at=NOW)
        with pytest.raises(Refused, match="timer running") as refused:
            people.change_person(jonas, {"workshop": mill}, by=by, at=at(2, "08:30"))
        assert refused.value.field == "workshop"

    @pytest.mark.parametrize("late", [False, True])
    def test_nobody_starts_what_another_workshop_makes(self, mill: Workshop, by: Actor, late: bool) -> None:
        operation = cast.operation_of(make_mill_panel(), "Cutting Mill Street")
        with pytest.raises(Refused, match="Jonas Beck works at Lakeside, and this is made at Mill Street"):
            start(operation, cast.person("Jonas"), by=by, at=NOW, late=late)
        start(operation, cast.person("Petra"), by=by, at=NOW, late=late)

    def test_nobody_writes_down_hours_of_another_workshop(self, mill: Workshop, by: Actor) -> None:
        operation = cast.operation_of(make_mill_panel(), "Cutting Mill Street")
        jonas, sentence = cast.person("Jonas"), "Jonas Beck works at Lakeside"
        with pytest.raises(Refused, match=sentence):
            log_hours(operation, jonas, NOW.date(), 60, allow=True, by=by, at=at(2, "12:00"))
        with pytest.raises(Refused, match=sentence):
            log_span(operation, jonas, NOW, at(2, "09:00"), by=by, at=at(2, "12:00"))

    def test_nobody_is_given_what_another_workshop_makes(self, mill: Workshop, by: Actor) -> None:
        operation = cast.operation_of(make_mill_panel(), "Cutting Mill Street")
        with pytest.raises(Refused, match="does not work at Cutting Mill Street"):
            pin_person(operation, cast.person("Jonas"), by=by, at=NOW)


class TestStations:
    def test_a_new_one_is_of_the_workshop_given(self, mill: Workshop, by: Actor) -> None:
        assert stations.add_station("Kiln", 1, mill, by=by, at=NOW).workshop == mill

    def test_an_unused_one_changes_its_workshop(self, mill: Workshop, by: Actor) -> None:
        blasting = Station.objects.get(name="Blasting")
        assert stations.change_station(blasting, {"workshop": mill}, by=by, at=NOW).workshop == mill

    def test_one_with_people_or_work_stays(self, mill: Workshop, by: Actor) -> None:
        cast.make_panel(cast.make_job(), kinds=("Blasting",))
        for name in ("Cutting", "Blasting"):
            with pytest.raises(Refused, match="people or work") as refused:
                stations.change_station(Station.objects.get(name=name), {"workshop": mill}, by=by, at=NOW)
            assert refused.value.field == "workshop"


class TestJobs:
    def test_a_route_leads_through_the_stations_of_the_jobs_workshop(self, mill: Workshop, by: Actor) -> None:
        job = create_job(
            title="Mill window", customer="Anna Berg", panels=[draft()], workshop=mill, by=by, at=NOW
        )
        add_panel(job, draft("Right light"), by=by, at=NOW)
        assert job.workshop == mill
        assert {row.kind.station.workshop for row in job.operations.all()} == {mill}  # type: ignore[union-attr]
        assert kinds(job)[:2] == ["Cutting Mill Street"] * 2
        assert copy_job(job, title="Again", customer="Anna Berg", by=by, at=NOW).workshop == mill

    def test_a_workshop_without_such_work_is_told_so(self, mill: Workshop, by: Actor) -> None:
        OperationKind.objects.get(name="Beveling Mill Street").delete()
        with pytest.raises(Refused, match="Mill Street has no work that is the same as Beveling"):
            create_job(title="x", customer="Anna Berg", panels=[draft()], workshop=mill, by=by, at=NOW)

    def test_work_of_another_workshop_is_not_added(self, mill: Workshop, by: Actor) -> None:
        blasting = OperationKind.objects.get(name="Blasting")
        job = make_mill_panel().job
        with pytest.raises(Refused, match="Blasting is done at Lakeside, and this job at Mill Street"):
            add_operation(job, None, blasting, estimate=60, by=by, at=NOW)
        cure = OperationKind.objects.get(name="Cure")
        assert add_operation(job, None, cure, estimate=60, by=by, at=NOW).kind == cure


class TestMovingAJob:
    def test_it_moves_with_its_work_there_and_back(self, mill: Workshop, by: Actor) -> None:
        lakeside = Workshop.objects.get(slug="lakeside")
        job = cast.make_job()
        panel = cast.make_panel(job, kinds=("Cutting", "Cure", "Assembly", "Delivery"))
        cutting = cast.operation_of(panel, "Cutting")
        pin_person(cutting, cast.person("Mara"), by=by, at=NOW)
        put_first(cutting, by=by, at=NOW)
        before = PlanState.current().revision
        moved = workshops.move_job(job, mill, why="the van is there", by=by, at=NOW)
        assert moved.workshop == mill
        assert kinds(moved) == [
            "Cutting Mill Street",
            "Cure",
            "Assembly Mill Street",
            "Delivery Mill Street",
        ]
        cutting.refresh_from_db()
        assert (cutting.pinned_person, cutting.pinned_place) == (None, None)
        event = Event.objects.filter(subject="job").first()
        assert event is not None
        assert (event.verb, event.why) == ("moved to another workshop", "the van is there")
        assert (event.before, event.after) == ({"workshop": "Lakeside"}, {"workshop": "Mill Street"})
        assert PlanState.current().revision == before + 1
        workshops.move_job(moved, lakeside, by=by, at=NOW)
        assert kinds(moved) == ["Cutting", "Cure", "Assembly", "Delivery"]

    def test_where_it_is_already_it_cannot_move(self, mill: Workshop, by: Actor) -> None:
        with pytest.raises(Refused, match="made at Mill Street already"):
            workshops.move_job(make_mill_panel().job, mill, by=by, at=NOW)

    def test_once_work_has_begun_it_stays(self, mill: Workshop, by: Actor) -> None:
        job = cast.make_job()
        start(cast.operation_of(cast.make_panel(job), "Cutting"), cast.person("Mara"), by=by, at=NOW)
        with pytest.raises(Refused, match="Cutting of Light 1 has begun: job 0412 stays at Lakeside"):
            workshops.move_job(job, mill, by=by, at=at(2, "09:00"))
        assert Operation.objects.filter(kind__name="Cutting").exists()

    def test_where_there_is_no_such_work_it_stays(self, mill: Workshop, by: Actor) -> None:
        job = cast.make_job()
        cast.make_panel(job, kinds=("Cutting", "Blasting"))
        with pytest.raises(Refused, match="Mill Street has no work that is the same as Blasting"):
            workshops.move_job(job, mill, by=by, at=NOW)
        assert kinds(job) == ["Cutting", "Blasting"]

    def test_a_closed_one_stays(self, mill: Workshop, by: Actor) -> None:
        with pytest.raises(Refused, match="reopen it first"):
            workshops.move_job(cast.make_job(stage="complete"), mill, by=by, at=NOW)


class TestKinds:
    def test_work_that_jobs_have_stays_in_its_workshop(self, mill: Workshop) -> None:
        blasting = OperationKind.objects.get(name="Blasting")
        there = Station.objects.get(slug="assembly-mill-street")
        workshops.check_kind_stays(blasting, there)
        cast.make_panel(cast.make_job(), kinds=("Blasting",))
        with pytest.raises(Refused, match="Jobs of Lakeside have this work"):
            workshops.check_kind_stays(blasting, there)
        workshops.check_kind_stays(blasting, Station.objects.get(name="Assembly"))

    def test_a_workshop_does_the_same_work_as_one_kind_only(self, mill: Workshop) -> None:
        cutting, blasting = (OperationKind.objects.get(name=name) for name in ("Cutting", "Blasting"))
        there = Station.objects.get(slug="assembly-mill-street")
        workshops.check_same_as(OperationKind(name="Blasting there"), blasting, there)
        with pytest.raises(Refused, match="does that work already, as Cutting Mill Street"):
            workshops.check_same_as(OperationKind(name="Sawing"), cutting, there)
        with pytest.raises(Refused, match="say it at those"):
            workshops.check_same_as(cutting, blasting, there)
