"""Who is bound to one workshop opens nothing of another: not by an address, not by what is chosen or sent."""

from datetime import date
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import Account, Hold, Job, Mail, Operation, OperationKind, Person, Role, Station, Workshop
from jobs.models.scope import bound_to, scope
from jobs.views.scope import OWNED, PARTS, WHOLE, named_by
from tests import cast
from tests.pages.test_roles import OURS, Route, World
from tests.workshops import make_mill_panel, make_second


def client_of(account: Account) -> Client:
    client = Client()
    client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def mill(shop: None) -> Workshop:
    mill = make_second()
    cast.make_panel(cast.make_job())
    make_mill_panel()
    return mill


def bound(role: Role, workshop: Workshop) -> Client:
    return client_of(cast.make_account(f"{role}-bound", role, workshop=workshop))


@pytest.mark.parametrize("route", [route for route in OURS if route.arguments], ids=lambda route: route.name)
def test_it_is_known_what_each_address_names(route: Route) -> None:
    if route.name.startswith(WHOLE) or not route.arguments - PARTS:
        return
    named = {argument for argument, _, _ in named_by(route.name, frozenset(route.arguments))}
    # What stands below what is named is looked up within it by its page.
    below = {"pk", "slug"} if named & {"number", "pk"} else set()
    assert not route.arguments - PARTS - named - below


def test_no_name_is_left_of_an_address_that_is_gone() -> None:
    names = [route.name for route in OURS]
    for start in (*OWNED, *WHOLE):
        assert any(name.startswith(start) for name in names), start


def test_nothing_of_another_workshop_opens(db: None) -> None:
    world = World()
    mill = make_second()
    clients = {role: bound(role, mill) for role in Role}
    for route in OURS:
        named = named_by(route.name, frozenset(route.arguments))
        if not named or route.name.startswith(WHOLE):
            continue
        client = clients[min(route.allowed, key=list(Role).index)]
        answer = client.get(world.address(route))
        if answer.status_code == 405:
            answer = client.post(world.address(route))
        assert answer.status_code == 404, route.name


def test_the_own_opens_and_the_whole_studios_does_not(db: None) -> None:
    world = World()
    make_second()
    clients = {role: bound(role, Workshop.objects.get(pk=1)) for role in Role}
    for route in OURS:
        client = clients[min(route.allowed, key=list(Role).index)]
        answer = client.get(world.address(route))
        whole = route.name.startswith(WHOLE)
        assert answer.status_code in ({403, 405} if whole else {200, 302, 303, 405}), route.name


def test_with_one_workshop_nobody_is_kept_out(shop: None) -> None:
    cast.make_panel(cast.make_job())
    client = bound(Role.LEAD, Workshop.objects.get())
    for address in ("/", "/jobs/0412/", reverse("set-up-accounts"), reverse("records")):
        assert client.get(address).status_code == 200


@pytest.mark.parametrize(
    "name", ["floor", "panels", "jobs", "dates", "load", "what-if", "materials", "hours"]
)
def test_the_own_pages_show_the_own(mill: Workshop, name: str) -> None:
    client = bound(Role.LEAD, mill)
    Hold.objects.create(job=Job.objects.get(number="0412"), reason="Scaffold", since=cast.at(2), held_by="N")
    for asked in ("", "?workshop=lakeside"):
        text = client.get(reverse(name) + asked).content.decode()
        for foreign in ("Hall window", "Mara Lind", "Scaffold", 'href="/workshops/"'):
            assert foreign not in text


def test_what_is_sent_is_of_the_own(mill: Workshop) -> None:
    client, mara = bound(Role.LEAD, mill), cast.person("Mara")
    ill = {"person": mara.pk, "until": date(2100, 1, 1), "seen": ""}
    answer = client.post(reverse("change-say", args=["ill"]), ill)
    assert answer.status_code == 422
    assert not mara.days_off.exists()
    asked = {"away": mara.pk, "away_until": "2100-01-01"}
    assert client.get(reverse("what-if"), asked).status_code == 422
    written = {"person": mara.pk, "work": "0412/1 Cutting", "day": "2026-03-02", "hours": "1"}
    assert client.post(reverse("hours-write"), written).status_code == 422
    assert client.get(f"{reverse('hours-sheet')}?person={mara.pk}").status_code == 404
    assert client.get(f"{reverse('job-new')}?copy=0412").status_code == 404


def test_a_tablet_is_of_the_workshop_of_its_station(mill: Workshop) -> None:
    station = Station.objects.get(slug="cutting-mill-street")
    tablet = cast.make_account("mill-tablet", Role.BENCH, station=station)
    client, petra = client_of(tablet), cast.person("Petra")
    assert bound_to(tablet) == mill.pk
    assert client.get("/bench/cutting/").status_code == 404
    assert "Cutting Mill Street" in client.get("/bench/?all").content.decode()
    assert 'href="/bench/cutting/"' not in client.get("/bench/?all").content.decode()
    assert client.post("/bench/cutting-mill-street/person/", {"person": petra.pk}).status_code == 303
    theirs = cast.operation_of(Job.objects.get(number="0412").panels.get(), "Cutting")
    tap = reverse("bench-start", args=["cutting-mill-street", theirs.pk])
    assert client.post(tap, {"client_id": uuid4()}).status_code == 404
    own = Operation.objects.get(kind__name="Cutting Mill Street")
    tap = reverse("bench-start", args=["cutting-mill-street", own.pk])
    assert client.post(tap, {"client_id": uuid4()}).status_code == 303


def test_scope_leaves_the_rows_of_one(mill: Workshop) -> None:
    assert [job.number for job in scope(Job.objects.all(), mill.pk)] == ["0500"]
    assert [person.name for person in scope(Person.objects.all(), mill.pk)] == ["Petra Lang"]
    assert scope(Person.objects.all(), None).count() == 4
    kinds = set(scope(OperationKind.objects.all(), mill.pk).values_list("name", flat=True))
    assert {"Cure", "Lamination", "Cutting Mill Street"} <= kinds
    assert "Cutting" not in kinds
    assert not scope(Mail.objects.all(), mill.pk).exists()
    with pytest.raises(KeyError):
        scope(Account.objects.all(), mill.pk)
