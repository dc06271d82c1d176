"""What letters say: changed by the lead, within bounds."""

from decimal import Decimal
from typing import Any

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.letter_settings import LONGEST, change_letter_settings
from jobs.models import Account, Event, LetterSettings
from tests import cast


def test_words_and_figures_are_changed(lead: Account) -> None:
    typed = {"care": "  Dust it. \r\n  Love it. ", "lift_kg": Decimal(15)}
    row = change_letter_settings(typed, by=Actor(account=lead), at=cast.at(2))
    row.refresh_from_db()
    assert (row.care, row.lift_kg) == ("Dust it.\nLove it.", 15)
    assert Event.objects.get(subject="lettersettings").after["lift_kg"] == "15"
    change_letter_settings(typed, by=Actor(account=lead), at=cast.at(2))
    assert Event.objects.filter(subject="lettersettings").count() == 1


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"lift_kg": Decimal(0)}, "from 1 to 100 kg"),
        ({"two_from_mm": Decimal(0)}, "20 m long"),
        ({"crate_panels": 0}, "1 to 100 panels"),
        ({"crate_kg": Decimal(0)}, "1 to 9999 kg"),
        ({"board_kg_m2": Decimal(-1)}, "square meter of board"),
        ({"care": "x" * (LONGEST + 1)}, "At most"),
    ],
)
def test_what_cannot_be(lead: Account, typed: dict[str, Any], words: str) -> None:
    with pytest.raises(Refused, match=words) as refused:
        change_letter_settings(typed, by=Actor(account=lead), at=cast.at(2))
    assert refused.value.field in typed
    assert LetterSettings.current().lift_kg == 20


def test_only_the_lead(office: Account) -> None:
    with pytest.raises(Refused, match="Only the lead"):
        change_letter_settings({"care": ""}, by=Actor(account=office), at=cast.at(2))


def test_our_own_words_defer_to_the_building_official(shop: None) -> None:
    words = LetterSettings.current().safety
    assert "local building official" in words
    assert "Nothing in this paper declares that the work complies" in words
