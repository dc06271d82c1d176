"""What the database itself keeps of letters and of quotes that were sent."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from jobs.models import Account, LetterSettings, Quote, QuoteState, SentQuote
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")


def refuse(make: Any) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        make()


@pytest.mark.parametrize(
    "wrong",
    [
        {"lift_kg": Decimal(0)},
        {"two_from_mm": Decimal(0)},
        {"crate_panels": 0},
        {"crate_kg": Decimal(0)},
        {"board_kg_m2": Decimal(-1)},
    ],
)
def test_letter_settings(wrong: dict[str, Any]) -> None:
    LetterSettings.current()
    refuse(lambda: LetterSettings.objects.update(**wrong))


def test_one_row_of_letter_settings() -> None:
    refuse(lambda: LetterSettings.objects.create(pk=2))


def test_a_paper_of_a_quote_has_a_file_and_is_one(lead: Account) -> None:
    quote = Quote.objects.create(
        job=cast.make_job(), version=1, state=QuoteState.DRAFT, made_at=cast.at(2), made_by=lead
    )
    given: dict[str, Any] = {"quote": quote, "sha256": "0" * 64, "made_at": cast.at(2), "made_by": lead}
    refuse(lambda: SentQuote.objects.create(**given, file=""))
    SentQuote.objects.create(**given, file="quotes/a.pdf")
    refuse(lambda: SentQuote.objects.create(**given, file="quotes/b.pdf"))
