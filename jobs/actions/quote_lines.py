"""The lines of a quote as they are read: a draft's from its rows, a sent one's as they were frozen."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from jobs.estimating.versions import Changed, Offered, compare
from jobs.models import LineGroup, Quote, QuoteLine, QuoteState

FOOT = (LineGroup.ROUNDING, LineGroup.TAX)


@dataclass(frozen=True, slots=True)
class ShownLine:
    """`panel` is its number and name, "" for what is of the whole job; `pk` is 0 where the line is frozen. `copies` of
    the panel are paid for with the amount."""

    pk: int
    panel: str
    group: str
    words: str
    quantity: Decimal
    unit: str
    price: Decimal
    amount: Decimal
    minutes: int | None
    copies: int = 1

    @property
    def label(self) -> str:
        return str(LineGroup(self.group).label)

    @property
    def is_foot(self) -> bool:
        return self.group in FOOT


def lines_of(quote: Quote) -> list[ShownLine]:
    if quote.state != QuoteState.DRAFT and quote.frozen:
        return [_thawed(line) for line in quote.frozen["lines"]]
    return [_shown(row) for row in quote.lines.select_related("panel").order_by("place", "pk")]


def _shown(row: QuoteLine) -> ShownLine:
    panel = f"{row.panel.number} {row.panel.name}" if row.panel else ""
    numbers = (row.quantity, row.unit, row.price, row.amount, row.minutes)
    copies = row.panel.copies if row.panel else 1
    return ShownLine(row.pk, panel, row.group, row.words, *numbers, copies)


def frozen_lines(quote: Quote) -> list[dict[str, Any]]:
    """The lines of a draft as JSON holds them."""
    found = []
    for line in lines_of(quote):
        row = asdict(line) | {"pk": 0}
        found.append(
            {name: str(value) if isinstance(value, Decimal) else value for name, value in row.items()}
        )
    return found


def _thawed(line: dict[str, Any]) -> ShownLine:
    return ShownLine(**line | {name: Decimal(line[name]) for name in ("quantity", "price", "amount")})


def changed_since(before: Quote, after: Quote) -> tuple[Changed, ...]:
    """What a later version changed."""
    return compare(_offered(lines_of(before)), _offered(lines_of(after)))


def _offered(lines: Sequence[ShownLine]) -> list[Offered]:
    return [Offered(line.panel, line.group, line.words, line.amount) for line in lines]
