"""Drawings that the customer approves: exactly which, by whom, and what it sets going; and when it is asked again."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.approvals import CHANGED, Signed, approve_drawings
from jobs.actions.base import SYSTEM
from jobs.actions.customer_links import revoke_link
from jobs.actions.gates import clear_gate, reopen_gate
from jobs.actions.jobs import cancel_job, complete_job
from jobs.actions.panels import PanelDraft, add_panel, change_panel
from jobs.actions.patterns import accept_pattern
from jobs.models import (
    Account,
    CustomerLink,
    DrawingApproval,
    Event,
    Gate,
    Job,
    Operation,
    Panel,
    PlanState,
    State,
)
from jobs.models.approvals import hash_of, read_drawings, shown_of
from tests import cast, customers

SIGNED = Signed("Anna Berg", True, "198.51.100.24", "Old phone")


@pytest.fixture
def job(shop: None) -> Job:
    return customers.make_commission(panels=2)


@pytest.fixture
def by(office: Account) -> Actor:
    return Actor(account=office)


@pytest.fixture
def link(job: Job, office: Account) -> CustomerLink:
    return customers.make_customer_link(job, office)


def approve(link: CustomerLink, seen: dict[int, str] | None = None, **signed: Any) -> list[DrawingApproval]:
    who = Signed(**{"name": "Anna Berg", "looked": True} | signed)
    seen = customers.seen_of(link.job) if seen is None else seen
    return approve_drawings(link, seen, who, by=SYSTEM, at=link.made_at)


def gate(job: Job) -> Gate:
    return job.gates.get(kind="drawing")


def test_approving_clears_the_gate_and_lets_the_cutting_start(job: Job, link: CustomerLink) -> None:
    cutting = Operation.objects.filter(job=job, kind__name="Cutting")
    states = cutting.with_state(link.made_at).values_list("state", flat=True)
    assert set(states) == {State.WAITING}
    revision = PlanState.current().revision
    made = approve_drawings(link, customers.seen_of(job), SIGNED, by=SYSTEM, at=link.made_at)
    assert gate(job).cleared == link.made_at.astimezone(cast.ZONE).date()
    assert set(cutting.with_state(link.made_at).values_list("state", flat=True)) == {State.READY}
    assert PlanState.current().revision > revision
    assert [approval.panel.number for approval in made] == [1, 2]


def test_what_was_approved_is_kept_exactly(job: Job, link: CustomerLink) -> None:
    seen = customers.seen_of(job)
    approve_drawings(link, seen, SIGNED, by=SYSTEM, at=link.made_at)
    panel = job.panels.get(number=1)
    shown = shown_of(panel)
    customers.redraw(panel)
    kept = DrawingApproval.objects.get(panel=panel)
    assert (kept.digest, kept.shown) == (seen[1], shown)
    assert hash_of(kept.shown) == kept.digest != hash_of(shown_of(panel))
    assert (kept.name, kept.address, kept.agent, kept.at) == (
        "Anna Berg",
        "198.51.100.24",
        "Old phone",
        link.made_at,
    )
    event = Event.objects.filter(verb="approved", panel=panel).get()
    assert event.after == {"by": "Anna Berg", "version": seen[1][:8]}


def test_the_same_tap_twice_is_one_approval(job: Job, link: CustomerLink) -> None:
    seen = customers.seen_of(job)
    first, again = approve(link, seen), approve(link, seen, name="  anna   berg ")
    assert [a.pk for a in again] == [a.pk for a in first]
    assert DrawingApproval.objects.count() == 2


def test_one_of_two_leaves_the_gate_closed(job: Job, link: CustomerLink) -> None:
    seen = customers.seen_of(job)
    approve(link, {1: seen[1]})
    assert gate(job).cleared is None
    assert [row.panel.number for row in read_drawings(job).asked] == [2]
    approve(link, seen)
    assert gate(job).cleared is not None
    assert DrawingApproval.objects.count() == 2


def test_a_panel_without_a_drawing_leaves_the_gate_closed(job: Job, link: CustomerLink) -> None:
    job.panels.filter(number=2).update(drawing=None)
    approve(link)
    assert gate(job).cleared is None
    assert read_drawings(job).asked == ()


@pytest.mark.parametrize(
    ("signed", "field", "sentence"),
    [
        ({"name": "  "}, "name", "Please write your name."),
        ({"name": "A" * 81}, "name", "at most 80 letters"),
        ({"looked": False}, "looked", "Please look at sizes, glass and layout first"),
    ],
)
def test_what_is_missing_is_refused(
    link: CustomerLink, signed: dict[str, Any], field: str, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence) as refused:
        approve(link, **signed)
    assert refused.value.field == field
    assert not DrawingApproval.objects.exists()


def test_a_drawing_that_changed_meanwhile_is_refused(job: Job, link: CustomerLink) -> None:
    seen = customers.seen_of(job)
    customers.redraw(job.panels.get(number=2))
    with pytest.raises(Refused) as refused:
        approve(link, seen)
    assert refused.value.sentence == CHANGED
    assert not DrawingApproval.objects.exists()
    assert gate(job).cleared is None


@pytest.mark.parametrize("seen", [{3: "0" * 64}, {1: "0" * 64}])
def test_a_drawing_that_was_never_shown_is_refused(link: CustomerLink, seen: dict[int, str]) -> None:
    with pytest.raises(Refused, match="A drawing has changed"):
        approve(link, seen)


def test_nothing_seen_is_nothing_approved(link: CustomerLink) -> None:
    with pytest.raises(Refused, match="There is no drawing to approve"):
        approve(link, {})


def test_approved_already_by_somebody_else(link: CustomerLink) -> None:
    approve(link)
    with pytest.raises(Refused, match="Anna Berg has approved this already"):
        approve(link, name="Karl Berg")
    assert DrawingApproval.objects.count() == 2


def test_approved_already_with_the_studio(job: Job, link: CustomerLink, by: Actor) -> None:
    clear_gate(job, "drawing", by=by, at=link.made_at)
    with pytest.raises(Refused, match="approved already"):
        approve(link)
    Gate.objects.all().delete()
    with pytest.raises(Refused, match="approved already"):
        approve(link)


def test_a_closed_commission_is_refused(job: Job, link: CustomerLink, by: Actor, lead: Account) -> None:
    complete_job(job, anyway=True, by=Actor(account=lead), at=link.made_at)
    with pytest.raises(Refused, match="This commission is complete"):
        approve(link)
    Job.objects.update(stage="ordered", closed_at=None)
    cancel_job(job, why="moved away", by=by, at=link.made_at)
    with pytest.raises(Refused, match="This commission is cancelled"):
        approve(link)
    Job.objects.update(stage="declined")
    with pytest.raises(Refused, match="This commission is closed"):
        approve(link)


def test_a_link_revoked_in_this_moment_is_refused(job: Job, link: CustomerLink, by: Actor) -> None:
    revoke_link(job, by=by, at=link.made_at)
    with pytest.raises(Refused, match="does not open anything any more"):
        approve(link)


def test_the_studio_does_not_approve_for_the_customer(job: Job, link: CustomerLink, by: Actor) -> None:
    with pytest.raises(Refused, match="You are signed in as the studio"):
        approve_drawings(link, customers.seen_of(job), SIGNED, by=by, at=link.made_at)


def sizes(panel: Panel, **changed: Any) -> dict[str, Any]:
    names = ("name", "width_mm", "height_mm", "thickness_mm", "pieces", "copies")
    return {name: getattr(panel, name) for name in names} | changed


@pytest.mark.parametrize(
    "changed",
    [{"width_mm": Decimal("601.50")}, {"thickness_mm": Decimal(4)}, {"copies": 2}],
)
def test_another_size_asks_for_the_approval_again(
    job: Job, link: CustomerLink, by: Actor, changed: dict[str, Any]
) -> None:
    approve(link)
    revision = PlanState.current().revision
    panel = job.panels.get(number=2)
    change_panel(panel, **sizes(panel, **changed), by=by, at=link.made_at)
    assert gate(job).cleared is None
    assert PlanState.current().revision > revision
    (asked,) = read_drawings(job).asked
    assert asked.panel == panel
    assert asked.changed_since is not None
    assert "a drawing has changed" in Event.objects.get(verb="opened again").why
    approve(link)
    assert gate(job).cleared is not None


def test_another_name_does_not(job: Job, link: CustomerLink, by: Actor) -> None:
    approve(link)
    panel = job.panels.get(number=2)
    change_panel(panel, **sizes(panel, name="Left light", pieces=12), by=by, at=link.made_at)
    assert gate(job).cleared is not None


def test_a_pattern_accepted_later_asks_again_and_is_told(
    job: Job, link: CustomerLink, office: Account, by: Actor
) -> None:
    approve(link)
    panel = job.panels.get(number=1)
    pattern = cast.make_pattern(panel, office)
    accept_pattern(pattern, by=by, at=link.made_at)
    assert gate(job).cleared is None
    (approval,) = approve(link, {1: customers.seen_of(job)[1]})
    assert approval.pattern == pattern
    assert gate(job).cleared is not None


def test_a_panel_more_asks_again(job: Job, link: CustomerLink, by: Actor) -> None:
    approve(link)
    draft = PanelDraft("Third", Decimal(300), Decimal(400), drawing=customers.DRAWING)
    add_panel(job, draft, by=by, at=link.made_at)
    assert gate(job).cleared is None
    assert [row.panel.number for row in read_drawings(job).asked] == [3]


def test_not_once_all_is_cut(job: Job, link: CustomerLink, by: Actor) -> None:
    approve(link)
    Operation.objects.filter(kind__name="Cutting").update(finished_at=link.made_at)
    panel = job.panels.get(number=2)
    change_panel(panel, **sizes(panel, width_mm=Decimal(610)), by=by, at=link.made_at)
    assert gate(job).cleared is not None


def test_not_where_the_studio_itself_said_that_it_came(job: Job, link: CustomerLink, by: Actor) -> None:
    clear_gate(job, "drawing", by=by, at=link.made_at)
    panel = job.panels.get(number=2)
    change_panel(panel, **sizes(panel, width_mm=Decimal(610)), by=by, at=link.made_at)
    assert gate(job).cleared is not None


def test_what_the_studio_asks_for_again_is_approved_again(job: Job, link: CustomerLink, by: Actor) -> None:
    approve(link)
    reopen_gate(job, "drawing", by=by, at=link.made_at)
    assert [row.panel.number for row in read_drawings(job).asked] == [1, 2]
    approve(link, name="Karl Berg")
    assert gate(job).cleared is not None
    assert DrawingApproval.objects.standing().filter(name="Karl Berg").count() == 2
    assert DrawingApproval.objects.count() == 4


def test_reopening_another_gate_leaves_the_approvals(job: Job, link: CustomerLink, by: Actor) -> None:
    cast.make_gate(job, "deposit", cleared=date(2026, 3, 2))
    approve(link)
    reopen_gate(job, "deposit", by=by, at=link.made_at)
    assert DrawingApproval.objects.standing().count() == 2


def test_the_hash_is_of_what_is_seen_not_of_how_it_is_written() -> None:
    """What a database makes of numbers (1 and 1.0, keys in another order) is the same drawing."""
    one = {"copies": 1, "drawing": {"width": 600, "pieces": [{"points": [[0, 450.5]], "beveled": True}]}}
    two = {
        "drawing": {"pieces": [{"beveled": True, "points": [[0.0, 450.50004]]}], "width": 600.0},
        "copies": 1,
    }
    assert hash_of(one) == hash_of(two)
    assert hash_of(one) != hash_of(one | {"copies": 2})
    flat = {"drawing": {"width": 600, "pieces": [{"points": [[0, 450.5]], "beveled": 1}]}, "copies": 1}
    assert hash_of(one) != hash_of(flat)
