"""Several workshops on the pages: nothing of them with one; each page of one or of all with two; the overview."""

from datetime import timedelta
from typing import Any
from urllib.parse import urlencode

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.bench import start
from jobs.actions.plan import replan
from jobs.models import Account, Job, OperationKind, Person, Route, Station, Studio, Workshop
from tests import cast
from tests.workshops import make_mill_panel, make_second

PAGES = ("floor", "panels", "jobs", "dates", "load", "what-if")


@pytest.fixture
def mill(shop: None) -> Workshop:
    """Mill Street with job 0500, beside job 0412 of Lakeside; both are planned."""
    mill = make_second()
    cast.make_panel(cast.make_job())
    make_mill_panel()
    replan(at=timezone.now(), futures=20, force=True)
    return mill


def words(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


class TestOne:
    @pytest.mark.parametrize(
        "name", [*PAGES, "set-up-stations", "set-up-people", "set-up-accounts", "job-new"]
    )
    def test_nothing_is_said_of_workshops(self, lead_client: Client, name: str) -> None:
        cast.make_panel(cast.make_job())
        assert "orkshop" not in words(lead_client, reverse(name))

    def test_the_overview_is_the_floor(self, lead_client: Client) -> None:
        answer = lead_client.get(reverse("workshops"))
        assert (answer.status_code, answer["Location"]) == (302, "/")

    def test_how_many_there_are_costs_no_query(
        self, office_client: Client, django_assert_num_queries: Any
    ) -> None:
        office_client.get("/jobs/")
        with django_assert_num_queries(1):
            assert not Studio.current().has_several_workshops

    def test_an_address_that_names_one_is_as_without(self, office_client: Client) -> None:
        assert office_client.get("/jobs/?workshop=elsewhere").status_code == 200


class TestTwo:
    @pytest.mark.parametrize("name", ["panels", "jobs", "dates"])
    def test_a_page_shows_one_or_all(self, lead_client: Client, mill: Workshop, name: str) -> None:
        address = reverse(name)
        every = words(lead_client, address)
        assert "0412" in every
        assert "0500" in every
        theirs = words(lead_client, f"{address}?workshop=mill-street")
        assert "0412" not in theirs
        assert "0500" in theirs
        assert 'href="/dates/?workshop=mill-street"' in theirs

    def test_the_floor_shows_one_or_all(self, lead_client: Client, mill: Workshop) -> None:
        every = words(lead_client, "/")
        assert 'id="station-beveling"' in every
        assert 'id="station-beveling-mill-street"' in every
        theirs = words(lead_client, "/?workshop=mill-street")
        assert 'id="station-beveling"' not in theirs
        assert 'id="station-beveling-mill-street"' in theirs
        assert "is the tightest" in theirs
        assert 'id="station-beveling"' in words(lead_client, "/?workshop=lakeside")

    def test_load_and_what_if_leave_others_out(self, lead_client: Client, mill: Workshop) -> None:
        for page in ("load", "what-if"):
            theirs = words(lead_client, f"{reverse(page)}?workshop=mill-street")
            assert "Petra Lang" in theirs
            assert "Mara Lind" not in theirs
            assert "Mara Lind" in words(lead_client, reverse(page))

    def test_the_week_for_the_wall_is_of_one(self, lead_client: Client, mill: Workshop) -> None:
        answer = lead_client.get(f"{reverse('paper-week')}?workshop=mill-street")
        assert answer["Content-Type"] == "application/pdf"

    def test_no_such_workshop_is_not_there(self, lead_client: Client, mill: Workshop) -> None:
        assert lead_client.get("/jobs/?workshop=elsewhere").status_code == 404

    def test_a_bench_names_the_people_of_its_workshop(self, lead_client: Client, mill: Workshop) -> None:
        page = words(lead_client, "/bench/beveling-mill-street/")
        assert "Petra Lang" in page
        assert "Mara Lind" not in page
        mara = {"person": cast.person("Mara").pk}
        assert lead_client.post("/bench/beveling-mill-street/person/", mara).status_code == 422


class TestOverview:
    def test_each_workshop_has_a_row(self, office_client: Client, mill: Workshop) -> None:
        petra = cast.person("Petra")
        job = Job.objects.get(number="0500")
        start(
            cast.operation_of(job.panels.get(), "Cutting Mill Street"),
            petra,
            by=Actor(person=petra),
            at=timezone.now() - timedelta(minutes=1),
        )
        page = words(office_client, reverse("workshops"))
        lakeside, theirs = page.split('aria-labelledby="workshop-mill-street"')
        assert "Nobody now." in lakeside
        assert 'href="/?workshop=lakeside"' in lakeside
        assert "Petra Lang" in theirs
        assert "is the tightest" in theirs
        assert "1 open job" in theirs
        assert "None at risk." in theirs

    def test_it_says_what_is_at_risk_and_what_leaves(
        self, office_client: Client, office: Account, mill: Workshop
    ) -> None:
        job = Job.objects.get(number="0412")
        job.operations.create(kind=OperationKind.objects.get(name="Delivery"), estimate=60)
        job.promises.create(
            day=timezone.localdate() - timedelta(days=2),
            given_at=timezone.now(),
            given_by=office,
            told="Vicar",
        )
        lakeside, theirs = words(office_client, reverse("workshops")).split(
            'aria-labelledby="workshop-mill-street"'
        )
        assert "1 at risk" in lakeside
        assert "Delivery" in lakeside
        assert "Nothing yet." in theirs

    def test_the_number_of_queries_does_not_grow(
        self, office_client: Client, mill: Workshop, django_assert_max_num_queries: Any
    ) -> None:
        for number in range(3):
            Workshop.objects.create(name=f"Shed {number}", slug=f"shed-{number}")
        office_client.get(reverse("workshops"))
        with django_assert_max_num_queries(20):
            office_client.get(reverse("workshops"))


class TestSetUp:
    def test_the_lead_adds_a_workshop_and_names_the_first(self, lead_client: Client) -> None:
        address = reverse("set-up-workshops")
        assert address in words(lead_client, reverse("set-up"))
        assert lead_client.post(address, {"name": "Mill Street"}).status_code == 302
        first = reverse("set-up-workshop", args=[1])
        assert lead_client.post(first, {"name": "Lakeside", "place": 0}).status_code == 302
        page = words(lead_client, address)
        assert 'value="Mill Street"' in page
        assert 'value="Lakeside"' in page

    def test_what_is_refused_stands_beside_what_was_typed(self, lead_client: Client) -> None:
        for address, typed in (("set-up-workshops", {"name": "workshop"}),):
            answer = lead_client.post(reverse(address), typed)
            assert answer.status_code == 422
            assert "There is a workshop workshop already." in answer.content.decode()
        answer = lead_client.post(reverse("set-up-workshop", args=[1]), {"name": "W", "place": -1})
        assert answer.status_code == 422
        assert "from 0 on" in answer.content.decode()

    def test_stations_and_people_are_of_the_workshop_chosen(
        self, lead_client: Client, mill: Workshop
    ) -> None:
        station = {"name": "Kiln", "benches": 1, "workshop": mill.pk}
        assert lead_client.post(reverse("set-up-stations"), station).status_code == 302
        assert Station.objects.get(name="Kiln").workshop == mill
        person = {"name": "Olga Stern", "workshop": mill.pk}
        assert lead_client.post(reverse("set-up-people"), person).status_code == 302
        olga = Person.objects.get(name="Olga Stern")
        assert olga.workshop == mill
        page = words(lead_client, reverse("set-up-person", args=[olga.pk]))
        assert "Beveling Mill Street" in page
        assert "Blasting" not in page
        typed = {"name": "Olga Stern", "hourly_cost": 30, "active": "on", "workshop": 1}
        assert lead_client.post(reverse("set-up-person", args=[olga.pk]), typed).status_code == 302
        olga.refresh_from_db()
        assert olga.workshop_id == 1

    def test_a_lead_of_one_workshop_has_no_admin(self, lead_client: Client, mill: Workshop) -> None:
        typed = {"username": "mill-lead", "role": "lead", "password": "a wheel of cork", "workshop": mill.pk}
        assert lead_client.post(reverse("set-up-accounts"), typed).status_code == 302
        made = Account.objects.get(username="mill-lead")
        assert (made.workshop, made.is_staff) == (mill, False)

    def test_the_last_lead_of_all_stays_so(self, lead_client: Client, lead: Account, mill: Workshop) -> None:
        typed = {"username": "lead", "role": "lead", "workshop": mill.pk}
        answer = lead_client.post(reverse("set-up-account", args=[lead.pk]), typed)
        assert answer.status_code == 422
        assert "last account of a lead" in answer.content.decode()


class TestJobs:
    def test_a_new_job_is_of_the_workshop_chosen(self, office_client: Client, mill: Workshop) -> None:
        typed = {
            "title": "Porch",
            "customer": "Anna Berg",
            "stage": "ordered",
            "workshop": mill.pk,
            "panel-TOTAL_FORMS": 1,
            "panel-INITIAL_FORMS": 1,
            "panel-0-name": "Left",
            "panel-0-route": 1,
            "panel-0-width_mm": "600 mm",
            "panel-0-height_mm": "900 mm",
            "panel-0-thickness_mm": "6 mm",
            "panel-0-pieces": 10,
            "panel-0-copies": 1,
        }
        assert 'name="workshop"' in words(office_client, reverse("job-new"))
        typed["panel-0-route"] = OperationKind.objects.get(name="Cutting").route_steps.get().route_id
        assert office_client.post(reverse("job-new"), typed).status_code == 303
        job = Job.objects.get(title="Porch")
        assert job.workshop == mill
        assert job.operations.filter(kind__name="Cutting Mill Street").exists()

    def test_a_job_moves_from_its_page(self, office_client: Client, mill: Workshop) -> None:
        job = Job.objects.get(number="0412")
        assert "Lakeside makes it." in words(office_client, job.get_absolute_url())
        move = reverse("job-change", args=["0412", "workshop"])
        assert "Mill Street" in words(office_client, f"{job.get_absolute_url()}?edit=workshop")
        assert office_client.post(move, {"workshop": mill.pk, "why": "room"}).status_code == 303
        job.refresh_from_db()
        assert job.workshop == mill

    def test_a_job_that_has_begun_says_why_it_stays(self, office_client: Client, mill: Workshop) -> None:
        mara = cast.person("Mara")
        cutting = cast.operation_of(Job.objects.get(number="0412").panels.get(), "Cutting")
        start(cutting, mara, by=Actor(person=mara), at=timezone.now())
        answer = office_client.post(reverse("job-change", args=["0412", "workshop"]), {"workshop": mill.pk})
        assert answer.status_code == 422
        assert "has begun: job 0412 stays at Lakeside" in answer.content.decode()

    def test_with_one_workshop_there_is_no_such_verb(self, office_client: Client) -> None:
        cast.make_job()
        assert office_client.post(reverse("job-change", args=["0412", "workshop"]), {}).status_code == 404


class TestTryingOut:
    def test_a_new_job_is_tried_at_the_benches_of_the_workshop(
        self, office_client: Client, mill: Workshop
    ) -> None:
        asked = {"route": Route.objects.get().pk, "pieces": 40, "workshop": "mill-street"}
        page = words(office_client, f"{reverse('what-if')}?{urlencode(asked)}")
        assert "0500" in page
        assert "0412" not in page

    def test_nobody_learns_a_station_of_another_workshop(self, office_client: Client, mill: Workshop) -> None:
        station = Station.objects.get(slug="cutting-mill-street")
        asked = {"trained": cast.person("Ilse").pk, "trained_at": station.pk}
        answer = office_client.get(reverse("what-if"), asked)
        assert answer.status_code == 422
        page = answer.content.decode()
        assert "Cutting Mill Street is at another workshop than Ilse Roth" in page

    def test_what_is_late_is_chosen_among_the_own(self, lead_client: Client, mill: Workshop) -> None:
        for number in ("0412", "0500"):
            Job.objects.get(number=number).gates.create(kind="deposit")
        page = words(lead_client, f"{reverse('change-say', args=['late'])}?workshop=mill-street")
        assert "0500: deposit in" in page
        assert "0412: deposit in" not in page


def test_what_the_plan_asks_names_the_workshop(lead_client: Client, mill: Workshop) -> None:
    cast.person("Petra").skills.filter(station__slug="cutting-mill-street").delete()
    replan(at=timezone.now(), futures=20, force=True)
    sentence = "0500: nobody works at Cutting Mill Street, where Cutting Mill Street is done."
    assert f"{sentence} (Mill Street)" in words(lead_client, "/")
    assert "(Mill Street)" not in words(lead_client, "/?workshop=mill-street")
    assert sentence not in words(lead_client, "/?workshop=lakeside")
