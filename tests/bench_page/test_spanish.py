"""The bench in Spanish: complete, in its own form of numbers and dates, and English where nothing else is chosen."""

import gettext
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.test import Client
from django.utils.translation import override, templatize

from jobs.actions import Actor, Refused
from jobs.actions.base import refused_for
from jobs.actions.bench import finish, start
from jobs.actions.holds import hold
from jobs.models import Account, Operation, Panel, Person, Station, Studio
from jobs.models.shipped import named
from jobs.planning.readiness import Reason
from tests import cast
from tests.bench_page.test_bench import BEVELING, CUTTING, Clock, come, words
from tests.bench_page.test_bench import clock as clock
from tests.cast import at
from tests.catalog import BENCH_TEMPLATES, PO, ROOT, read_catalog, untranslated

pytestmark = pytest.mark.usefixtures("shop")
# Where both languages have the same word, or a language is named by itself.
SAME = {"PIN", "English", "Español", "Zoom"}


class _Texts(HTMLParser):
    """What a page says: its texts, and what is said of a part or a picture."""

    def __init__(self) -> None:
        super().__init__()
        self.found: set[str] = set()
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in ("script", "style")
        self.found |= {
            value.strip() for name, value in attrs if name in ("aria-label", "alt", "title") and value
        }

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        if not self.silent and re.search("[a-zA-Z]{2}", data):
            self.found.add(" ".join(data.split()))


def texts(page: str) -> set[str]:
    parser = _Texts()
    parser.feed(page)
    return parser.found


def in_data(text: str) -> bool:
    """Whether a text is nothing but what the studio has typed in itself."""
    rows = [Station, Person, Panel, Operation, Account]
    with override("es"):
        # What the product ships is translated, so it is nobody's own.
        names = {str(row) for model in rows for row in model.objects.all() if named(row) == str(row)}
    names |= {panel.name for panel in Panel.objects.all()} | {
        panel.job.title for panel in Panel.objects.all()
    }
    names |= {Studio.current().name, *(step for row in Operation.objects.all() for step in row.kind.steps)}
    names |= {step.capitalize() for step in names} | {"Red", "Blue", "Clear", "mm", "in", "kg", "lb", "MB"}
    names |= {row.initials for row in Person.objects.all()}
    names |= {" ".join(row.kind.cautions.split()) for row in Operation.objects.all()}
    for name in sorted((names | SAME) - {""}, key=len, reverse=True):
        text = text.replace(name, "")
    return not re.search("[a-zA-Z]{2}", text)


def both(client: Client, address: str, **values: Any) -> tuple[str, str]:
    """The page in English and in Spanish; sent with `values`, where there are any."""
    pages = []
    for language in ("en", "es"):
        cache.clear()
        client.cookies["django_language"] = language
        sent = {"client_id": str(uuid4())} | values
        pages.append(words(client.post(address, sent) if values else client.get(address)))
    return pages[0], pages[1]


def holds_no_english(english: str, spanish: str) -> None:
    assert '<html lang="es"' in spanish
    same = texts(english) & texts(spanish)
    assert sorted(text for text in same if not in_data(text)) == []
    plain = {entry.english[0] for entry in read_catalog() if entry.at_a_bench and len(entry.english[0]) > 3}
    told = {entry.said[0] for entry in read_catalog()}
    assert sorted(texts(spanish) & plain - told - SAME) == []


@pytest.fixture(autouse=True)
def _nothing_untranslated(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Whatever these tests open in Spanish, each text that is looked up meanwhile is in the catalog."""
    missing = untranslated(monkeypatch)
    yield
    assert missing - SAME == set()


@pytest.fixture
def panel(clock: Clock, lead: Account) -> Panel:
    """One with work in each state: cutting and its bevels, drawn and held and running."""
    clock.time = at(3, "10:00")
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting", "Beveling", "Assembly"))
    cast.make_accepted(panel, lead)
    return panel


@pytest.fixture
def work(panel: Panel) -> Operation:
    """Its beveling, which Mara is at."""
    mara = cast.person("Mara")
    finish(cast.operation_of(panel, "Cutting"), mara, all_done=True, by=Actor(person=mara), at=at(3, "09:00"))
    work = cast.operation_of(panel, "Beveling")
    start(work, mara, by=Actor(person=mara), at=at(3, "09:30"))
    return work


def test_the_bench_is_spanish_as_a_whole(
    tablet_client: Client, tablet: Account, work: Operation, clock: Clock
) -> None:
    holds_no_english(*both(tablet_client, "/bench/?all"))
    holds_no_english(*both(tablet_client, BEVELING))
    come(tablet_client, "Mara", BEVELING)
    for address in (
        BEVELING,
        f"{BEVELING}?panel={work.panel_id}",
        CUTTING,
        f"{BEVELING}drawing/{work.pk}/1/",
        f"{BEVELING}hours/",
        f"{BEVELING}hours/?change={work.entries.get().pk}",
    ):
        holds_no_english(*both(tablet_client, address))
    clock.time = at(4, "09:00")  # The timer was left on.
    tablet_client.logout()
    tablet_client.force_login(tablet)
    come(tablet_client, "Mara", BEVELING)
    holds_no_english(*both(tablet_client, BEVELING))


def test_what_waits_and_is_held_is_spanish(tablet_client: Client, panel: Panel, lead: Account) -> None:
    other = cast.make_panel(panel.job, 2, kinds=("Beveling",))
    hold(cast.operation_of(other, "Beveling"), "glass missing", by=Actor(account=lead), at=at(3))
    start(
        cast.operation_of(panel, "Cutting"),
        cast.person("Mara"),
        by=Actor(person=cast.person("Mara")),
        at=at(3),
    )
    come(tablet_client, "Mara", BEVELING)
    english, spanish = both(tablet_client, BEVELING)
    holds_no_english(english, spanish)
    assert "for glass missing, since Tue 3 Mar" in english
    assert "por falta vidrio, desde el mar 3 mar" in spanish


@pytest.mark.parametrize(
    ("verb", "values", "sentence"),
    [
        ("pieces", {"total": "99"}, "Hay 3 piezas; quedan 3 por hacer."),
        ("pieces", {"total": ""}, "Escriba cuántas piezas están hechas."),
        ("finish", {"x": ""}, "3 de 3 piezas aún no están contadas como hechas. ¿También están hechas?"),
        ("hold", {"reason": ""}, "Indique qué se espera."),
        ("break", {"pieces": "0"}, "Indique cuántas piezas se rompieron."),
        ("photo", {"caption": "x"}, "Primero haga una foto."),
    ],
)
def test_what_is_refused_is_told_in_spanish(
    tablet_client: Client, work: Operation, verb: str, values: dict[str, str], sentence: str
) -> None:
    Operation.objects.filter(pk=work.pk).update(quantity=3, quantity_done=0)
    come(tablet_client, "Mara", BEVELING)
    english, spanish = both(tablet_client, f"{BEVELING}{work.pk}/{verb}/", **values)
    assert sentence in spanish
    assert sentence not in english
    holds_no_english(english, spanish)


def test_a_refusal_is_told_where_it_is_read_and_written_down_in_english(
    tablet_client: Client, work: Operation
) -> None:
    refusal = Refused("%(person)s has it on the bench.", person="Mara Lind")
    several = refused_for(
        (Reason("It is held: %(reason)s.", reason="glass missing"), "The lead can allow it.")
    )
    with override("es"):
        assert refusal.sentence == "Mara Lind lo tiene en el banco."
        assert several.sentence == "Está detenido: falta vidrio. Quien dirige el taller puede permitirlo."
        assert refusal.in_english == str(refusal) == "Mara Lind has it on the bench."
    assert several.sentence == "It is held: glass missing. The lead can allow it."


def test_a_tablet_chooses_its_language(tablet_client: Client) -> None:
    assert '<html lang="en"' in words(tablet_client.get(BEVELING))
    assert 'name="language" value="es" lang="es"' in words(tablet_client.get(BEVELING))
    answer = tablet_client.post("/language/", {"language": "es", "next": BEVELING})
    assert (answer.status_code, answer.url) == (302, BEVELING)
    page = tablet_client.get(BEVELING)
    assert page["Content-Language"] == "es"
    assert "¿Quién está aquí?" in words(page)
    assert "El ordenador del taller no responde" in words(
        tablet_client.get("/bench/worker.js")
    ).encode().decode("unicode_escape")
    tablet_client.post("/language/", {"language": "xx", "next": BEVELING})
    assert "¿Quién está aquí?" in words(tablet_client.get(BEVELING))


@pytest.mark.parametrize(
    ("asked", "language"), [("es-MX,es;q=0.9", "es"), ("en-GB", "en"), ("de", "en"), ("", "en")]
)
def test_a_browser_asks_for_its_language(tablet_client: Client, asked: str, language: str) -> None:
    for address in (BEVELING, "/sign-in/"):
        client = tablet_client if address == BEVELING else Client()
        answer = client.get(address, headers={"Accept-Language": asked})
        assert f'<html lang="{language}"' in words(answer)


def test_pages_that_are_not_translated_stay_english(lead_client: Client, panel: Panel) -> None:
    lead_client.cookies["django_language"] = "es"
    page = words(lead_client.get("/panels/"))
    assert '<html lang="en"' in page
    assert ">Panels<" in page


def test_numbers_have_their_form(tablet_client: Client, work: Operation) -> None:
    Studio.objects.update(hours=Studio.Hours.DECIMAL, units=Studio.Units.MILLIMETER)
    Panel.objects.update(width_mm="622.5")
    Operation.objects.filter(pk=work.pk).update(estimate=270)
    come(tablet_client, "Mara", BEVELING)
    english, spanish = both(tablet_client, BEVELING)
    assert "4.5 h" in english
    assert "622.5 × " in english
    assert "4,5 h" in spanish
    assert "622,5 × " in spanish
    assert "4.5 h" not in spanish


def test_what_the_bench_says_is_in_the_catalog_and_translated() -> None:
    """Nothing of a bench is without its Spanish, and each text keeps the names of what is put into it."""
    entries = [entry for entry in read_catalog() if entry.at_a_bench]
    assert len(entries) > 300
    assert [entry.english[0] for entry in entries if entry.fuzzy or not all(entry.said)] == []
    for entry in entries:
        for said in entry.said:
            wanted = set(re.findall(r"%\(\w+\)[sd]", entry.english[-1]))
            assert set(re.findall(r"%\(\w+\)[sd]", said)) == wanted, entry.english[0]
    known = {text for entry in entries for text in entry.english}
    assert set(said_by_templates()) - known == set()


def said_by_templates() -> Iterator[str]:
    """Every text that a template of the bench marks for translation."""
    for name in BENCH_TEMPLATES:
        path = ROOT / "templates" / name
        for template in path.glob("*.html") if path.is_dir() else [path]:
            code = templatize(template.read_text(), origin=str(template))
            for text in re.findall(r"gettext\(\s*u?(\"(?:[^\"\\]|\\.)*\"|'(?:[^'\\]|\\.)*')", code):
                yield text[1:-1].replace("\\'", "'").replace('\\"', '"')


def test_what_is_compiled_agrees_with_what_is_written() -> None:
    with PO.with_suffix(".mo").open("rb") as file:
        compiled = gettext.GNUTranslations(file)
    texts = [entry for entry in read_catalog() if all(entry.said) and not entry.fuzzy]
    for entry in texts:
        if len(entry.english) == 1:
            assert compiled._catalog[entry.key] == entry.said[0]  # type: ignore[attr-defined]
        else:
            assert [compiled._catalog[entry.key, n] for n in range(len(entry.said))] == entry.said  # type: ignore[attr-defined]
