"""Quotes in a browser: from a drawing to the cutting bench, without scripts as well, and for everyone."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.materials import reckon_needs
from jobs.actions.purchases import order_need, receive_need
from jobs.actions.quotes import make_quote, send_quote
from jobs.models import Account, Job, OperationKind, Panel, PlanState, Role, Route, Stage, Station
from tests import cast, quoting
from tests.browser.looks import faults, open_all

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    file = tmp_path / "hall window.svg"
    file.write_text(cast.LATTICE)
    return file


def _enquiry() -> None:
    """An enquiry for a panel of cutting, beveling and assembly, without a takeoff; glass that is on the shelf."""
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 40})
    quoting.make_stock()
    OperationKind.objects.update(needs_glass=False)
    job = cast.make_job(stage=Stage.ENQUIRY)
    panel = cast.make_panel(job)
    Panel.objects.filter(pk=panel.pk).update(route=Route.objects.get())


def _from_drawing_to_bench(page: Any, url: str, drawing: Path) -> None:
    page.set_default_timeout(10_000)
    page.goto(f"{url}/jobs/0412/1/")
    page.get_by_role("link", name="Upload a drawing").click()
    page.get_by_label("Drawing, SVG or DXF").set_input_files(str(drawing))
    page.get_by_role("button", name="Upload it").click()
    page.get_by_role("heading", name="Nothing is wrong with the drawing").wait_for()
    red = page.get_by_role("group", name="#a83a45")
    red.get_by_label("Glass").select_option("Clear plate")
    red.get_by_label("Beveled").check()
    page.get_by_role("button", name="Save the glass").click()
    page.get_by_role("button", name="Accept the pattern").click()
    page.get_by_text("Pattern 1 is accepted").wait_for()

    page.goto(f"{url}/jobs/0412/")
    page.get_by_role("link", name="Quotes").click()
    page.get_by_role("button", name="Make a quote").click()
    page.get_by_role("heading", name="Quote 0412, version 1").wait_for()
    assert page.get_by_role("row", name="Glass").count() == 1
    page.get_by_label("If approved and paid by").fill((timezone.localdate() + timedelta(days=7)).isoformat())
    page.get_by_role("button", name="Try it in the plan").click()
    page.get_by_role("button", name="Offer this date").click()
    page.get_by_text("The date stands in the quote").wait_for()
    page.get_by_role("button", name="It is sent").click()
    page.get_by_label("What the customer said").first.fill("Go ahead")
    page.get_by_label("The drawing is approved").check()
    page.get_by_role("button", name="Accepted").click()
    page.get_by_text("the job is ordered, with the hours quoted").wait_for()


def _stands_on_the_cutting_bench(page: Any, url: str) -> None:
    page.set_default_timeout(10_000)
    page.goto(f"{url}/bench/cutting/")
    page.get_by_role("button", name="Mara Lind").click()
    card = page.get_by_role("article", name="Cutting")
    card.get_by_text("0412/1", exact=True).first.wait_for()
    assert card.get_by_role("button", name="Start").is_enabled()
    # Four pieces of the drawing, by the default rates: 45 min and 6.3 a piece.
    assert "1:10" in card.inner_text()


def _tablet() -> Account:
    return cast.make_account("cut-tablet", Role.BENCH, station=Station.objects.get(slug="cutting"))


def test_from_a_drawing_to_the_cutting_bench(
    transactional_db: None, office: Account, signed_in: Any, browser: Any, live_server: Any, drawing: Path
) -> None:
    _enquiry()
    page = signed_in(office)
    wrong: list[str] = []
    page.on("console", lambda m: wrong.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: wrong.append(str(e)))
    _from_drawing_to_bench(page, live_server.url, drawing)
    bench = browser.new_context()
    _stands_on_the_cutting_bench(signed_in(_tablet(), bench), live_server.url)
    bench.close()
    assert Job.objects.get().needs.count() > 0
    assert wrong == []


def test_the_same_without_scripts(
    transactional_db: None, office: Account, signed_in: Any, browser: Any, live_server: Any, drawing: Path
) -> None:
    _enquiry()
    context = browser.new_context(java_script_enabled=False)
    _from_drawing_to_bench(signed_in(office, context), live_server.url, drawing)
    context.close()
    assert Job.objects.get().stage == Stage.ORDERED


def _shown(lead: Account) -> list[str]:
    """Pages with something of everything on them: drafts, versions sent and accepted, needs in every state."""
    by, at = Actor(account=lead), timezone.now()
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 40})
    quoting.make_stock()
    job = quoting.make_enquiry("0412", ("Cutting", "Assembly", "Lamination"), ("Cutting", "Assembly"))
    quoting.take_off(job.panels.get(number=1), lead)
    send_quote(make_quote(job, by=by, at=at), without_prices=True, by=by, at=at)
    job.panels.update(copies=2)
    make_quote(job, by=by, at=at)
    ordered = quoting.make_enquiry("0413")
    quoting.take_off(ordered.panels.get(), lead)
    Job.objects.filter(pk=ordered.pk).update(stage=Stage.ORDERED)
    reckon_needs(ordered, by=by, at=at)
    first, second, third, *_ = ordered.needs.order_by("pk")
    order_need(first, by=by, at=at)
    receive_need(second, by=by, at=at)
    quoting.make_enquiry("0414")
    day = (timezone.localdate() + timedelta(days=14)).isoformat()
    return [
        "/jobs/0412/quotes/",
        "/jobs/0412/quotes/1/",
        f"/jobs/0412/quotes/2/?if_approved_by={day}&confidence=0.80",
        "/jobs/0412/quotes/2/?edit=lines",
        "/jobs/0412/materials/",
        f"/jobs/0413/materials/?edit=change-{third.pk}",
        "/jobs/0414/quotes/",
        "/jobs/0414/materials/",
        f"/materials/?show=all&together=on&edit=expect-{first.pk}",
        "/set-up/quotes/",
    ]


def test_the_pages_are_for_everyone(
    transactional_db: None, lead: Account, signed_in: Any, live_server: Any
) -> None:
    addresses = _shown(lead)
    page = signed_in(lead)
    for address in addresses:
        page.goto(f"{live_server.url}{address}")
        open_all(page)
        assert faults(page) == []
