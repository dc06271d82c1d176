"""Every paper on either sheet: what PDF/UA-1 asks, fonts, figures of money and hours that are its page's, nothing
fetched.

Two kinds of checks read the structure: our own assertions on the tag tree (tags.py), and the validator page-validation
(version 0.11: its 104 rules of PDF/UA-1), which a package registry carries.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import page
import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfWriter

from jobs.actions import Actor
from jobs.actions.materials import reckon_needs
from jobs.actions.patterns import accept_pattern
from jobs.actions.quotes import make_quote
from jobs.models import Account, Job, Stage, Studio
from tests import cast, quoting
from tests.bench_page.test_hours_pages import log
from tests.documents import tags
from tests.documents.aloud import aloud

MONEY = re.compile(r"(?<![\d.])\d[\d,]*\.\d\d(?!\d)")
HOURS = re.compile(r"(?<![\d:])\d+:\d\d(?!\d)")


@dataclass(frozen=True)
class Kind:
    """A paper's address and what is read first on it; `page` shows the same, and `figures` are compared."""

    address: str
    first: str
    page: str = ""
    figures: re.Pattern[str] | None = None


PAPERS = {
    "quote": Kind("/papers/quotes/0412/1/", "Parish of the Two Rivers", "/jobs/0412/quotes/1/", MONEY),
    "approval": Kind("/papers/letters/0412/approval/", "For approval: 0412/1 Light 1"),
    "traveler": Kind("/papers/0412/1/traveler/", "0412/1 Light 1", "/jobs/0412/1/", HOURS),
    "cut list": Kind("/papers/0412/1/cut-list/", "Cut list 0412/1 Light 1"),
    "pattern": Kind("/papers/0412/1/pattern/", "Full-size pattern 0412/1 Light 1"),
    "labels": Kind("/papers/0412/1/labels/", "0412/1"),
    "crate labels": Kind("/papers/0412/crates/", "0412 crate 1 of 1"),
    "bench list": Kind("/papers/bench/cutting/", "Cutting"),
    "week": Kind("/papers/week/", "The week of"),
    "purchases": Kind("/papers/materials/0412/", "Purchase list 0412", "/jobs/0412/materials/", MONEY),
    "delivery": Kind("/papers/letters/0412/delivery/", "Parish of the Two Rivers"),
    "installation": Kind("/papers/letters/0412/installation/", "Installation 0412"),
    "completion": Kind("/papers/letters/0411/completion/", "Parish of the Two Rivers"),
    "hours": Kind("/hours/sheet/?pdf=1", "Hours,", "/hours/sheet/", HOURS),
    "all": Kind("/papers/0412/all/", "Papers of 0412 Hall window"),
}
# Of many pages; their own files hold them to the same on either sheet.
LARGE = {"pattern", "all"}


@pytest.fixture
def studio(lead: Account, monkeypatch: pytest.MonkeyPatch) -> None:
    """A job with a drawn panel, a quote and something to buy; one that is complete; a morning of Mara's."""
    by = Actor(account=lead)
    monkeypatch.setattr(timezone, "now", lambda: cast.at(4, "16:00"))
    quoting.make_stock()
    job = quoting.make_enquiry("0412", ("Cutting", "Beveling", "Assembly"))
    panel = job.panels.get()
    accept_pattern(cast.make_pattern(panel, lead), anyway=True, by=by, at=cast.at(2, "10:00"))
    quoting.take_off(panel, lead)
    make_quote(job, by=by, at=cast.at(2, "11:00"))
    Job.objects.filter(pk=job.pk).update(stage=Stage.ORDERED)
    reckon_needs(job, by=by, at=cast.at(2, "12:00"))
    log(cast.operation_of(panel, "Cutting"), "Mara", 4, "08:00", "08:47")
    done = cast.make_job("0411", stage=Stage.COMPLETE, closed_at=cast.at(3))
    cast.make_panel(done, kinds=())


def made(client: Client, address: str) -> bytes:
    answer = client.get(address)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf"), address
    return bytes(answer.content)


def told(client: Client, address: str) -> str:
    html = client.get(address, follow=True).content.decode()
    main = html[html.index("<main") : html.index("</main>")]
    return " ".join(re.sub(r"<[^>]+>", " ", main).split())


@pytest.fixture
def offline(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """No line to anywhere: what is asked for all the same is written down."""
    asked: list[str] = []

    def refuse(*args: Any, **_: Any) -> Any:
        asked.append(str(args))
        raise OSError

    monkeypatch.setattr("socket.create_connection", refuse)
    monkeypatch.setattr("socket.socket.connect", refuse)
    return asked


@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_structure_fonts_and_fetching(
    studio: None, lead_client: Client, offline: list[str], sheet: str
) -> None:
    Studio.objects.update(paper=sheet, labels="a4-24" if sheet == "a4" else "letter-10")
    sides = {210.0, 297.0} if sheet == "a4" else {215.9, 279.4}
    for name, kind in PAPERS.items():
        if name in LARGE:
            continue
        data = made(lead_client, kind.address)
        if sheet == "a4":
            title = tags.read(data).metadata.title  # type: ignore[union-attr]
            assert title, name
            # Language, title, headings in order, words of figures, headings of tables, fonts, marked content.
            tags.assert_tagged(data, title)
        assert aloud(data).startswith(kind.first), name
        assert {side for size in tags.sizes_mm(data) for side in size} == sides, name
    assert offline == []


@pytest.mark.parametrize("name", [name for name, kind in PAPERS.items() if kind.figures])
def test_every_figure_is_on_its_page(studio: None, lead_client: Client, name: str) -> None:
    kind = PAPERS[name]
    assert kind.figures is not None
    words = tags.text(made(lead_client, kind.address))
    # The time at which a list was made is no figure of the page.
    words = re.sub(r"[Aa]s of (\w+ \d+ \w+,? )?\d+:\d\d", "", words)
    printed = set(kind.figures.findall(words))
    assert printed, name
    assert printed <= set(kind.figures.findall(told(lead_client, kind.page))), name


def test_a_validator_finds_nothing(studio: None, lead_client: Client) -> None:
    validate: Callable[..., Any] = page.validate_pdf_bytes
    for name, kind in PAPERS.items():
        report = validate(made(lead_client, kind.address), profile="ua1")
        assert [(each.rule_id, each.message) for each in report.failures] == [], name
        assert report.is_compliant
    # It finds what is wrong: a paper that says it is PDF/UA and has lost its language.
    broken = PdfWriter(clone_from=BytesIO(made(lead_client, PAPERS["labels"].address)))
    del broken.root_object["/Lang"]
    written = BytesIO()
    broken.write(written)
    assert not validate(written.getvalue(), profile="ua1").is_compliant
