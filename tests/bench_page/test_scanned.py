"""A panel whose code was scanned: kept through name and PIN, its work at the top of the page of the bench."""

import re
from typing import Any

import pytest
from django.test import Client

from jobs.actions import Actor, bench
from jobs.models import Gate, Hold, Operation, Panel, Skill, Studio, TimeEntry
from tests import cast
from tests.cast import at

BEVELING = "/bench/beveling/"


@pytest.fixture(autouse=True)
def monday(monkeypatch: pytest.MonkeyPatch, shop: None) -> None:
    """Requests come on the Monday of the tests."""
    from django.utils import timezone

    monkeypatch.setattr(timezone, "now", lambda: at(2, "09:00"))


@pytest.fixture
def panel() -> Panel:
    """The eleventh that is ready at the bevel bench: the page lists six of them."""
    for number in range(401, 411):
        cast.make_panel(cast.make_job(str(number)), kinds=("Beveling",))
    return cast.make_panel(cast.make_job(), kinds=("Beveling", "Assembly"))


def come(client: Client, name: str = "Mara", **more: Any) -> Any:
    return client.post(f"{BEVELING}person/", {"person": cast.person(name).pk, **more})


def scanned(client: Client, panel: Panel, bench_: str = BEVELING) -> str:
    """The part of the page that is about the scanned panel; empty where there is none."""
    page = client.get(f"{bench_}?panel={panel.pk}").content.decode()
    found = re.search(r'<section class="scanned".*?</section>', page, re.DOTALL)
    return " ".join(found[0].split()) if found else ""


def test_it_is_kept_through_the_name(tablet_client: Client, panel: Panel) -> None:
    names = tablet_client.get(f"{BEVELING}?panel={panel.pk}").content.decode()
    assert "0412/1 Light 1" in names
    assert f'name="panel" value="{panel.pk}"' in names
    answer = come(tablet_client, panel=panel.pk)
    assert (answer.status_code, answer["Location"]) == (303, f"{BEVELING}?panel={panel.pk}#scanned")
    shown = scanned(tablet_client, panel)
    assert "Scanned: 0412/1 Light 1" in shown
    assert f'id="bench-start-{cast.operation_of(panel, "Beveling").pk}"' in shown


def test_it_is_kept_through_the_pin_and_back(tablet_client: Client, panel: Panel) -> None:
    from django.contrib.auth.hashers import make_password

    Studio.objects.update(asks_pin=True)
    mara = cast.person("Mara")
    type(mara).objects.filter(pk=mara.pk).update(pin=make_password("4711"))
    asked = come(tablet_client, panel=panel.pk)
    assert asked["Location"] == f"{BEVELING}?pin={mara.pk}&panel={panel.pk}"
    page = tablet_client.get(asked["Location"]).content.decode()
    assert f'href="{BEVELING}?panel={panel.pk}"' in page
    wrong = come(tablet_client, panel=panel.pk, pin="1234")
    assert wrong.status_code == 422
    assert f'name="panel" value="{panel.pk}"' in wrong.content.decode()
    right = come(tablet_client, panel=panel.pk, pin="4711")
    assert right["Location"] == f"{BEVELING}?panel={panel.pk}#scanned"


def test_in_place_it_is_kept_as_well(tablet_client: Client, panel: Panel) -> None:
    answer = tablet_client.post(
        f"{BEVELING}person/",
        {"person": cast.person("Mara").pk, "panel": panel.pk},
        headers={"HX-Request": "true"},
    )
    page = answer.content.decode()
    assert "Scanned: 0412/1 Light 1" in page
    assert f'data-address="{BEVELING}?panel={panel.pk}"' in page


def test_it_stands_on_the_page_once(tablet_client: Client, panel: Panel) -> None:
    come(tablet_client)
    work = cast.operation_of(panel, "Beveling")
    first = cast.operation_of(Panel.objects.get(job__number="401"), "Beveling")
    for row, of in ((work, panel), (first, first.panel)):
        page = tablet_client.get(f"{BEVELING}?panel={of.pk}").content.decode()
        assert page.count(f'data-operation="{row.pk}"') == 1


def test_a_tap_on_it_leaves_it_there_and_another_does_not(tablet_client: Client, panel: Panel) -> None:
    come(tablet_client)
    work = cast.operation_of(panel, "Beveling")
    answer = tablet_client.post(f"{BEVELING}{work.pk}/start/", {"panel": panel.pk})
    assert answer["Location"] == f"{BEVELING}?panel={panel.pk}#scanned"
    assert TimeEntry.objects.running().get().operation == work
    assert "Pause" in scanned(tablet_client, panel)
    other = cast.operation_of(Panel.objects.get(job__number="401"), "Beveling")
    assert tablet_client.post(f"{BEVELING}{other.pk}/start/", {})["Location"] == BEVELING


def test_what_is_refused_stands_at_the_scanned_work(tablet_client: Client, panel: Panel) -> None:
    come(tablet_client)
    work = cast.operation_of(panel, "Beveling")
    answer = tablet_client.post(f"{BEVELING}{work.pk}/hold/", {"panel": panel.pk, "reason": ""})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Say what it waits for." in page
    assert "Scanned: 0412/1 Light 1" in page


def held(work: Operation) -> None:
    Hold.objects.create(operation=work, reason="glass missing", since=at(2), held_by="Nora")


def with_ilse(work: Operation) -> None:
    bench.start(work, cast.person("Ilse"), by=Actor(), at=at(2, "08:30"))


def behind_a_gate(work: Operation) -> None:
    type(work.kind).objects.filter(pk=work.kind_id).update(needs_deposit=True)
    Gate.objects.create(job=work.job, kind="deposit")


def behind_cutting(work: Operation) -> None:
    kind = type(work.kind).objects.get(name="Cutting")
    work.after.add(Operation.objects.create(job=work.job, panel=work.panel, kind=kind, estimate=60))


def finished(work: Operation) -> None:
    Operation.objects.filter(pk=work.pk).update(finished_at=at(2, "08:40"))


def not_there(work: Operation) -> None:
    work.delete()


def skill_of_others(_: Operation) -> None:
    Skill.objects.filter(person=cast.person("Mara"), station__name="Beveling").delete()


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (held, ["for glass missing", "Held no longer"]),
        (with_ilse, ["Ilse Roth has it", "Take over"]),
        (behind_a_gate, ["for “deposit", "waiting"]),
        (behind_cutting, ["for Cutting", "Cutting at Cutting"]),
        (finished, ["Beveling was finished here 08:40", "Assembly at Assembly"]),
        (not_there, ["There is nothing to do on it at Beveling.", "Assembly at Assembly"]),
        (skill_of_others, ["ready"]),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_what_cannot_be_worked_on_says_why(
    tablet_client: Client, panel: Panel, state: Any, words: list[str]
) -> None:
    state(cast.operation_of(panel, "Beveling"))
    come(tablet_client)
    shown = scanned(tablet_client, panel)
    assert all(word in shown for word in words), shown
    assert ">Start<" not in shown


@pytest.mark.parametrize("typed", ["0", "999999", "x", "9" * 40, "1' or 1=1"])
def test_a_panel_that_there_is_not_is_the_bench(tablet_client: Client, panel: Panel, typed: str) -> None:
    come(tablet_client)
    answer = tablet_client.get(BEVELING, {"panel": typed})
    assert answer.status_code == 200
    assert 'id="scanned"' not in answer.content.decode()
