"""Jobs and panels in a browser: a new job, a size and a gate in place, without scripts as well, and for everyone."""

from typing import Any

import pytest
from django.utils import timezone

from jobs.models import Account, Gate, Job, Operation, OperationKind, Panel, PlanState
from tests import cast
from tests.browser.looks import faults

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def office_page(transactional_db: None, office: Account, signed_in: Any, live_server: Any) -> Any:
    _fresh_dates()
    page = signed_in(office)
    page.set_default_timeout(8000)
    page.wrong = []
    page.on("console", lambda m: page.wrong.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: page.wrong.append(str(e)))
    return page


def _fresh_dates() -> None:
    state = PlanState.current()
    state.planned_at, state.planned_revision = timezone.now(), state.revision
    state.save()


def _enter_a_job(page: Any, url: str) -> None:
    page.goto(f"{url}/jobs/")
    page.get_by_role("link", name="New job").click()
    page.get_by_label("Title").fill("Stair window")
    page.get_by_label("Customer").fill("Alder House")
    page.get_by_label("drawing approved").check()
    first = page.get_by_role("group", name="Panel 1")
    first.get_by_label("Name").fill("Left")
    first.get_by_label("Route").select_option("Beveled window")
    first.get_by_label("Width").fill("24 1/2 in")
    first.get_by_label("Height").fill("36 in")
    first.get_by_label("Pieces in one").fill("12")
    page.get_by_role("button", name="Another panel").click()
    second = page.get_by_role("group", name="Panel 2")
    assert first.get_by_label("Width").input_value() == "24 1/2 in"
    second.get_by_label("Name").fill("Right")
    second.get_by_label("Width").fill("600 mm")
    second.get_by_label("Height").fill("36 in")
    page.get_by_role("button", name="Enter the job").click()
    page.get_by_role("heading", name="0001 Stair window").wait_for()


def _change_a_size(page: Any) -> None:
    page.get_by_role("link", name="Left").click()
    page.get_by_role("heading", name="0001/1 Left").wait_for()
    page.get_by_role("link", name="Change the panel").click()
    page.get_by_label("Width").fill("wide")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("is not a length").wait_for()
    assert page.get_by_label("Width").input_value() == "wide"
    page.get_by_label("Width").fill("25 in")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("25 × 36 in").first.wait_for()
    assert Panel.objects.get(name="Left").width_mm == 635


def _clear_the_gate(page: Any, url: str) -> None:
    page.goto(f"{url}/jobs/0001/")
    page.get_by_role("button", name="Came today drawing approved").click()
    page.get_by_role("button", name="Not after all drawing approved").wait_for()
    assert Gate.objects.get().cleared is not None


def test_a_job_from_its_entry_to_a_cleared_gate(office_page: Any, live_server: Any) -> None:
    _enter_a_job(office_page, live_server.url)
    assert Operation.objects.filter(job__title="Stair window").count() == 6
    address = office_page.url
    _change_a_size(office_page)
    # Changed in place: the page was not left, and the focus is where the button was.
    assert office_page.evaluate("document.activeElement.id") == "key-about"
    assert "change" not in office_page.url
    _clear_the_gate(office_page, live_server.url)
    assert office_page.url == address
    assert [text for text in office_page.wrong if "422" not in text] == []


def test_the_same_without_scripts(
    transactional_db: None, office: Account, signed_in: Any, browser: Any, live_server: Any
) -> None:
    _fresh_dates()
    context = browser.new_context(java_script_enabled=False)
    page = signed_in(office, context)
    page.set_default_timeout(8000)
    _enter_a_job(page, live_server.url)
    _change_a_size(page)
    _clear_the_gate(page, live_server.url)
    context.close()


def test_work_is_put_in_order_in_place(office_page: Any, live_server: Any) -> None:
    panel = cast.make_panel(cast.make_job())
    cutting = cast.operation_of(panel, "Cutting")
    office_page.goto(f"{live_server.url}/jobs/0412/1/")
    office_page.get_by_role("link", name="Change Cutting").click()
    editor = office_page.locator(f"#work-{cutting.pk} .editor")
    editor.get_by_label("Assembly").check()
    editor.get_by_role("button", name="Change the order").click()
    office_page.get_by_text("Cutting would wait for Assembly").wait_for()
    assert editor.get_by_label("Assembly").is_checked()
    editor.get_by_label("Pieces of the new part").fill("4")
    editor.get_by_role("button", name="Split it").click()
    office_page.get_by_role("heading", name="Cutting, part 2").wait_for()
    assert office_page.locator("#messages").inner_text() == "Cutting: there are two parts now."
    assert [text for text in office_page.wrong if "422" not in text] == []


def test_filters_are_kept_in_the_address(office_page: Any, live_server: Any) -> None:
    cast.make_job("0412", "Hall window")
    cast.make_job("0413", "Porch door", stage="complete")
    office_page.goto(f"{live_server.url}/jobs/")
    office_page.get_by_label("Stage").select_option("complete")
    office_page.get_by_text("0413 Porch door").wait_for()
    assert office_page.get_by_text("0412 Hall window").count() == 0
    assert "stage=complete" in office_page.url
    office_page.reload()
    office_page.get_by_text("0413 Porch door").wait_for()
    assert office_page.wrong == []


def test_pages_are_for_everyone(
    transactional_db: None, lead: Account, signed_in: Any, live_server: Any
) -> None:
    job = _full_job()
    held = cast.operation_of(job.panels.get(number=1), "Beveling")
    addresses = [
        "/jobs/",
        "/jobs/?q=zebra",
        "/jobs/new/",
        "/jobs/new/?copy=0412",
        "/jobs/import/",
        "/jobs/0412/",
        "/jobs/0412/?edit=about",
        "/jobs/0412/?edit=new-panel",
        "/jobs/0412/1/",
        "/jobs/0412/1/?edit=about",
        "/jobs/0412/1/?edit=new-work",
        f"/jobs/0412/1/?edit=work-{held.pk}",
    ]
    page = signed_in(lead)
    for address in addresses:
        page.goto(live_server.url + address)
        assert faults(page) == []


def _full_job() -> Job:
    _fresh_dates()
    job = cast.make_job()
    panel = cast.make_panel(job, kinds=("Cutting", "Beveling", "Assembly", "Cure", "Lamination"))
    Panel.objects.filter(pk=panel.pk).update(width_mm=1400, height_mm=1400, copies=3, where="rack 4")
    cast.make_panel(job, 2)
    cast.make_gate(job, "drawing")
    cast.make_gate(job, "deposit", cleared=cast.at(2).date())
    Operation.objects.create(job=job, kind=OperationKind.objects.get(name="Delivery"), estimate=60)
    cutting, beveling = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
    Operation.objects.filter(pk=cutting.pk).update(finished_at=cast.at(2))
    beveling.holds.create(reason="wheel broken", since=cast.at(2), held_by="Nora Feld")
    job.holds.create(reason="flood", since=cast.at(2), held_by="Nora Feld")
    beveling.entries.create(
        person=cast.person("Mara"), started_at=cast.at(2), stopped_at=cast.at(2, "09:00"), minutes=60
    )
    return job
