"""The pieces on the page of a panel: its drawing as a work has them, the counts of all, and who marked what when."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.bench import count_pieces
from jobs.actions.breakages import Named, break_pieces
from jobs.actions.pieces import mark_pieces
from jobs.models import Account, Operation, Panel, PlanState
from tests import cast

PAGE = "/jobs/0412/1/"


@pytest.fixture(autouse=True)
def panel(shop: None, lead: Account) -> Panel:
    state = PlanState.current()
    state.planned_at, state.planned_revision = timezone.now(), state.revision
    state.save()
    panel = cast.make_panel(cast.make_job(), kinds=("Cutting", "Beveling", "Assembly"), copies=2)
    cast.make_accepted(panel, lead)
    return panel


def mark(
    panel: Panel, kind: str, who: str, *numbers: int, step: str = "", hours: int = 1, **more: Any
) -> None:
    mark_pieces(
        cast.operation_of(panel, kind),
        cast.person(who),
        pattern=panel.patterns.get().pk,
        numbers=numbers,
        step=step,
        by=Actor(),
        at=timezone.now() - timedelta(hours=hours),
        **more,
    )


def words(client: Client, address: str = PAGE) -> str:
    return client.get(address).content.decode()


def parts(page: str) -> dict[int, str]:
    """By the number of a piece, how it is filled."""
    return {int(n): part for n, part in re.findall(r'data-n="(\d+)" data-part="(\w+)"', page)}


def listed(page: str) -> list[str]:
    """The list of the pieces as it is read."""
    rows = re.findall(r"<li><strong>(.*?)</li>", page)
    return [re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", row)).strip() for row in rows]


def test_the_work_marked_last_is_filled_with_who_and_when(lead_client: Client, panel: Panel) -> None:
    mark(panel, "Cutting", "Jonas", 1, 2, 4, hours=3)
    mark(panel, "Beveling", "Mara", 2, step="fine", hours=2)
    mark(panel, "Beveling", "Ilse", 4, step="felt", hours=1)
    page = words(lead_client)
    assert "Pieces at Beveling" in page
    assert parts(page) == {1: "0", 2: "3", 3: "0", 4: "5"}
    assert 'role="checkbox"' not in page
    one, two, _, four = listed(page)
    assert one == "1 Red not begun"
    assert two.startswith("2 Blue fine done, 3 of 5, Mara Lind, ")
    assert four.startswith("4 Red done, all 5, Ilse Roth, ")
    assert "Filled: the share" not in page


def test_counts_by_work_and_by_wheel(office_client: Client, panel: Panel) -> None:
    mark(panel, "Cutting", "Jonas", 1, 2, 3)
    mark(panel, "Beveling", "Mara", 1, 2, step="smooth")
    mark(panel, "Beveling", "Mara", 1, step="felt")
    count_pieces(cast.operation_of(panel, "Cutting"), None, add=2, by=Actor(), at=timezone.now())
    shown = re.search(r'<ul class="counts">.*?</ul>', words(office_client), re.DOTALL)
    assert shown is not None
    said = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", shown[0])).strip()
    assert said == (
        "Cutting on the drawing 5 of 8 2 counted and not marked "
        "Beveling on the drawing 1 of 8 coarse 2 smooth 2 fine 1 cork 1 felt 1"
    )


def test_another_work_and_another_copy_are_asked_for(office_client: Client, panel: Panel) -> None:
    mark(panel, "Cutting", "Jonas", 3, copy=2)
    mark(panel, "Beveling", "Mara", 1, step="coarse", hours=0)
    cutting = cast.operation_of(panel, "Cutting").pk
    assert parts(words(office_client, f"{PAGE}?work={cutting}&copy=2")) == {1: "0", 2: "0", 3: "5", 4: "0"}
    assert set(parts(words(office_client, f"{PAGE}?work={cutting}")).values()) == {"0"}
    for nonsense in ("work=77&copy=3", "work=x&copy=x", "copy=0", "copy=99999999999999999999"):
        assert parts(words(office_client, f"{PAGE}?{nonsense}"))[1] == "1"


def test_without_marks_the_panel_is_shown_as_it_is_drawn(office_client: Client, panel: Panel) -> None:
    page = words(office_client)
    assert parts(page) == {}
    assert page.count('class="piece') == 4
    cutting = f"?work={cast.operation_of(panel, 'Cutting').pk}&amp;copy=1"
    assert cutting in page
    assert set(parts(words(office_client, PAGE + cutting.replace("&amp;", "&"))).values()) == {"0"}


def test_what_broke_is_told_with_the_work_that_makes_it_again(office_client: Client, panel: Panel) -> None:
    mark(panel, "Beveling", "Mara", 1, 2, step="felt")
    beveling = cast.operation_of(panel, "Beveling")
    named = Named(panel.patterns.get().pk, 1, frozenset({2}))
    break_pieces(beveling, 1, person=None, by=Actor(), at=timezone.now(), named=named)
    page = words(office_client, f"{PAGE}?work={beveling.pk}")
    assert parts(page)[2] == "broken"
    assert listed(page)[1] == "2 Blue broken, made again: Beveling again, 1 piece"


def test_work_counted_to_its_end_is_filled_without_marks(office_client: Client, panel: Panel) -> None:
    Operation.objects.filter(kind__name="Cutting").update(quantity_done=7)
    cutting = f"{PAGE}?work={cast.operation_of(panel, 'Cutting').pk}"
    assert set(parts(words(office_client, cutting)).values()) == {"0"}
    Operation.objects.filter(kind__name="Cutting").update(quantity_done=8)
    page = words(office_client, cutting)
    assert set(parts(page).values()) == {"5"}
    assert listed(page)[0] == "1 Red done"


def test_a_panel_without_a_pattern_has_its_counts_only(office_client: Client, panel: Panel) -> None:
    panel.patterns.update(accepted_at=None, accepted_by=None)
    Operation.objects.filter(kind__name="Cutting").update(quantity_done=7)
    page = words(office_client)
    assert "7 of 8" in page
    assert parts(page) == {}
    assert "piece-done" not in page
    panel.operations.update(quantity=0, quantity_done=0)
    assert "Pieces done" not in words(office_client)


def test_marks_cost_no_query_each(office_client: Client, panel: Panel) -> None:
    def queries() -> int:
        words(office_client)
        with CaptureQueriesContext(connection) as captured:
            words(office_client)
        return len(captured)

    mark(panel, "Beveling", "Mara", 1, step="felt")
    few = queries()
    mark(panel, "Cutting", "Jonas", 1, 2, 3, 4, hours=2)
    mark(panel, "Beveling", "Ilse", 2, 3, 4, step="felt")
    assert queries() == few
