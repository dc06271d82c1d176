"""Every page with whatever may be sent to it: it never breaks, and what it refuses leaves every row as it was.

What a page reads of what is sent it tells by itself: it is asked once with nothing, while it is noted what it asks for.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from random import Random
from typing import Any

import pytest
from django.db import transaction
from django.db.models import F, Model
from django.test import Client
from django.urls import reverse
from django.utils.datastructures import MultiValueDict

from jobs.models import (
    Breakage,
    Hold,
    LetterSettings,
    Need,
    Operation,
    Panel,
    Photo,
    PlanState,
    QuoteSettings,
    TimeEntry,
)
from tests.fuzz.cases import cases, sent
from tests.fuzz.test_forms import a_file
from tests.pages.test_roles import ROUTES, Route
from tests.pages.test_scopes import World, ids_of, words_of
from tests.rows import changed, rows_now, writes

# What takes seconds whatever is sent: it reckons the past anew, or signs the asking client out.
LEFT_OUT = {"look-back-now", "sign-out"}
POSTED = [route for route in ROUTES if route.name not in LEFT_OUT and not hasattr(route.view, "by_token")]


@contextmanager
def names_asked() -> Iterator[set[str]]:
    """The names that are looked up in what was sent."""
    asked: set[str] = set()
    kept = {name: getattr(MultiValueDict, name) for name in ("get", "getlist", "__getitem__")}

    def noting(of: Any) -> Any:
        def look(self: Any, key: Any, *more: Any, **named: Any) -> Any:
            if isinstance(key, str):
                asked.add(key)
            return of(self, key, *more, **named)

        return look

    for name, of in kept.items():
        setattr(MultiValueDict, name, noting(of))
    try:
        yield asked
    finally:
        for name, of in kept.items():
            setattr(MultiValueDict, name, of)


def torn() -> list[str]:
    """Rows that hang together what belongs to two jobs."""
    found: list[tuple[type[Model], dict[str, Any]]] = [
        (Operation, {"panel__isnull": False}),
        (Need, {"panel__isnull": False}),
    ]
    wrong = [
        row.__name__
        for row, some in found
        if row._default_manager.filter(**some).exclude(panel__job=F("job")).exists()
    ]
    after = Operation.after.through.objects.exclude(from_operation__job=F("to_operation__job"))  # type: ignore[attr-defined]
    return wrong + (["after"] if after.exists() else [])


def ids(world: World) -> list[str]:
    """Keys of rows, ours and theirs, as a form might name them."""
    kinds = (Panel, Operation, TimeEntry, Hold, Need, Photo, Breakage)
    return [str(pk) for kind in kinds for pk in kind._default_manager.values_list("pk", flat=True)[:6]] + [
        "0412",
        "0977",
    ]


def typed(random: Random, names: list[str], known: list[str]) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for name in names:
        chance = random.random()
        if chance < 0.1:
            continue
        if name.endswith(("file", "photo")):
            data[name] = a_file(random) if chance < 0.8 else sent(random)
        else:
            one = random.choice(known) if chance < 0.3 else sent(random)
            data[name] = [one, sent(random)] if chance > 0.9 else one
    return data


# A batch of taps is answered as a whole, each of them carried out or kept for the lead; wrong PINs are counted.
MAY_WRITE = {"bench-outbox", "bench-person"}


class Asking:
    """The world, its rows at the start, and what each page reads of what is sent it."""

    def __init__(self) -> None:
        self.world = World()
        # Rows that are there from the first time they are read.
        QuoteSettings.current(), LetterSettings.current(), PlanState.current()
        self.rows, self.known = rows_now(), ids(self.world)
        self.names: dict[str, list[str]] = {}
        for route in POSTED:
            with names_asked() as names:
                self.ask(route, {}, theirs=False)
            self.names[route.name] = sorted(names - {"csrfmiddlewaretoken"})

    def ask(self, route: Route, data: dict[str, Any], *, theirs: bool) -> None:
        """Post it, and take back what it does."""
        side = self.world.theirs if theirs else self.world.ours
        values = words_of(route) | {name: find(side) for name, find in ids_of(route).items()}
        roles = sorted(getattr(route.view, "roles", ()))
        client = self.world.client(roles[-1]) if roles else Client()
        # What it does to the session is taken back with all else, and so is its cookie.
        cookies, wrong = client.cookies.copy(), []
        with transaction.atomic():
            with writes() as written:
                answer = client.post(reverse(route.name, kwargs=values), data)
            if written:
                wrong = torn()
            if written and answer.status_code >= 400 and route.name not in MAY_WRITE:
                wrong += changed(self.rows, rows_now())
            transaction.set_rollback(True)
        client.cookies = cookies
        assert answer.status_code < 500, (route.name, data)
        assert not wrong, (route.name, answer.status_code, wrong, data)


@pytest.fixture
def asking(db: None) -> Asking:
    return Asking()


@cases(2, share=1000)
def test_every_page_that_takes_something(random: Random, asking: Asking) -> None:
    assert sum(map(len, asking.names.values())) > 150, "Pages were not seen to read what is sent."
    assert {"username", "password"} <= set(asking.names["sign-in"])
    for route in POSTED:
        data = typed(random, asking.names[route.name], asking.known)
        asking.ask(route, data, theirs=random.random() < 0.2)
