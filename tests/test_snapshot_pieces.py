"""Marked pieces -> planning input: hours left by what the pieces left ask for, and by the pace so far."""

from typing import Any

import pytest
from django.db import IntegrityError, transaction

from jobs import models
from jobs.actions import Actor
from jobs.actions.bench import count_pieces
from jobs.actions.pieces import mark_pieces
from jobs.models import Account, BrokenPiece, Operation, PieceMark
from jobs.planning.durations import medians
from jobs.snapshot import read_shop
from jobs.snapshot.pieces import read_left, read_pieces
from tests import cast
from tests.cast import at
from tests.test_snapshot import log, told

pytestmark = pytest.mark.usefixtures("shop")
TEN = at(2, "10:00")
# Three large panes and one that is a tenth of the panel's height, of the glass that is beveled as a rule.
UNEQUAL = """<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="900mm" viewBox="0 0 600 900">
<rect width="600" height="90" fill="#dfeae6"/><rect y="90" width="600" height="270" fill="#dfeae6"/>
<rect y="360" width="600" height="270" fill="#dfeae6"/><rect y="630" width="600" height="270" fill="#dfeae6"/></svg>"""


@pytest.fixture
def beveling(lead: Account) -> Operation:
    panel = cast.make_panel(cast.make_job(), kinds=("Beveling",))
    cast.make_accepted(panel, lead, UNEQUAL)
    return cast.operation_of(panel, "Beveling")


def mark(operation: Operation, *numbers: int, step: str = "felt") -> None:
    assert operation.panel is not None
    pattern = operation.panel.patterns.get().pk
    mark_pieces(operation, None, pattern=pattern, numbers=numbers, step=step, by=Actor(), at=at(2, "09:00"))


def test_a_small_piece_is_less_than_its_count(beveling: Operation) -> None:
    known = read_pieces(beveling, TEN)
    assert known is not None
    small, large = (sum(known.worth[number]) for number in (1, 2))
    assert small + 3 * large == pytest.approx(4)
    assert small < 0.85 < 1 < large
    mark(beveling, 1)
    assert told(beveling).worked == pytest.approx(small)
    mark(beveling, 2, step="coarse")
    assert told(beveling).worked == pytest.approx(small + known.worth[2][0])
    assert told(beveling).quantity_done == 1


def test_counted_and_marked_pieces_are_worked_together(beveling: Operation) -> None:
    count_pieces(beveling, None, add=1, by=Actor(), at=at(2, "09:00"))
    assert told(beveling).worked is None
    assert told(beveling).finished_pieces == 1
    mark(beveling, 2)
    known = read_pieces(beveling, TEN)
    assert known is not None
    assert told(beveling).worked == pytest.approx(1 + sum(known.worth[2]))
    mark(beveling, 1, 3, 4)
    assert told(beveling).worked == 4


def test_the_hours_left_are_the_planners_and_follow_the_pace(beveling: Operation) -> None:
    assert read_left(beveling, TEN) == 450
    mark(beveling, 2)
    beveling.refresh_from_db()
    log(beveling, "Mara", "08:00", 60)
    fast = read_left(beveling, TEN)
    log(beveling, "Mara", "09:00", 180)
    slow = read_left(beveling, TEN)
    shop = read_shop(TEN)
    assert medians(shop.operations, shop.kinds, now=TEN)[0, 0] == slow
    assert fast < slow
    # As many pieces left, and more to do on them: the small one is done in place of a large one.
    beveling.marks.all().delete()
    models.Operation.objects.update(quantity_done=0)
    mark(beveling, 1)
    beveling.refresh_from_db()
    assert read_left(beveling, TEN) > slow


def refuse(make: Any) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        make()


def test_the_database_refuses_impossible_marks(beveling: Operation) -> None:
    assert beveling.panel is not None
    known = {
        "operation": beveling,
        "pattern": beveling.panel.patterns.get(),
        "number": 1,
        "step": "felt",
        "at": TEN,
    }
    kept = PieceMark.objects.create(**known)
    for wrong in ({}, {"copy": 0}, {"number": 0}, {"worth": -1}, {"undone_at": at(2, "09:00")}):
        refuse(
            lambda wrong=wrong: PieceMark.objects.create(
                **known | {"step": "cork" if wrong else "felt"} | wrong
            )
        )
    refuse(lambda: PieceMark.objects.filter(pk=kept.pk).update(undone_by=cast.person("Mara")))
    PieceMark.objects.filter(pk=kept.pk).update(undone_at=TEN)
    PieceMark.objects.create(**known)
    breakage = models.Breakage.objects.create(operation=beveling, pieces=1, at=TEN)
    broken = {"breakage": breakage, "pattern": known["pattern"], "number": 1}
    BrokenPiece.objects.create(**broken)
    refuse(lambda: BrokenPiece.objects.create(**broken))
    refuse(lambda: BrokenPiece.objects.create(**broken | {"number": 0}))
