"""The pieces of one operation: which of its panel's pattern they are, what each is worth, and what is left of them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.core.cache import cache

from jobs import planning
from jobs.estimating.pieces import PieceFacts, works_bevels, worths
from jobs.estimating.rates import KindRates
from jobs.estimating.remaining import worked
from jobs.models import (
    BrokenPiece,
    Glass,
    Nature,
    Operation,
    OperationKind,
    Panel,
    Pattern,
    PieceMark,
    Studio,
    TimeEntry,
)
from jobs.models.working import hours_of
from jobs.planning.durations import medians

from .footing import read_footing
from .history import Paces, at_pace_one, kinds_with_reach, log_ratios, minutes_by_person
from .rates_on import RateHistory
from .read import read_paces

HISTORY_SECONDS = 300

Key = tuple[int, int]
"""(copy, number)"""


@dataclass(frozen=True, slots=True)
class Pieces:
    """The pieces that one operation works, by the pattern that holds.

    `numbers`: in each copy. `only`: where it repeats broken pieces, these alone. `broken`: what broke at it, with the
    work that makes it again. `elsewhere`: what was marked at another part of the same work.
    """

    operation: Operation
    pattern: Pattern
    steps: tuple[str, ...]
    worth: Mapping[int, tuple[float, ...]]
    numbers: frozenset[int]
    only: frozenset[Key] | None = None
    broken: Mapping[Key, str] = field(default_factory=dict)
    elsewhere: Mapping[Key, str] = field(default_factory=dict)

    def has(self, copy: int, number: int) -> bool:
        """Whether the operation is about that piece at all, broken or not."""
        return number in self.numbers and (self.only is None or (copy, number) in self.only)


def pattern_of(panel: Panel | None) -> Pattern | None:
    """The pattern that the panel is built by: the last one accepted, without its lines and its picture."""
    if panel is None:
        return None
    return panel.patterns.filter(accepted_at__isnull=False).defer("lines", "faults", "drawing").last()


def read_pieces(operation: Operation, at: datetime) -> Pieces | None:
    """None where the operation is not counted by the piece or its panel has no measured pattern."""
    pattern = pattern_of(operation.panel) if operation.quantity else None
    if pattern is None or operation.panel is None:
        return None
    facts = _facts(pattern)
    rates = _rates(operation.kind, at)
    named = BrokenPiece.objects.filter(pattern=pattern)
    broken = _broken(operation, pattern)
    only = _only(operation, pattern)
    worked_on = facts
    beveled = {number: each for number, each in facts.items() if each.bevel_mm}
    whole = operation.quantity + named.filter(breakage__operation=operation).count()
    if only is not None:
        worked_on = {number: facts[number] for _, number in only if number in facts}
    elif works_bevels(rates) and beveled and whole <= len(beveled) * operation.panel.copies:
        worked_on = beveled
    steps = tuple(operation.kind.steps) or ("",)
    return Pieces(
        operation,
        pattern,
        steps,
        worths(worked_on.values(), rates, steps, whole / operation.panel.copies),
        frozenset(worked_on),
        only,
        broken,
        _elsewhere(operation, pattern),
    )


def _facts(pattern: Pattern) -> dict[int, PieceFacts]:
    fills = pattern.fills
    glasses = Glass.objects.in_bulk([fill["glass"] for fill in fills.values() if "glass" in fill])
    found = {}
    for piece in pattern.measured["pieces"]:
        said = fills.get(piece["fill"], {})
        glass = glasses.get(said.get("glass"))
        found[piece["number"]] = PieceFacts(
            piece["number"],
            piece["perimeter"],
            piece["cut_area"],
            piece["curved"],
            piece["inner"],
            bool(piece["hard"]),
            float(glass.thickness_mm if glass else Decimal("6.35")),
            float(said["bevel_mm"]) if said.get("beveled") else None,
        )
    return found


def _rates(kind: OperationKind, at: datetime) -> KindRates:
    today = at.astimezone(Studio.current().zone).date()
    return RateHistory.read(today).on(kind, today) or KindRates()


def _broken(operation: Operation, pattern: Pattern) -> dict[Key, str]:
    """What broke at the operation. Its count no longer holds these: they are counted where they are made again."""
    again = {
        row.breakage_id: str(row)
        for row in Operation.objects.filter(
            breakage__operation=operation, kind=operation.kind_id
        ).select_related("kind")
    }
    rows = BrokenPiece.objects.filter(breakage__operation=operation, pattern=pattern, breakage__in=again)
    return {(row.copy, row.number): again[row.breakage_id] for row in rows}


def _only(operation: Operation, pattern: Pattern) -> frozenset[Key] | None:
    if operation.breakage_id is None:
        return None
    rows = BrokenPiece.objects.filter(breakage=operation.breakage_id, pattern=pattern)
    return frozenset(rows.values_list("copy", "number")) or None


def _elsewhere(operation: Operation, pattern: Pattern) -> dict[Key, str]:
    """What is marked at the other parts of the same work: each piece is worked at one of them."""
    others = PieceMark.objects.standing().filter(
        pattern=pattern,
        operation__panel=operation.panel_id,
        operation__kind=operation.kind_id,
        operation__breakage=operation.breakage_id,
    )
    rows = others.exclude(operation=operation).select_related("operation__kind")
    return {(row.copy, row.number): str(row.operation) for row in rows}


def levels(operation: Operation, pattern: Pattern) -> dict[Key, int]:
    """How many steps of each piece are marked; those without a mark are left out."""
    found: dict[Key, int] = {}
    rows = operation.marks.standing().filter(pattern=pattern)
    for key in rows.values_list("copy", "number"):
        found[key] = found.get(key, 0) + 1
    return found


def named_done(operation: Operation, pattern: Pattern | None = None) -> int:
    """How many pieces are done by the marks on the pattern that holds."""
    pattern = pattern or pattern_of(operation.panel)
    if pattern is None:
        return 0
    return operation.marks.standing().filter(pattern=pattern, completes=True).count()


def read_left(operation: Operation, at: datetime) -> int:
    """Whole minutes at pace 1 that are left of the operation, as the planner takes them in the middle: by what the
    pieces left ask for, the pace of those done, and what the studio's history says of the kind."""
    kind, paces = operation.kind, read_paces()
    minutes, ratios = _learned(operation, paces, at)
    beyond = operation.marks.standing().beyond()
    asked = planning.Operation(
        id=operation.pk,
        job=operation.job_id,
        panel=operation.panel_id,
        kind=kind.pk,
        station=kind.station_id,
        minutes=minutes,
        crew=kind.crew,
        spent=_spent(operation, kind, paces, at),
        quantity=operation.quantity,
        quantity_done=operation.quantity_done,
        worked=worked(operation.quantity, operation.quantity_done, beyond.get(operation.pk, 0.0)),
    )
    known = planning.Kind(kind.pk, kind.name, planning.Nature(kind.nature), ratios)
    return int(medians([asked], [known], now=at)[0, 0]) if kind.nature == Nature.ATTENDED else 0


def _learned(operation: Operation, paces: Paces, at: datetime) -> tuple[int, tuple[float, ...]]:
    """The operation's estimate on the footing that holds, and the history of its kind: read anew after some minutes
    only, since every tap at a drawing asks for it."""
    key = f"learned:{operation.pk}:{operation.estimate}"
    found: tuple[int, tuple[float, ...]] | None = cache.get(key)
    if found is None:
        kind, footing = kinds_with_reach(at).get(pk=operation.kind_id), read_footing(at)
        minutes = round(operation.estimate * footing.factor(operation.pk, kind, operation.panel_id))
        found = minutes, log_ratios([kind], at, paces, footing).get(kind.pk, ())
        cache.set(key, found, HISTORY_SECONDS)
    return found


def _spent(operation: Operation, kind: OperationKind, paces: Paces, at: datetime) -> int:
    entries = TimeEntry.objects.filter(operation=operation)
    minutes = minutes_by_person(entries)[operation.pk]
    running = list(entries.running().select_related("person"))
    hours = hours_of(running, at, Studio.current())
    for entry in running:
        own = hours[entry.person_id]
        if entry.started_at < at and own.left_on_since(entry, at) is None:
            minutes[entry.person_id] += own.counted(entry.started_at, at)
    return round(at_pace_one(minutes, kind, paces))
