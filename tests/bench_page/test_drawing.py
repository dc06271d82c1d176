"""The drawing of a panel at the bench: marked by its list without JavaScript, by the outbox, and by whom."""

import re
from typing import Any
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.test import Client

from jobs.actions import Actor
from jobs.actions.bench import finish
from jobs.models import Account, Breakage, BrokenPiece, LateTap, Operation, Panel, PieceMark
from tests import cast
from tests.bench_page.test_bench import Clock, come, words
from tests.bench_page.test_bench import clock as clock
from tests.bench_page.test_outbox import item, mark, only, send
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
BEVELING = "/bench/beveling/"


@pytest.fixture
def panel(clock: Clock, lead: Account) -> Panel:
    clock.time = at(3, "10:00")
    panel = cast.make_panel(cast.make_job(), kinds=("Beveling", "Assembly"))
    cast.make_accepted(panel, lead)
    return panel


@pytest.fixture
def work(panel: Panel) -> Operation:
    return cast.operation_of(panel, "Beveling")


def address(work: Operation, verb: str = "1") -> str:
    return f"{BEVELING}drawing/{work.pk}/{verb}/"


def tap(client: Client, work: Operation, verb: str = "mark", **values: Any) -> Any:
    assert work.panel is not None
    pattern = work.panel.patterns.get()
    known = {"client_id": str(uuid4()), "pattern": pattern.pk, "copy": 1, "step": "felt", "done": "yes"}
    return client.post(address(work, verb), known | values)


def done(work: Operation) -> int:
    work.refresh_from_db()
    return work.quantity_done


def test_the_bench_offers_the_drawing_where_there_is_one(tablet_client: Client, work: Operation) -> None:
    come(tablet_client, "Mara", BEVELING)
    assert f'href="{address(work)}"' in words(tablet_client.get(BEVELING))
    work.panel.patterns.update(accepted_at=None, accepted_by=None)
    cache.clear()
    assert "/drawing/" not in words(tablet_client.get(BEVELING))
    assert tablet_client.get(address(work)).status_code == 404
    assert tablet_client.get(address(work, "2")).status_code == 404


def test_pieces_are_marked_in_the_list_without_javascript(tablet_client: Client, work: Operation) -> None:
    come(tablet_client, "Mara", BEVELING)
    page = words(tablet_client.get(address(work)))
    assert page.count('role="checkbox"') == 4
    assert 'aria-label="Piece 2, Blue, not begun"' in page
    answer = tap(tablet_client, work, piece=["1", "3"], step="fine")
    assert (answer.status_code, answer.url) == (303, address(work))
    assert done(work) == 0
    tap(tablet_client, work, piece=["3"])
    page = words(tablet_client.get(address(work)))
    assert 'aria-label="Piece 1, Red, fine done, 3 of 5"' in page
    assert 'aria-label="Piece 3, Blue, done, all 5"' in page
    assert "<strong>3</strong>" in page
    assert done(work) == 1
    tap(tablet_client, work, piece=["3"], done="no")
    assert done(work) == 0


def test_what_is_refused_keeps_the_ticks(tablet_client: Client, work: Operation) -> None:
    come(tablet_client, "Mara", BEVELING)
    for values, sentence in [
        ({}, "Tick the pieces first."),
        ({"piece": "x"}, "That is not a piece of this panel."),
        ({"pieces": "1-"}, "Write the numbers of the pieces"),
        ({"piece": ["1", "77"]}, "Piece 77 is not worked at Beveling."),
        ({"piece": "1", "step": "polish"}, "“polish” is no step of Beveling."),
    ]:
        answer = tap(tablet_client, work, **values)
        assert answer.status_code == 422
        assert sentence in words(answer)
    assert 'value="1" checked' in words(tap(tablet_client, work, piece=["1", "77"]))
    assert tap(tablet_client, work, piece="1", copy=2).status_code == 404
    assert not PieceMark.objects.exists()


def test_wrong_method_wrong_person_and_nobody(
    tablet_client: Client, office_client: Client, work: Operation
) -> None:
    assert "Who is here?" in words(tablet_client.get(address(work)))
    tap(tablet_client, work, piece="1")  # Nobody tapped their name.
    come(tablet_client, "Mara", BEVELING)
    for verb in ("mark", "broke"):
        assert tablet_client.get(address(work, verb)).status_code == 405
        assert tap(office_client, work, verb, piece="1").status_code == 403
    assert tablet_client.post(address(work)).status_code == 405
    assert not PieceMark.objects.exists()


def test_these_very_pieces_broke(tablet_client: Client, work: Operation) -> None:
    come(tablet_client, "Mara", BEVELING)
    tap(tablet_client, work, pieces="1-2")
    answer = tap(tablet_client, work, "broke", piece=["2"], note="slipped")
    assert answer.status_code == 303
    assert Breakage.objects.get().note == "slipped"
    assert str(BrokenPiece.objects.get()) == "piece 2"
    page = words(tablet_client.get(address(work)))
    assert "New work: Beveling again, 1 piece." in page
    assert 'aria-label="Piece 2, Blue, broken, made again: Beveling again, 1 piece"' in page
    assert (done(work), work.quantity) == (1, 3)
    again = words(tap(tablet_client, work, "broke", piece=["2"]))
    assert "Piece 2 is broken and made again: Beveling again, 1 piece." in again


def test_the_marks_are_told_to_a_drawing_on_the_screen(
    tablet_client: Client, office_client: Client, work: Operation
) -> None:
    come(tablet_client, "Mara", BEVELING)
    tap(tablet_client, work, pieces="4", step="coarse")
    told = tablet_client.get(f"{address(work)}marks/").json()
    assert (told["levels"], told["done"], told["closed"]) == ({"4": 1}, [1, 0, 0, 0, 0], False)
    assert told["words"][0] == "not begun"
    assert "Hours left" in told["head"]
    assert office_client.get(f"{address(work)}marks/").status_code == 403
    assert tablet_client.post(f"{address(work)}marks/").status_code == 405


def test_what_is_finished_is_shown_and_not_marked(tablet_client: Client, work: Operation) -> None:
    come(tablet_client, "Mara", BEVELING)
    finish(work, cast.person("Mara"), by=Actor(person=cast.person("Mara")), at=at(3, "09:00"))
    page = words(tablet_client.get(address(work)))
    assert 'type="checkbox"' not in page
    answer = tap(tablet_client, work, pieces="1")
    assert "It is finished already." in words(answer)


def test_marks_come_late_and_once_and_the_lead_is_told_of_contradictions(
    tablet_client: Client, work: Operation
) -> None:
    who = mark(tablet_client)
    pattern = str(work.panel.patterns.get().pk)
    known = {"pattern": pattern, "copy": "1", "step": "felt"}
    first = item(who, "mark", work, at(3, "08:30"), pieces="1-3", done="yes", **known)
    assert only(send(tablet_client, first)) == only(send(tablet_client, first)) == ("done", "")
    assert done(work) == 3
    assert PieceMark.objects.filter(number=1, step="felt").get().at == at(3, "08:30")
    # Another tablet took the marks off before that, and its tap comes later: what was said last stands.
    earlier = item(who, "mark", work, at(3, "08:00"), pieces="2-3", done="no", **known)
    assert only(send(tablet_client, earlier))[0] == "done"
    late = LateTap.objects.get()
    assert late.stands
    assert late.sentence == "Pieces 2-3 are marked: somebody said so later, and that stands."
    assert done(work) == 3
    state, sentence = only(
        send(tablet_client, item(who, "mark", work, at(3, "09:00"), pieces="9", done="yes", **known))
    )
    assert (state, sentence) == ("refused", "Piece 9 is not worked at Beveling.")
    broke = item(who, "broke", work, at(3, "09:10"), pieces="3", pattern=pattern, copy="1", note="")
    assert only(send(tablet_client, broke))[1].startswith("Written down. New work: Beveling again, 1 piece")
    assert done(work) == 2


def filled_numbers(page: str) -> tuple[set[int], set[int]]:
    """Which places of the first drawing on the page are filled as done, and which as begun."""
    picture = page[page.index('<svg class="panel-picture"') :].partition("</svg>")[0]
    looks = re.findall(r'<polygon class="([^"]*)"', picture)
    done = {place for place, look in enumerate(looks, 1) if "piece-done" in look}
    return done, {place for place, look in enumerate(looks, 1) if "piece-begun" in look}


def test_the_small_picture_is_filled_by_the_marks(tablet_client: Client, work: Operation) -> None:
    come(tablet_client, "Mara", BEVELING)
    Operation.objects.filter(pk=work.pk).update(quantity_done=2)
    assert filled_numbers(words(tablet_client.get(BEVELING))) == ({1, 2}, set())
    Operation.objects.filter(pk=work.pk).update(quantity_done=0)
    tap(tablet_client, work, pieces="2,4")
    tap(tablet_client, work, pieces="3", step="fine")
    assert filled_numbers(words(tablet_client.get(BEVELING))) == ({2, 4}, {3})
    tap(tablet_client, work, pieces="2-4", step="coarse", done="no")
    assert filled_numbers(words(tablet_client.get(BEVELING))) == (set(), set())


def test_the_small_picture_is_of_the_copy_marked_last(tablet_client: Client, work: Operation) -> None:
    come(tablet_client, "Mara", BEVELING)
    Panel.objects.update(copies=2)
    Operation.objects.filter(pk=work.pk).update(quantity=8)
    tap(tablet_client, work, pieces="1-4")
    tap(tablet_client, work, pieces="3", copy=2)
    assert filled_numbers(words(tablet_client.get(BEVELING))) == ({3}, set())
