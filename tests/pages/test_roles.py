"""Every route by every role and by nobody: who may open it, and that the office never sees what an hour costs.

A route that is new needs nothing here when its arguments are among DEFAULTS; otherwise give an example in EXAMPLES.
"""

from collections.abc import Callable, Iterator
from datetime import date, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.contrib.auth.models import Group
from django.contrib.auth.views import LogoutView
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone
from django.views.i18n import set_language

from jobs.actions import Actor
from jobs.actions.api_tokens import make_token
from jobs.actions.mail_drafts import write_draft
from jobs.actions.photos import add_photo
from jobs.actions.quotes import make_quote
from jobs.models import (
    ClosedDay,
    DayChange,
    DayOff,
    ExtraHours,
    Gate,
    Glass,
    Hold,
    LateTap,
    Person,
    Role,
    SignedIn,
    Tablet,
    TimeEntry,
)
from jobs.models.approvals import shown_of
from jobs.views.account import SignIn
from jobs.views.codes import sign_in_code
from jobs.views.tablets import pair, pair_again
from tests import cast
from tests.photos import picture

LEAD, OFFICE, BENCH = frozenset({Role.LEAD}), frozenset({Role.OFFICE}), frozenset({Role.BENCH})
EVERYBODY = LEAD | OFFICE | BENCH

# Who may open what, by the first part of the address; the longest that fits counts.
POLICY: dict[str, frozenset[Role]] = {
    "": LEAD | OFFICE,
    "account/": EVERYBODY,
    "changed/": LEAD,
    "bench/": LEAD | BENCH,
    "dates/better-order/": LEAD,
    "dates/look-back/now/": LEAD,
    "history/": LEAD,
    "hours/": LEAD,
    "late/": LEAD,
    "papers/": EVERYBODY,
    "photos/": EVERYBODY,
    "photos/<int:pk>/change/": LEAD | OFFICE,
    "papers/<str:number>/all/": LEAD | OFFICE,
    "papers/<str:number>/crates/": LEAD | OFFICE,
    "papers/letters/": LEAD | OFFICE,
    "papers/materials/": LEAD | OFFICE,
    "papers/quotes/": LEAD | OFFICE,
    "rates/change/": LEAD,
    "s/": EVERYBODY,
    "set-up/": LEAD,
}
# The start sends a tablet on to its bench, and everybody has a password.
EXCEPTIONS: dict[str, frozenset[Role]] = {"floor": EVERYBODY, "password": EVERYBODY, "pulse": EVERYBODY}
# Secret links open these to whoever has them, and to nobody else: tests/customer_page/.
BY_LINK = "c/"
# A token opens these to another program, and to nobody else: tests/api/.
BY_TOKEN = "api/"
# Everybody may sign in and out and choose a language, also who has not.
OPEN = {
    "sign-in": SignIn,
    "sign-out": LogoutView,
    "language": set_language,
    "pair": pair,
    "sign-in-code": sign_in_code,
    "pair-again": pair_again,
}


def newest_session() -> UUID:
    """Of whoever is to ask; of nobody's where nobody is signed in."""
    row = SignedIn.objects.order_by("-since").first()
    return row.handle if row else uuid4()


# Arguments with which every route finds something: keys are counted on in `world`, which starts an empty database.
DEFAULTS: dict[str, Callable[["World"], Any]] = {
    "number": lambda world: "0412",
    "panel": lambda world: 1,
    "slug": lambda world: "cutting",
    "year": lambda world: 2026,
    "off": lambda world: world.day_off.pk,
    "extra": lambda world: world.extra.pk,
}
EXAMPLES: dict[str, Callable[["World"], dict[str, Any]]] = {
    "change-say": lambda world: {"kind": "ill"},
    "change-take-back": lambda world: {"pk": world.change.pk},
    "set-up-workshop": lambda world: {"pk": world.job.workshop_id},
    "set-up-station": lambda world: {"pk": world.operation.kind.station_id},
    "set-up-closed-day-remove": lambda world: {"pk": world.closed.pk},
    "set-up-token-revoke": lambda world: {"pk": world.token.pk},
    "set-up-account": lambda world: {"pk": world.accounts[Role.OFFICE].pk},
    "set-up-account-password": lambda world: {"pk": world.accounts[Role.OFFICE].pk},
    "set-up-tablet-do": lambda world: {"pk": world.tablet.pk, "verb": "code"},
    "account-code-do": lambda world: {"verb": "begin"},
    "session-end": lambda world: {"handle": newest_session()},
    "set-up-session-end": lambda world: {"handle": newest_session()},
    "set-up-account-groups": lambda world: {"pk": world.accounts[Role.OFFICE].pk},
    "set-up-group": lambda world: {"pk": world.group.pk},
    "set-up-group-remove": lambda world: {"pk": world.group.pk},
    "set-up-account-code-off": lambda world: {"pk": world.accounts[Role.OFFICE].pk},
    "set-up-account-end": lambda world: {"pk": world.accounts[Role.LEAD].pk},
    "bench-answer": lambda world: {"pk": world.entry.pk},
    "bench-hours-correct": lambda world: {"pk": world.entry.pk},
    "bench-hours-take-back": lambda world: {"pk": world.entry.pk},
    "bench-drawing": lambda world: {"pk": world.drawn.pk, "copy": 1},
    "bench-drawing-marks": lambda world: {"pk": world.drawn.pk, "copy": 1},
    "bench-mark": lambda world: {"pk": world.drawn.pk},
    "bench-broke": lambda world: {"pk": world.drawn.pk},
    "job-change": lambda world: {"group": "about"},
    "panel-change": lambda world: {"group": "about"},
    "gate-do": lambda world: {"kind": "deposit", "verb": "clear"},
    "operation-do": lambda world: {"pk": world.operation.pk, "verb": "estimate"},
    "late-settle": lambda world: {"pk": world.late.pk},
    "hold-release": lambda world: {"pk": world.hold.pk},
    "mail": lambda world: {"pk": world.mail.pk},
    "mail-do": lambda world: {"pk": world.mail.pk, "verb": "save"},
    "mail-paper": lambda world: {"pk": world.mail.pk, "slug": str(world.mail.attached.get().pk)},
    "set-up-mail-words": lambda world: {"kind": "ready"},
    "set-up-mail-usual": lambda world: {"kind": "ready"},
    "set-up-calendar-do": lambda world: {"verb": "make"},
    "photo-do": lambda world: {"pk": world.photo.pk, "verb": "share"},
    "quote": lambda world: {"version": 1},
    "quote-do": lambda world: {"version": 1, "verb": "send"},
    "quote-paper": lambda world: {"version": 1},
    "letter": lambda world: {"paper": "delivery"},
    "customer-link-do": lambda world: {"verb": "make"},
    "drawing-approval": lambda world: {"pk": world.approval.pk},
    "need-do": lambda world: {"pk": world.need.pk, "verb": "order"},
    "scan-panel": lambda world: {"pk": world.panel.pk},
    "scan-work": lambda world: {"pk": world.panel.pk},
    "pattern-do": lambda world: {"version": world.pattern.version, "verb": "accept"},
}
PK: dict[str, Callable[["World"], int]] = {
    "set-up-": lambda world: world.mara.pk,
    "bench-": lambda world: world.operation.pk,
    "hours-": lambda world: world.entry.pk,
    "photo": lambda world: world.photo.pk,
}


class World:
    """One of everything that an address names, and a client of each role."""

    def __init__(self) -> None:
        cast.make_studio()
        cast.make_shop()
        Person.objects.update(hourly_cost=Decimal("31.37"))
        self.mara = cast.person("Mara")
        self.job = cast.make_job("0412", notes="")
        self.panel = panel = cast.make_panel(self.job)
        self.operation = cast.operation_of(panel, "Cutting")
        self.hold = Hold.objects.create(
            operation=cast.operation_of(panel, "Assembly"), reason="Glass", since=cast.at(2), held_by="Nora"
        )
        Gate.objects.create(job=self.job, kind="deposit")
        self.entry = TimeEntry.objects.create(
            person=self.mara,
            operation=self.operation,
            started_at=cast.at(2, "08:00"),
            stopped_at=cast.at(2, "09:00"),
            minutes=60,
        )
        self.late = LateTap.objects.create(
            client_id=uuid4(),
            verb="start",
            person=self.mara,
            operation=self.operation,
            happened_at=cast.at(2, "08:00"),
            came_at=cast.at(2, "10:00"),
            sentence="Jonas Beck had it on the bench.",
        )
        self.change = DayChange.objects.create(
            kind="down",
            station=self.operation.kind.station,
            since=cast.at(2),
            until=date(2100, 1, 1),
            written_by="Nora",
        )
        self.day_off = DayOff.objects.create(person=self.mara, first=date(2026, 3, 9), last=date(2026, 3, 9))
        self.extra = ExtraHours.objects.create(
            person=self.mara, day=date(2026, 3, 7), start=time(8), stop=time(12)
        )
        self.closed = ClosedDay.objects.create(day=date(2026, 5, 1))
        self.accounts = {role: cast.make_account(role.value, role) for role in Role}
        self.tablet = Tablet.objects.create(
            name="Bevel 1", account=self.accounts[Role.BENCH], made_at=timezone.now()
        )
        self.group = Group.objects.create(name="Rates")
        self.pattern = cast.make_pattern(panel, self.accounts[Role.OFFICE])
        measured = cast.make_panel(cast.make_job("0413"))
        cast.make_accepted(measured, self.accounts[Role.OFFICE])
        self.drawn = cast.operation_of(measured, "Cutting")
        office = Actor(account=self.accounts[Role.OFFICE])
        self.approval = panel.approvals.create(
            digest="0" * 64, shown=shown_of(panel), name="Anna Berg", at=cast.at(3)
        )
        # Of whichever zone: this day is not over in any.
        self.tomorrow = timezone.now().date() + timedelta(days=1)
        lead = Actor(account=self.accounts[Role.LEAD])
        self.token = make_token("books", "floor", self.tomorrow, by=lead, at=timezone.now())[0]
        self.mail = write_draft(self.job, "ready", by=office, at=timezone.now())
        self.mail.attached.create(name="0412-care.pdf", content=b"%PDF-")
        self.quote = make_quote(self.job, by=office, at=timezone.now())
        self.photo = add_photo(panel, picture(), by=office, at=cast.at(3))
        self.need = self.job.needs.create(
            glass=Glass.objects.get(name="Red"), amount=Decimal(1), unit="m²", gate="glass"
        )

    def client(self, role: Role | None) -> Client:
        client = Client()
        if role is not None:
            client.force_login(self.accounts[role], backend="django.contrib.auth.backends.ModelBackend")
        return client

    def address(self, route: "Route") -> str:
        arguments = EXAMPLES[route.name](self) if route.name in EXAMPLES else {}
        for name in route.arguments - arguments.keys():
            find = DEFAULTS.get(name)
            if name == "pk":
                find = next((PK[start] for start in PK if route.name.startswith(start)), None)
            assert find is not None, f"Give an example of “{name}” for “{route.name}” in EXAMPLES."
            arguments[name] = find(self)
        return reverse(route.name, kwargs=arguments)


class Route:
    def __init__(self, pattern: URLPattern, where: str) -> None:
        self.name = pattern.name or ""
        self.where = where
        self.view = pattern.callback
        self.arguments = set(pattern.pattern.converters)

    @property
    def allowed(self) -> frozenset[Role]:
        if self.name in EXCEPTIONS:
            return EXCEPTIONS[self.name]
        return POLICY[max((start for start in POLICY if self.where.startswith(start)), key=len)]


def walk(patterns: list[URLPattern | URLResolver], before: str = "") -> Iterator[Route]:
    for pattern in patterns:
        where = f"{before}{pattern.pattern}"
        if isinstance(pattern, URLPattern):
            yield Route(pattern, where)
        elif pattern.namespace != "admin":
            yield from walk(pattern.url_patterns, where)


ROUTES = list(walk(get_resolver().url_patterns))
LINKED = [route for route in ROUTES if route.where.startswith(BY_LINK)]
TOLD = [route for route in ROUTES if route.where.startswith(BY_TOKEN)]
OURS = [route for route in ROUTES if route.name not in OPEN and route not in (*LINKED, *TOLD)]
by_route = pytest.mark.parametrize("route", OURS, ids=[route.name for route in OURS])


@pytest.fixture
def world(db: None) -> World:
    return World()


def to_sign_in(answer: HttpResponse) -> bool:
    return answer.status_code == 302 and answer["Location"].startswith(f"{reverse('sign-in')}?next=")


def test_every_route_has_a_name_of_its_own() -> None:
    names = [route.name for route in ROUTES]
    assert len(names) > 40
    assert "" not in names
    assert sorted(names) == sorted(set(names))


def test_no_example_is_left_of_a_route_that_is_gone() -> None:
    assert {*EXAMPLES, *EXCEPTIONS, *OPEN} <= {route.name for route in ROUTES}


@by_route
def test_a_view_says_who_may_open_it_as_the_policy_does(route: Route) -> None:
    assert getattr(route.view, "roles", None) == route.allowed


def test_open_to_everybody_is_only_the_way_in_and_out() -> None:
    closed = {
        route.name
        for route in ROUTES
        if any(hasattr(route.view, way) for way in ("roles", "by_link", "by_token"))
    }
    opened = {
        route.name: getattr(route.view, "view_class", route.view)
        for route in ROUTES
        if route.name not in closed
    }
    assert opened == OPEN


def test_what_secret_links_open_is_all_of_one_part_of_the_addresses() -> None:
    assert LINKED
    assert [route for route in ROUTES if hasattr(route.view, "by_link")] == LINKED


def test_what_tokens_open_is_all_of_another_part() -> None:
    assert TOLD
    assert [route for route in ROUTES if hasattr(route.view, "by_token")] == TOLD


@by_route
def test_a_route_opens_for_whom_it_should(world: World, route: Route) -> None:
    for role in (*Role, None):
        with transaction.atomic():
            _opens_for_whom_it_should(world, route, role)
            transaction.set_rollback(True)


def _opens_for_whom_it_should(world: World, route: Route, role: Role | None) -> None:
    client, address = world.client(role), world.address(route)
    answer = client.get(address)
    only_post = answer.status_code == 405
    if only_post:
        assert "POST" in answer["Allow"]
        answer = client.post(address)
    if role is None:
        assert to_sign_in(answer)
    elif role not in route.allowed:
        assert answer.status_code == 403, role
    else:
        # A post without what it needs may be refused, never missed and never broken.
        assert answer.status_code in ({200, 302, 303, 400, 422} if only_post else {200, 302, 303}), role
        assert not to_sign_in(answer), role


@by_route
def test_nobody_gets_in_by_posting(world: World, route: Route) -> None:
    for role in {*Role, None} - route.allowed:
        answer = world.client(role).post(world.address(route))
        if answer.status_code != 405:
            assert to_sign_in(answer) if role is None else answer.status_code == 403


@pytest.mark.parametrize("name", OPEN)
@pytest.mark.parametrize("role", [*Role, None], ids=[*Role, "nobody"])
def test_the_way_in_and_out_is_open(world: World, name: str, role: Role | None) -> None:
    answer = world.client(role).get(reverse(name))
    if name in ("sign-out", "pair-again"):
        assert answer.status_code == 405
    elif name == "pair":
        # A tablet that is signed in pairs as it is.
        assert answer.status_code == 200
    elif name in ("language", "sign-in-code"):
        assert answer.status_code == 302
    else:
        # Who is in already is sent to where they work.
        assert answer.status_code == (200 if role is None else 302)


@by_route
def test_the_office_never_sees_what_an_hour_costs(world: World, route: Route) -> None:
    if Role.OFFICE not in route.allowed:
        return
    client, address = world.client(Role.OFFICE), world.address(route)
    for answer in (client.get(address, follow=True), client.post(address)):
        text = b"".join(answer).decode(errors="replace").lower()
        assert "31.37" not in text
        assert "hourly cost" not in text
        assert "hourly_cost" not in text


def test_the_check_for_what_an_hour_costs_would_see_it(world: World) -> None:
    address = reverse("set-up-person", args=[world.mara.pk])
    assert "31.37" in world.client(Role.LEAD).get(address).content.decode()


@pytest.mark.parametrize("address", ["/nowhere/", "/set-up/people/999999/", "/jobs/nowhere-1/"])
def test_what_is_not_there_is_not_there(world: World, address: str) -> None:
    answer = world.client(Role.LEAD).get(address)
    assert answer.status_code == 404
    assert "There is nothing here" in answer.content.decode()
