"""May this start? The one rule that the planner and the bench share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Self

from jobs.planning.shop import Nature

_DOES = {Nature.ATTENDED: "be worked on", Nature.CURE: "begin to cure", Nature.OUTSIDE: "go out"}


def waits(early: bool) -> bool:
    """Whether an operation waits for its predecessors and gates: until the lead lets it start early."""
    return not early


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


class Reason(str):
    """A sentence, and what it is made of for who says it in another language: `words` with `values` in it, a name or
    several."""

    __slots__ = ("values", "words")

    words: str
    values: dict[str, str | tuple[str, ...]]

    def __new__(cls, words: str, **values: str | tuple[str, ...]) -> Self:
        shown = {name: value if isinstance(value, str) else _listed(value) for name, value in values.items()}
        reason = super().__new__(cls, words % shown if shown else words)
        reason.words, reason.values = words, values
        return reason


def may_start(
    *,
    nature: str,
    unfinished: Sequence[str],
    gates_open: Sequence[str],
    held: str | None,
    cancelled: bool,
    done: bool,
    early: bool,
) -> tuple[Reason, ...]:
    """Why an operation may not start now, a sentence for each reason; empty if it may.

    `unfinished`: names of the operations before it that are not finished. `gates_open`: names of the gates that are
    not cleared yet. `held`: the reason of its hold ("" for a hold without one), None if it is not held. `early`: the
    lead has let it start early, which waives predecessors and gates, but no hold.
    ValueError for a nature that is none.
    """
    does = _DOES[Nature(nature)]
    if cancelled:
        return (Reason("The job is cancelled."),)
    if done:
        return (Reason("It is finished already."),)
    reasons = []
    if held is not None:
        reasons.append(Reason("It is held: %(reason)s.", reason=held) if held else Reason("It is held."))
    if unfinished and waits(early):
        verb = "is" if len(unfinished) == 1 else "are"
        reasons.append(Reason(f"It cannot {does} before %(work)s {verb} finished.", work=tuple(unfinished)))
    if gates_open and waits(early):
        reasons.append(Reason(f"It cannot {does} yet, still to come: %(gates)s.", gates=tuple(gates_open)))
    return tuple(reasons)
