"""Every address with ids that belong to somebody else: it is answered as if there were nothing, and nothing changes.

The world has two sides with the same things in them, numbered so that none has a number of the other. The test walks
the URL conf: an address with more than one id is asked for with each of its ids taken from the other side; one with a
single id needs a line in WHOLE that says why whoever may open the page may name any. A new address without either
fails. Who may open which page at all is test_roles.py's.
"""

from collections.abc import Callable, Iterator
from datetime import date, time, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.contrib.auth.models import Group
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.api_tokens import make_token
from jobs.actions.calendars import make_calendar_link
from jobs.actions.customer_links import Shared, make_link
from jobs.actions.mail_drafts import write_draft
from jobs.actions.photos import add_photo, share_photo
from jobs.actions.quotes import make_quote
from jobs.models import (
    Account,
    ClosedDay,
    Customer,
    DayChange,
    DayOff,
    ExtraHours,
    Gate,
    Glass,
    Hold,
    Job,
    LateTap,
    Role,
    SignedIn,
    Station,
    Tablet,
    TimeEntry,
)
from jobs.models.approvals import shown_of
from jobs.views import tablet
from tests import cast
from tests.pages.test_roles import LINKED, ROUTES, Route
from tests.photos import picture
from tests.rows import writes

# What the other side is called, wherever it has a name: no answer to a wrong address may hold any of it.
THEIRS = ("Heron", "heron", "0977")


class Side:
    """A job with one of everything under it; a person with hours, a station with work, links, an account."""

    def __init__(self, job: Job, place: int, person: str, kind: str, by: dict[Role, Account]) -> None:
        office = Actor(account=by[Role.OFFICE])
        self.job, self.place, self.person = job, place, cast.person(person)
        self.panel = panel = cast.make_panel(job, place, name=f"{job.title} light")
        self.pattern = cast.make_accepted(panel, by[Role.OFFICE])
        type(self.pattern).objects.filter(pk=self.pattern.pk).update(version=place)
        self.operation = cast.operation_of(panel, kind)
        self.station = self.operation.kind.station
        self.gate = Gate.objects.create(job=job, kind="deposit")
        self.hold = Hold.objects.create(
            operation=self.operation, reason=f"{job.title} glass", since=cast.at(2), held_by="Nora"
        )
        self.entry = TimeEntry.objects.create(
            person=self.person,
            operation=cast.operation_of(panel, "Assembly"),
            started_at=cast.at(2, "08:00"),
            stopped_at=cast.at(2, "09:00"),
            minutes=60,
            questioned=True,
        )
        self.late = LateTap.objects.create(
            client_id=uuid4(),
            verb="start",
            person=self.person,
            operation=self.operation,
            happened_at=cast.at(2, "08:00"),
            came_at=cast.at(2, "10:00"),
            sentence=f"{job.title} was on the bench.",
        )
        until = date(2100, 1, 1)
        self.change = DayChange.objects.create(
            kind="down", station=self.station, since=cast.at(2), until=until, written_by="Nora"
        )
        day = date(2026, 3, 9 + place)
        self.off = DayOff.objects.create(person=self.person, first=day, last=day)
        self.extra = ExtraHours.objects.create(person=self.person, day=day, start=time(17), stop=time(18))
        self.closed = ClosedDay.objects.create(day=date(2026, 5, place))
        self.group = Group.objects.create(name=job.title)
        self.account = cast.make_account(f"of-{job.number}", Role.BENCH, station=self.station)
        lead = Actor(account=by[Role.LEAD])
        self.token = make_token(job.title, "floor", timezone.localdate(), by=lead, at=timezone.now())[0]
        self.tablet = Tablet.objects.create(name=job.title, account=self.account, made_at=cast.at(2))
        at_home = Client()
        at_home.force_login(self.account, backend="django.contrib.auth.backends.ModelBackend")
        self.signed_in = SignedIn.objects.get(account=self.account)
        self.approval = panel.approvals.create(
            digest="0" * 64, shown=shown_of(panel), name=job.title, at=cast.at(3)
        )
        self.mail = write_draft(job, "ready", by=office, at=timezone.now())
        self.paper = self.mail.attached.create(name=f"{job.number}-care.pdf", content=b"%PDF-")
        self.quote = make_quote(job, by=office, at=timezone.now())
        type(self.quote).objects.filter(pk=self.quote.pk).update(version=place)
        self.photo = add_photo(panel, picture(), by=office, at=cast.at(3))
        share_photo(self.photo, by=office, at=cast.at(3))
        red = Glass.objects.get(name="Red")
        self.need = job.needs.create(glass=red, amount=1, unit="m²", gate="glass")
        shared = Shared(
            last_day=timezone.localdate() + timedelta(days=90), shows_prices=True, shows_papers=True
        )
        self.link = make_link(job, shared, by=office, at=timezone.now())
        self.calendar = make_calendar_link(self.person, by=Actor(account=by[Role.LEAD]), at=timezone.now())


class World:
    """Two sides, and a client of each role; the tablet stands at our station, with our person's name tapped."""

    def __init__(self) -> None:
        cast.make_studio()
        cast.make_shop()
        cast.make_glass()
        self.accounts = {role: cast.make_account(role.value, role) for role in Role}
        ours = cast.make_job("0412")
        heron = Customer.objects.create(name="Heron House", email="heron@heron.example", contact="Lady Heron")
        theirs = cast.make_job("0977", title="Heron window", customer=heron)
        self.ours = Side(ours, 1, "Mara", "Beveling", self.accounts)
        self.theirs = Side(theirs, 2, "Jonas", "Cutting", self.accounts)
        tablet_of = self.accounts[Role.BENCH]
        tablet_of.station = Station.objects.get(name="Beveling")
        tablet_of.save()
        self._clients = {role: self.new_client(role) for role in Role}

    def client(self, role: Role | None) -> Client:
        return Client() if role is None else self._clients[role]

    def new_client(self, role: Role) -> Client:
        client = Client()
        client.force_login(self.accounts[role], backend="django.contrib.auth.backends.ModelBackend")
        session = client.session
        session[tablet.KEY] = {"person": self.ours.person.pk, "seen": int(timezone.now().timestamp())}
        session.save()
        return client


type Find = Callable[[Side], Any]
# What stands for an id in an address, by the name of the argument and the start of the route's; the longest counts.
IDS: dict[str, dict[str, Find]] = {
    "number": {"": lambda side: side.job.number},
    "panel": {"": lambda side: side.panel.number},
    "version": {"": lambda side: side.place},
    "token": {"customer-": lambda side: side.link.token, "calendar-": lambda side: side.calendar.token},
    "handle": {"": lambda side: side.signed_in.handle},
    "off": {"set-up-": lambda side: side.off.pk},
    "extra": {"set-up-": lambda side: side.extra.pk},
    "slug": {
        "bench": lambda side: side.station.slug,
        "paper-bench": lambda side: side.station.slug,
        "scan-": lambda side: side.station.slug,
        "mail-paper": lambda side: str(side.paper.pk),
    },
    "pk": {
        "bench-": lambda side: side.operation.pk,
        "bench-release": lambda side: side.hold.pk,
        "bench-answer": lambda side: side.entry.pk,
        "bench-hours-": lambda side: side.entry.pk,
        "change-": lambda side: side.change.pk,
        "customer-photo": lambda side: side.photo.pk,
        "drawing-approval": lambda side: side.approval.pk,
        "hold-": lambda side: side.hold.pk,
        "hours-": lambda side: side.entry.pk,
        "late-": lambda side: side.late.pk,
        "mail": lambda side: side.mail.pk,
        "need-": lambda side: side.need.pk,
        "operation-": lambda side: side.operation.pk,
        "photo": lambda side: side.photo.pk,
        "scan-": lambda side: side.panel.pk,
        "set-up-account": lambda side: side.account.pk,
        "set-up-closed-": lambda side: side.closed.pk,
        "set-up-day-off": lambda side: side.person.pk,
        "set-up-extra-": lambda side: side.person.pk,
        "set-up-group": lambda side: side.group.pk,
        "set-up-person": lambda side: side.person.pk,
        "set-up-tablet-": lambda side: side.tablet.pk,
        "set-up-token-": lambda side: side.token.pk,
        "set-up-station": lambda side: side.station.pk,
        "set-up-workshop": lambda side: side.job.workshop_id,
    },
}
# Arguments that say what is to be done, not with what; an address has to exist with them.
WORDS: dict[str, dict[str, Any]] = {
    "kind": {"gate-": "deposit", "set-up-mail": "ready", "change-say": "ill"},
    "group": {"": "about"},
    "copy": {"bench-": 1},
    "year": {"set-up-": 2026},
    "paper": {"letter": "delivery"},
    "verb": {
        "account-code-": "begin",
        "customer-link-": "make",
        "gate-": "clear",
        "mail-": "save",
        "need-": "order",
        "operation-": "skip",
        "pattern-": "accept",
        "photo-": "unshare",
        "quote-": "send",
        "set-up-calendar-": "make",
        "set-up-tablet-": "code",
    },
    "slug": {"rate": "cutting", "rates-": "cutting", "customer-paper": "care"},
}
# Why whoever may open such a page may name any id of its kind; by the start of the address, the longest counts.
WHOLE = {
    "jobs/<str:number>/": "the office works on every job",
    "dates/<str:number>/": "the office gives days for every job",
    "papers/bench/": "the list of a bench may be printed at any",
    "papers/materials/": "the office buys for every job",
    "papers/letters/": "the office writes for every job",
    "papers/<str:number>/": "the office prints for every job",
    "materials/": "the office buys for every job",
    "mail/": "the office writes to every customer",
    "photos/": "the office sees every photo, a bench those of the floor: test_photos.py",
    "hours/": "the lead answers for everybody's hours",
    "late/": "the lead settles what came late from anybody",
    "changed/": "the lead takes back what the lead has said",
    "set-up/": "the lead sets up every station, person, account and day",
    "account/": "only ones own are found: see below",
    "s/": "a code on paper leads whoever scans it to the page that asks again",
    "bench/<slug:slug>/": "a tablet may be carried to another bench, which its own page offers",
    "c/": "the token is what opens it, and is nobody else's",
}
# Ids of which any goes with the others, each with its reason.
FREE = {
    ("bench-answer", "slug"): "hours are a person's own at whichever bench they stand",
    ("bench-hours-correct", "slug"): "hours are a person's own at whichever bench they stand",
    ("bench-hours-take-back", "slug"): "hours are a person's own at whichever bench they stand",
    ("scan-work", "slug"): "a panel may be scanned at every bench",
    ("scan-work", "pk"): "every panel may be scanned at a bench",
}


def longest[T](found: dict[str, T], name: str) -> T | None:
    starts = [start for start in found if name.startswith(start)]
    return found[max(starts, key=len)] if starts else None


def ids_of(route: Route) -> dict[str, Find]:
    """Those arguments that are ids. An argument that nobody has told the meaning of fails."""
    found = {}
    for name in sorted(route.arguments):
        find, word = longest(IDS.get(name, {}), route.name), longest(WORDS.get(name, {}), route.name)
        assert find or word, f"Say in IDS or WORDS what “{name}” of “{route.name}” is."
        # Where both would do, the one that was said of more of the name counts.
        if find and not (word and name == "slug" and route.name in WORDS["slug"]):
            found[name] = find
    return found


def words_of(route: Route) -> dict[str, Any]:
    return {name: longest(WORDS[name], route.name) for name in route.arguments - ids_of(route).keys()}


def mixed(route: Route) -> Iterator[dict[str, Callable[[World], Any]]]:
    """The arguments with each id in its turn from the other side, but those that go with any."""
    ids = ids_of(route)
    if len(ids) < 2:
        return
    for taken in ids:
        if (route.name, taken) not in FREE:
            yield {name: _of_side(find, theirs=name == taken) for name, find in ids.items()}


def _of_side(find: Find, *, theirs: bool) -> Callable[[World], Any]:
    return lambda world: find(world.theirs if theirs else world.ours)


def asked(world: World, route: Route, address: str) -> Iterator[tuple[str, Any, list[str]]]:
    """What each role that may open it is answered, and what was written meanwhile."""
    roles: list[Role | None] = sorted(getattr(route.view, "roles", ())) or [None]
    for role in roles:
        for method in ("get", "post"):
            with writes() as written:
                answer = getattr(world.client(role), method)(address)
            yield f"{method.upper()} {address} as {role or 'anybody'}", answer, written


@pytest.fixture
def world(db: None) -> World:
    return World()


NAMED = [route for route in ROUTES if route.arguments]


def test_the_walk_meets_addresses_of_every_sort() -> None:
    assert len(NAMED) > 60
    assert sum(len(list(mixed(route))) for route in NAMED) > 60


@pytest.mark.parametrize("route", NAMED, ids=[route.name for route in NAMED])
def test_an_address_with_one_id_says_why_any_may_be_named(route: Route) -> None:
    if len(ids_of(route)) == 1:
        assert longest(WHOLE, route.where), f"Say in WHOLE why any id may be named at {route.where}."


def test_no_reason_is_left_of_an_address_that_is_gone() -> None:
    for start in WHOLE:
        assert any(route.where.startswith(start) for route in NAMED), start
    for name, argument in FREE:
        assert any(route.name == name and argument in route.arguments for route in NAMED), name


def test_ids_of_somebody_else_lead_nowhere(world: World) -> None:
    wrong, asked_for = [], 0
    for route in NAMED:
        for arguments in mixed(route):
            values = words_of(route) | {name: find(world) for name, find in arguments.items()}
            for what, answer, written in asked(world, route, reverse(route.name, kwargs=values)):
                asked_for += 1
                text = b"".join(answer).decode(errors="replace") if answer.status_code != 405 else ""
                told = [word for word in THEIRS if word in text]
                if answer.status_code not in (404, 405) or written or told:
                    wrong.append((what, answer.status_code, written, told))
    assert not wrong
    assert asked_for > 200


def test_our_own_ids_lead_somewhere(world: World) -> None:
    """Else what leads nowhere above would lead nowhere anyway. Papers, which take long, are test_roles.py's."""
    lost = []
    for route in NAMED:
        if not list(mixed(route)) or route.where.startswith("papers/"):
            continue
        values = words_of(route) | {name: find(world.ours) for name, find in ids_of(route).items()}
        address = reverse(route.name, kwargs=values)
        client = world.client(next(iter(sorted(getattr(route.view, "roles", ()))), None))
        answer = client.post(address)
        answer = client.get(address) if answer.status_code == 405 else answer
        if answer.status_code not in (200, 302, 303, 422):
            lost.append((address, answer.status_code))
    assert not lost


# Numbers that no row has, also such as no database could keep, and letters that none takes.
NOBODYS: dict[type, tuple[Any, ...]] = {int: (2**31, 2**63, 10**30), UUID: (uuid4(),)}
NOBODYS[str] = ("nobody", "x" * 3000, "-\0-")


def test_ids_of_nothing_lead_nowhere(world: World) -> None:
    wrong = []
    for route in NAMED:
        values = words_of(route) | {name: find(world.ours) for name, find in ids_of(route).items()}
        roles = sorted(getattr(route.view, "roles", ()))
        # One anew for each: the name that is tapped at a tablet may have been left.
        client = world.new_client(roles[0]) if roles else Client()
        for name in ids_of(route):
            for value in NOBODYS[type(values[name])]:
                # What no slug holds leads nowhere before any view.
                address = reverse(
                    route.name, kwargs=values | {name: "hold-this" if value == "-\0-" else value}
                )
                address = address.replace("hold-this", "-%00-")
                with writes() as written:
                    answer = client.post(address)
                    answer = client.get(address) if answer.status_code == 405 else answer
                if answer.status_code not in (404, 429) or written:
                    wrong.append((address[:80], answer.status_code, written))
    assert not wrong


def test_nobody_ends_the_session_of_somebody_else(world: World) -> None:
    for role in Role:
        answer = world.client(role).post(reverse("session-end", args=[world.theirs.signed_in.handle]))
        assert answer.status_code == 404
        world.theirs.signed_in.refresh_from_db()


def test_a_link_opens_nothing_of_others(world: World) -> None:
    for route in LINKED:
        values = words_of(route) | {one: find(world.ours) for one, find in ids_of(route).items()}
        text = b"".join(Client().get(reverse(route.name, kwargs=values))).decode(errors="replace")
        assert not [word for word in THEIRS if word in text]
        # The token of a page opens no calendar, nor that of a calendar a page.
        other = world.ours.link if route.name.startswith("calendar-") else world.ours.calendar
        answer = Client().get(reverse(route.name, kwargs=values | {"token": other.token}))
        assert answer.status_code == 404, route.name


QUERIES = (
    "edit=work-{operation}",
    "work={operation}",
    "change={entry}",
    "edit=hold-{hold}",
    "edit=change-{need}",
)


def test_what_is_asked_for_behind_the_question_mark_is_of_the_page(world: World) -> None:
    """A page that opens one of its rows opens none of another job's."""
    theirs = world.theirs
    ids = {name: getattr(theirs, name).pk for name in ("operation", "entry", "hold", "need")}
    ours = world.ours.job.number
    pages = [
        reverse("job", args=[ours]),
        reverse("panel", args=[ours, 1]),
        reverse("job-materials", args=[ours]),
    ]
    for page in pages:
        for query in QUERIES:
            answer = world.client(Role.OFFICE).get(f"{page}?{query.format(**ids)}")
            assert answer.status_code == 200
            assert not [word for word in THEIRS if word in answer.content.decode()], (page, query)
    hours = reverse("bench-hours", args=["beveling"])
    answer = world.client(Role.BENCH).get(f"{hours}?change={theirs.entry.pk}")
    assert f"correct-{theirs.entry.pk}" not in answer.content.decode()
