"""Why a job takes so long, in words for its customer: nothing of other jobs, of people, or of benches."""

from collections import defaultdict
from collections.abc import Mapping

from jobs.planning.check import listed
from jobs.planning.shop import Shop
from jobs.planning.why import Cause, Segment, Why

# What most of the time goes to is told; a second reason only where it is at least this share of it.
SECOND = 0.25
# By the word of the gate, as the shop has it.
GATES = {
    "measured on site": "We need the measurements taken on site before we can go on.",
    "drawing approved": "We need the approval of the drawing before we can go on.",
    "deposit in": "We need the deposit before we can go on.",
    "glass in": "We wait for glass that is on order for you.",
}
_TURN = {Cause.STATION, Cause.PERSON, Cause.CLOSED}


def plain_reason(found: Why, shop: Shop, told: Mapping[int, str]) -> str:
    """One or two sentences, from the largest parts of the chain by the time in which anybody was at work.

    `told`: what customers are told that a kind of work is, by its id; its own name where nothing is said. "" where
    there is nothing to explain.
    """
    groups: dict[tuple[str, int | None], list[Segment]] = defaultdict(list)
    for segment in found.segments:
        turn = segment.cause in _TURN
        groups["turn" if turn else segment.cause.value, None if turn else segment.gate].append(segment)
    weights = {key: sum(s.open_minutes or s.minutes for s in rows) for key, rows in groups.items()}
    ranked = sorted(weights, key=lambda key: (-weights[key], key[0]))
    if not ranked:
        return ""
    reasons = [_sentence(groups[ranked[0]], shop, told)]
    if len(ranked) > 1 and weights[ranked[1]] >= SECOND * weights[ranked[0]]:
        reasons.append(_sentence(groups[ranked[1]], shop, told))
    return " ".join(reasons)


def _sentence(rows: list[Segment], shop: Shop, told: Mapping[int, str]) -> str:
    work, several = _works(rows, shop, told)
    match rows[0].cause:
        case Cause.WORK:
            return f"Most of the time is taken by the handwork itself: {work}."
        case Cause.CURE:
            return "The panels have to dry and rest before they can be moved safely."
        case Cause.SUPPLIER:
            outside = "are" if several else "is"
            return f"{_capital(work)} {outside} done outside our workshop, and we wait for its return."
        case Cause.GATE:
            kind = next((gate.kind for gate in shop.gates if gate.id == rows[0].gate), "")
            return GATES.get(kind, "We wait for something that has to be there before we can go on.")
        case Cause.HOLD:
            return "The work rests until an open question about it is settled."
    waits = "wait" if several else "waits"
    return f"{_capital(work)} {waits} for a turn in our workshop, where work is taken as it falls due."


def _works(rows: list[Segment], shop: Shop, told: Mapping[int, str]) -> tuple[str, bool]:
    kind_of = {operation.id: operation.kind for operation in shop.operations}
    names = {kind.id: told.get(kind.id) or kind.name for kind in shop.kinds}
    minutes: dict[str, int] = defaultdict(int)
    for segment in rows:
        minutes[_small(names[kind_of[segment.operation]])] += segment.open_minutes or segment.minutes
    most = sorted(minutes, key=lambda name: (-minutes[name], name))[:3]
    return listed(most), len(most) > 1


def _small(name: str) -> str:
    """“beveling” for “Beveling”; “UV bonding” stays as it is."""
    return name if name[:2].isupper() else name[:1].lower() + name[1:]


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
