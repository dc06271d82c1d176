"""May this start? The one rule that the planner and the bench share."""

from __future__ import annotations

from collections.abc import Sequence

from jobs.planning.shop import Nature

_DOES = {Nature.ATTENDED: "be worked on", Nature.CURE: "begin to cure", Nature.OUTSIDE: "go out"}


def waits(early: bool) -> bool:
    """Whether an operation waits for its predecessors and gates: until the lead lets it start early."""
    return not early


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def may_start(
    *,
    nature: str,
    unfinished: Sequence[str],
    gates_open: Sequence[str],
    held: str | None,
    cancelled: bool,
    done: bool,
    early: bool,
) -> tuple[str, ...]:
    """Why an operation may not start now, a sentence for each reason; empty if it may.

    `unfinished`: names of the operations before it that are not finished. `gates_open`: names of the gates that are
    not cleared yet. `held`: the reason of its hold ("" for a hold without one), None if it is not held. `early`: the
    lead has let it start early, which waives predecessors and gates, but no hold.
    ValueError for a nature that is none.
    """
    does = _DOES[Nature(nature)]
    if cancelled:
        return ("The job is cancelled.",)
    if done:
        return ("It is finished already.",)
    reasons = []
    if held is not None:
        reasons.append(f"It is held: {held}." if held else "It is held.")
    if unfinished and waits(early):
        verb = "is" if len(unfinished) == 1 else "are"
        reasons.append(f"It cannot {does} before {_listed(unfinished)} {verb} finished.")
    if gates_open and waits(early):
        reasons.append(f"It cannot {does} yet, still to come: {_listed(gates_open)}.")
    return tuple(reasons)
