"""What changed from one version of a quote to the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Offered:
    """A line of a quote as it is compared: of which panel ("" for the whole job), in which group, its words."""

    panel: str
    group: str
    words: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Changed:
    """One line that is new (`before` None), gone (`after` None) or has another amount."""

    panel: str
    group: str
    words: str
    before: Decimal | None
    after: Decimal | None

    @property
    def more(self) -> Decimal:
        return (self.after or Decimal(0)) - (self.before or Decimal(0))


def compare(before: Sequence[Offered], after: Sequence[Offered]) -> tuple[Changed, ...]:
    """The lines that differ, in the order of the later version, those that are gone last.

    Lines of the same panel, group and words are one: their amounts count together.
    """
    old, new = _together(before), _together(after)
    found = [Changed(*key, old.get(key), amount) for key, amount in new.items() if old.get(key) != amount]
    found += [Changed(*key, amount, None) for key, amount in old.items() if key not in new]
    return tuple(found)


def _together(lines: Sequence[Offered]) -> dict[tuple[str, str, str], Decimal]:
    found: dict[tuple[str, str, str], Decimal] = {}
    for line in lines:
        key = (line.panel, line.group, line.words)
        found[key] = found.get(key, Decimal(0)) + line.amount
    return found
