"""What the product ships is named in Spanish at a bench, as long as the studio has not renamed it."""

import json
from collections.abc import Iterator

import pytest
from django.contrib.auth.hashers import make_password
from django.core.cache import cache
from django.test import Client
from django.utils.translation import override

from jobs.actions import Actor, Refused
from jobs.actions.bench import finish, start
from jobs.actions.operations import split_operation
from jobs.actions.photos import add_photo
from jobs.models import Account, Event, Operation, OperationKind, Station, Studio
from jobs.models.shipped import SHIPPED, named
from tests import cast
from tests.bench_page.test_bench import BEVELING, CUTTING, Clock, come, words
from tests.bench_page.test_bench import clock as clock
from tests.bench_page.test_scanned import behind_a_gate, behind_cutting, finished, held, not_there
from tests.bench_page.test_spanish import SAME, both, holds_no_english
from tests.cast import at
from tests.catalog import ROOT, untranslated
from tests.photos import picture

pytestmark = pytest.mark.usefixtures("shop")


@pytest.fixture(autouse=True)
def _nothing_untranslated(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    missing = untranslated(monkeypatch)
    yield
    assert missing - SAME == set()


@pytest.fixture
def work(clock: Clock) -> Operation:
    """Beveling of a panel whose cutting is done."""
    clock.time = at(3, "10:00")
    panel = cast.make_panel(cast.make_job())
    mara = cast.person("Mara")
    finish(cast.operation_of(panel, "Cutting"), mara, all_done=True, by=Actor(person=mara), at=at(3, "09:00"))
    return cast.operation_of(panel, "Beveling")


def in_spanish(client: Client, address: str) -> str:
    cache.clear()
    client.cookies["django_language"] = "es"
    return words(client.get(address))


def shipped_in_the_fixture() -> set[str]:
    told: set[str] = set()
    for row in json.loads((ROOT / "fixtures/trade.json").read_text()):
        values = row["fields"]
        match row["model"]:
            case "jobs.station" | "jobs.glass":
                told.add(values["name"])
            case "jobs.operationkind":
                told |= {values["name"], values["cautions"], *values["steps"]}
            case "jobs.routestep":
                told.add(values["label"])
    return told - {""}


def test_every_name_that_is_shipped_is_known_and_translated() -> None:
    assert shipped_in_the_fixture() == {str(name) for name in SHIPPED}
    with override("es"):
        assert [name for name in shipped_in_the_fixture() if named(name) == name] == []
    assert all(named(name) == name for name in shipped_in_the_fixture())


def test_names_made_of_a_name_are_said_with_it() -> None:
    with override("es"):
        assert named("Beveling again, 1 piece") == "Biselado de nuevo, 1 pieza"
        assert named("Cutting again, 12 pieces") == "Corte de nuevo, 12 piezas"
        assert named("Beveling, border, part 2") == "Biselado, cenefa, parte 2"
        assert named("Faceting again, 2 pieces, part 3") == "Faceting de nuevo, 2 piezas, parte 3"
        assert named("") == ""
    assert named("Cutting again, 12 pieces") == "Cutting again, 12 pieces"


def test_the_bench_names_them_in_spanish_and_the_rows_stay_english(
    tablet_client: Client, work: Operation
) -> None:
    mara, by = cast.person("Mara"), Actor(person=cast.person("Mara"))
    start(work, mara, by=by, at=at(3, "09:10"))
    come(tablet_client, "Mara", BEVELING)
    tablet_client.cookies["django_language"] = "es"
    tablet_client.post(f"{BEVELING}{work.pk}/break/", {"pieces": 2, "note": "la esquina"})
    page = in_spanish(tablet_client, BEVELING)
    assert "Trabajo nuevo: Corte de nuevo, 2 piezas; Biselado de nuevo, 2 piezas." in page
    assert "después de Corte de nuevo, 2 piezas" in page
    assert "<h1>Biselado</h1>" in page
    assert "<h1>Corte</h1>" in in_spanish(tablet_client, CUTTING)
    labels = set(Operation.objects.exclude(breakage=None).values_list("label", flat=True))
    assert labels == {"Cutting again, 2 pieces", "Beveling again, 2 pieces"}
    event = Event.objects.get(verb="broke")
    assert event.after["again"] == ["Cutting again, 2 pieces", "Beveling again, 2 pieces"]


def test_what_the_studio_has_renamed_is_said_as_it_is(tablet_client: Client, work: Operation) -> None:
    OperationKind.objects.filter(pk=work.kind_id).update(name="Faceting", cautions="Mind the wheel of Jonas.")
    Station.objects.filter(slug="beveling").update(name="Wheels")
    # A word that the catalog knows in another sense is a name of the studio's own all the same.
    OperationKind.objects.filter(name="Cutting").update(name="Hold")
    come(tablet_client, "Mara", BEVELING)
    page = in_spanish(tablet_client, BEVELING)
    assert "Faceting" in page
    assert "<h1>Wheels</h1>" in page
    assert "Mind the wheel of Jonas." in page
    with override("es"):
        assert named(OperationKind.objects.get(name="Hold")) == "Hold"


def test_refusals_name_them_in_spanish_and_are_written_down_in_english(work: Operation) -> None:
    refusal = Refused("%(work)s is not counted by the piece.", work=work)
    with override("es"):
        assert refusal.sentence == "Biselado no se cuenta por piezas."
    assert refusal.in_english == "Beveling is not counted by the piece."
    with override("es"), pytest.raises(Refused) as refused:
        start(cast.operation_of(work.panel, "Assembly"), cast.person("Jonas"), by=Actor(), at=at(3, "09:10"))
    with override("es"):
        assert "antes de terminar Biselado" in refused.value.sentence
    assert "before Beveling is finished" in refused.value.in_english


def test_one_piece_is_spoken_of_as_one(tablet_client: Client, work: Operation) -> None:
    Operation.objects.filter(pk=work.pk).update(quantity=1)
    other = cast.make_panel(work.job, 2, kinds=("Beveling",))
    come(tablet_client, "Mara", BEVELING)
    mara = cast.person("Mara")
    for quantity, done, english, spanish in (
        (1, 0, "1 piece left", "queda 1 pieza"),
        (10, 9, "1 of 10 pieces left", "queda 1 de 10 piezas"),
        (10, 4, "6 of 10 pieces left", "quedan 6 de 10 piezas"),
    ):
        Operation.objects.filter(panel=other).update(quantity=quantity, quantity_done=done)
        pages = both(tablet_client, BEVELING)
        assert english in pages[0]
        assert spanish in pages[1]
    start(work, mara, by=Actor(person=mara), at=at(3, "09:30"))
    for verb, values, english, spanish in (
        ("pieces", {"total": 2}, "There is only one piece.", "Solo hay una pieza."),
        ("break", {"pieces": 2}, "There is only one piece.", "Solo hay una pieza."),
        (
            "finish",
            {"x": ""},
            "1 piece is not counted as done yet.",
            "1 pieza aún no está contada como hecha.",
        ),
    ):
        pages = both(tablet_client, f"{BEVELING}{work.pk}/{verb}/", **values)
        assert english in pages[0]
        assert spanish in pages[1]


def with_ilse(work: Operation) -> None:
    start(work, cast.person("Ilse"), by=Actor(), at=at(3, "09:30"))


@pytest.mark.parametrize("state", [held, with_ilse, behind_a_gate, behind_cutting, finished, not_there, None])
def test_a_scanned_panel_is_spanish(tablet_client: Client, work: Operation, state: object) -> None:
    if callable(state):
        state(work)
    come(tablet_client, "Mara", BEVELING)
    holds_no_english(*both(tablet_client, f"{BEVELING}?panel={work.panel_id}"))


def test_what_is_seldom_there_is_spanish(
    tablet_client: Client, tablet: Account, work: Operation, office: Account
) -> None:
    """A PIN and a wrong one, a photo, a part of a work, work of no skill of one's own, and the offline page."""
    split_operation(work, pieces=4, by=Actor(account=office), at=at(3, "09:00"))
    photo = add_photo(work.panel, picture(), caption="", by=Actor(account=office), at=at(3, "09:00"))
    Studio.objects.update(asks_pin=True)
    mara = cast.person("Mara")
    type(mara).objects.filter(pk=mara.pk).update(pin=make_password("4711"))
    holds_no_english(*both(tablet_client, f"{BEVELING}?pin={mara.pk}"))
    holds_no_english(*both(tablet_client, f"{BEVELING}person/", person=mara.pk, pin="1"))
    come(tablet_client, "Mara", BEVELING, pin="4711")
    holds_no_english(*both(tablet_client, BEVELING))
    holds_no_english(*both(tablet_client, f"/photos/{photo.pk}/?bench=beveling"))
    holds_no_english(*both(tablet_client, "/bench/assembly/"))
    holds_no_english(*both(tablet_client, f"{BEVELING}hours/"))
    holds_no_english(*both(tablet_client, f"{BEVELING}hours/", day="2026-03-03", start="8:00"))
    tablet_client.logout()
    holds_no_english(*both(tablet_client, "/sign-in/"))
    holds_no_english(*both(tablet_client, "/sign-in/", username="nobody", password="wrong"))
