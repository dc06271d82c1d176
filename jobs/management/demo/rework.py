"""What a broken piece brings: the work that has to be done again, ahead of all that comes after it."""

from __future__ import annotations

import math
from random import Random

from . import law
from .records import Broken, Work, Worker

NOTES = {
    "Cutting": ("ran off the score", "flaw in the sheet"),
    "Beveling": (
        "chipped on the smoothing wheel",
        "cracked at the corner, roughing",
        "shelled edge, too deep",
    ),
    "Assembly": ("cracked while closing the came", "too tight in the corner"),
    "Soldering": ("heat crack beside a joint",),
    "Cleaning": ("dropped a corner on the bench",),
}


def before(work: Work) -> list[Work]:
    """The operations that come before this one, however far back."""
    found: list[Work] = []
    heap = list(work.after)
    while heap:
        other = heap.pop()
        if other not in found:
            found.append(other)
            heap += other.after
    return found


def behind(work: Work) -> list[Work]:
    found: list[Work] = []
    heap = list(work.then)
    while heap:
        other = heap.pop()
        if other not in found:
            found.append(other)
            heap += other.then
    return found


def link(first: Work, then: Work) -> None:
    if first not in then.after:
        then.after.append(first)
        first.then.append(then)


def make_rework(work: Work, pieces: int, worker: Worker, at: int, rng: Random) -> tuple[Broken, list[Work]]:
    """The breakage of some pieces during `work`, and its rework, chained and linked ahead of what follows.

    Done again is what is done again for a broken piece of this panel, from the first such operation to this one.
    """
    chain = [w for w in [*before(work), work] if w.kind.again and w.panel is work.panel and not w.of_breakage]
    side = {
        w.kind.name: w for w in sorted(chain, key=lambda w: w.place) if w.quantity and w.started is not None
    }
    broken = Broken(work, pieces, at, worker, rng.choice(NOTES.get(work.kind.name, ("broke",))))
    rework: list[Work] = []
    for model in side.values():
        again = _again(model, broken, rng)
        if rework:
            link(rework[-1], again)
        rework.append(again)
    if not rework:
        return broken, []
    following = behind(work) if work.kind.again else [work, *behind(work)]
    for then in following:
        if then.started is None or then is work:
            redone = then.kind.again and then.panel is work.panel
            if not redone and then.finished is None and then is not rework[-1]:
                link(rework[-1], then)
    _place(work, rework, following)
    if work.quantity and work.finished is None:
        kept = max(work.quantity - pieces, work.done)
        work.left *= kept / work.quantity
        work.content *= kept / work.quantity
        work.quantity = max(kept, 1)
    return broken, rework


def _again(model: Work, broken: Broken, rng: Random) -> Work:
    """The same work once more for the broken pieces, with their share of its estimate."""
    estimate = max(math.ceil(model.estimate / model.quantity * broken.pieces), 5)
    noun = "piece" if broken.pieces == 1 else "pieces"
    again = Work(
        model.job,
        model.panel,
        model.kind,
        f"{model.kind.name} again, {broken.pieces} {noun}",
        model.place,
        estimate,
        broken.pieces,
        of_breakage=broken,
        not_before=model.job.rework_from,
    )
    again.content = again.left = law.content(
        model.kind.name, estimate, law.luck(model.kind.name, model.job.difficulty, rng)
    )
    return again


def _place(work: Work, rework: list[Work], following: list[Work]) -> None:
    """Put the rework into the panel's order, just ahead of what waits for it."""
    same = [then for then in following if then.panel is work.panel]
    place = min((then.place for then in same), default=work.place + 1)
    for other in work.job.works:
        if other.panel is work.panel and other.place >= place:
            other.place += len(rework)
    for number, again in enumerate(rework):
        again.place = place + number
    work.job.works += rework
