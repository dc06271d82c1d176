"""The pattern page in a browser: a drawing from its file to the panel, without scripts as well, and for everyone."""

from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from jobs.models import Account, Panel, PlanState
from tests import cast
from tests.browser.looks import faults, open_all

pytestmark = pytest.mark.django_db(transaction=True)
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="900mm" viewBox="0 0 600 900">'
# Two panes with a gap between them, and a sliver of a triangle that is hard to cut.
FAULTY = (
    f'{HEAD}<rect width="299" height="450" fill="#a83a45"/><rect x="301" width="299" height="450" fill="#4f78b5"/>'
    '<path d="M0 450H600L300 470Z" fill="#a83a45"/><rect y="470" width="600" height="430" fill="none"/></svg>'
)


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    file = tmp_path / "hall window.svg"
    file.write_text(cast.LATTICE.replace('width="600mm" height="900mm" ', ""))
    return file


def _hall(**values: Any) -> Panel:
    state = PlanState.current()
    state.planned_at, state.planned_revision = timezone.now(), state.revision
    state.save()
    cast.make_glass()
    return cast.make_panel(cast.make_job(), **values)


def _from_file_to_panel(page: Any, url: str, drawing: Path) -> None:
    page.set_default_timeout(8000)
    page.goto(f"{url}/jobs/0412/1/")
    page.get_by_role("link", name="Upload a drawing").click()
    page.get_by_label("Drawing, SVG or DXF").set_input_files(str(drawing))
    page.get_by_role("button", name="Upload it").click()
    page.get_by_text("does not say its units").wait_for()
    page.get_by_label("How wide the drawing is").fill("600 mm")
    page.get_by_role("button", name="Measure it so").click()
    page.get_by_role("heading", name="Nothing is wrong with the drawing").wait_for()
    red = page.get_by_role("group", name="#a83a45")
    red.get_by_label("Glass").select_option("Clear plate")
    red.get_by_label("Beveled").check()
    page.get_by_role("button", name="Save the glass").click()
    page.get_by_role("button", name="Accept the pattern").click()
    page.get_by_text("Pattern 1 is accepted").wait_for()
    assert page.get_by_text("9 on each face").count() == 1
    page.get_by_role("link", name="0412/1 Light 1").click()
    page.get_by_text("Takeoff measured from the pattern").wait_for()
    assert page.locator(".panel-picture .piece-beveled").count() == 2
    assert Panel.objects.get().pieces == 4


def test_from_a_file_to_the_panel(
    transactional_db: None, office: Account, signed_in: Any, live_server: Any, drawing: Path
) -> None:
    _hall()
    page = signed_in(office)
    wrong: list[str] = []
    page.on("console", lambda m: wrong.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: wrong.append(str(e)))
    _from_file_to_panel(page, live_server.url, drawing)
    assert wrong == []


def test_the_same_without_scripts(
    transactional_db: None, office: Account, signed_in: Any, browser: Any, live_server: Any, drawing: Path
) -> None:
    _hall()
    context = browser.new_context(java_script_enabled=False)
    _from_file_to_panel(signed_in(office, context), live_server.url, drawing)
    context.close()


def test_the_page_is_for_everyone(
    transactional_db: None, lead: Account, signed_in: Any, live_server: Any
) -> None:
    first = _hall()
    second, third, _ = (cast.make_panel(first.job, number) for number in (2, 3, 4))
    cast.make_pattern(first, lead, FAULTY)
    cast.make_pattern(second, lead, cast.LATTICE.replace('width="600mm" height="900mm" ', ""))
    cast.make_pattern(third, lead)
    Panel.objects.filter(pk=third.pk).update(width_mm=700)
    third.refresh_from_db()
    cast.make_pattern(third, lead)
    page = signed_in(lead)
    for number in (1, 2, 3, 4):
        page.goto(f"{live_server.url}/jobs/0412/{number}/pattern/")
        open_all(page)
        assert faults(page) == []
