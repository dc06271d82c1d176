"""Came by the stick and glass by the sheet.

The fewest sticks are found by column generation (Gilmore and Gomory 1961), whose linear program, rounded up, is a bound
that no plan can beat, and then by a mixed-integer program over all cuts that a plan of so many sticks can hold; HiGHS
solves both. Where plan and bound meet, the plan is proven the best; where the cuts are too many to list or time runs
out, the plan is the best so far and says so.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from jobs.estimating.linework import Floats, Ints

STICK_MM = 1830.0  # Six feet: common practice, no published source.
KERF_MM = 2.0
SECONDS = 1.0
MOST_KINDS = 120
MOST_ROUNDS = 400
MOST_VISITS = 200_000
MOST_CUTS = 20_000


class StockError(ValueError):
    """The lengths cannot be cut from the stock; the text is a sentence for the person."""


@dataclass(frozen=True, slots=True)
class CuttingPlan:
    """sticks: the lengths cut from each stick, longest first, mm; no plan needs fewer sticks than `bound`."""

    sticks: tuple[tuple[float, ...], ...]
    bound: int
    stick_mm: float
    kerf_mm: float

    @property
    def proven(self) -> bool:
        return len(self.sticks) == self.bound

    @property
    def waste_share(self) -> float:
        """What is left over or lost to the saw, as a share of what is bought."""
        bought = len(self.sticks) * self.stick_mm
        return 1 - sum(map(sum, self.sticks)) / bought if bought else 0.0


def cut_sticks(
    lengths: Sequence[float],
    *,
    stick_mm: float = STICK_MM,
    kerf_mm: float = KERF_MM,
    seconds: float = SECONDS,
) -> CuttingPlan:
    """How to cut these lengths (mm) from the fewest sticks; a cut between two lengths loses the kerf.

    Lengths are rounded up to a tenth of a millimeter. `seconds` bounds each of the two steps; when it runs out, the
    best plan so far is given with its bound. StockError for a length that no stick has.
    """
    if not (stick_mm > 0 and kerf_mm >= 0 and math.isfinite(stick_mm + kerf_mm)):
        raise StockError("A stick is longer than nothing.")
    if any(not math.isfinite(length) or length <= 0 for length in lengths):
        raise StockError("A length of came is more than nothing.")
    if any(length > stick_mm + 1e-9 for length in lengths):
        raise StockError(f"A length of {max(lengths):.0f} mm is longer than a stick of {stick_mm:.0f} mm.")
    if not lengths:
        return CuttingPlan((), 0, stick_mm, kerf_mm)
    kerf = round(kerf_mm * 10)
    # A stick with its last kerf added holds every length with its own kerf.
    room = math.floor(stick_mm * 10 + 1e-6) + kerf
    sizes, wanted = _kinds(lengths, 1)
    if len(sizes) <= MOST_KINDS:
        cuts, bound = _solve(np.minimum(sizes + kerf, room), wanted, room, seconds)
    else:
        cuts, bound = _first_fit(sizes + kerf, wanted, room), _least(sizes + kerf, wanted, room)
        if len(cuts) > bound:
            # So many lengths are planned in whole millimeters, rounded up, which takes a tenth of the time; the
            # bound of those is none for the lengths themselves.
            coarse, many = _kinds(lengths, 10)
            planned, _ = _solve(np.minimum(coarse + kerf, room), many, room, seconds)
            if len(planned) < len(cuts):
                cuts, sizes = planned, coarse
    return CuttingPlan(_handed_out(cuts, sizes, lengths), bound, stick_mm, kerf_mm)


def _kinds(lengths: Sequence[float], step: int) -> tuple[Ints, Ints]:
    """The different lengths, longest first, rounded up to so many tenths of a millimeter, and how many of each."""
    demand = Counter(math.ceil(length * 10 / step - 1e-6) * step for length in lengths)
    sizes = np.array(sorted(demand, reverse=True), np.int64)
    return sizes, np.array([demand[size] for size in sizes.tolist()], np.int64)


def _least(sizes: Ints, wanted: Ints, room: int) -> int:
    """As many sticks as the lengths would fill end to end."""
    return math.ceil(int(sizes @ wanted) / room)


def _handed_out(cuts: list[Ints], sizes: Ints, lengths: Sequence[float]) -> tuple[tuple[float, ...], ...]:
    """The lengths as they were asked for, longest first, put where the plan has a place for their size."""
    places = sorted(
        ((int(size), s) for s, cut in enumerate(cuts) for size in np.repeat(sizes, cut)), reverse=True
    )
    sticks: list[list[float]] = [[] for _ in cuts]
    for length, (_, stick) in zip(sorted(lengths, reverse=True), places, strict=True):
        sticks[stick].append(float(length))
    return tuple(tuple(stick) for stick in sticks if stick)


def _solve(sizes: Ints, wanted: Ints, room: int, seconds: float) -> tuple[list[Ints], int]:
    """(what is cut from each stick, the bound): column generation, then whole numbers over every cut that matters."""
    best = _first_fit(sizes, wanted, room)
    columns = list({tuple(cut.tolist()): cut for cut in best}.values())
    columns.extend(_full(np.eye(len(sizes), dtype=np.int64)[k], sizes, room, k) for k in range(len(sizes)))
    bound = _least(sizes, wanted, room)
    worth, value, duals = math.inf, 0.0, np.zeros(len(sizes))
    until = time.monotonic() + seconds
    for _ in range(MOST_ROUNDS):
        if bound >= len(best):
            return best, bound
        value, duals = _relaxed(columns, wanted)
        worth, cut = _best_cut(duals, sizes, room)
        # Farley's bound: the relaxed value over the worth of the best cut is never above the optimum.
        bound = max(bound, math.ceil(value / max(worth, 1.0) - 1e-6))
        if worth <= 1 + 1e-9 or time.monotonic() > until:
            break
        columns.append(cut)
    if bound >= len(best):
        return best, bound
    # A plan of `bound` sticks can hold only cuts whose reduced cost is within what the rounding up leaves: if these
    # are all listed, and no plan of them has `bound` sticks, then none has.
    every = _cuts_within(duals, sizes, wanted, room, 1 - (bound - value)) if worth <= 1 + 1e-9 else None
    pool = {tuple(cut.tolist()): cut for cut in [*columns, *(every or [])]}
    made, proven = _whole(list(pool.values()), wanted, seconds, bound)
    found = _trimmed(list(pool.values()), made, wanted) if made else best
    best = min(best, found, key=len)
    if every is not None and proven and len(best) > bound:
        bound += 1
    return best, bound


def _cuts_within(worth: Floats, sizes: Ints, wanted: Ints, room: int, least: float) -> list[Ints] | None:
    """All cuts worth `least` or more that no further length fits into; None where there are too many to list."""
    order = np.argsort(-worth / sizes).tolist()
    size, value, many = ([float(a[k]) for k in order] for a in (sizes, worth, wanted))
    smallest = [min(size[i:], default=math.inf) for i in range(len(size) + 1)]
    found: list[Ints] = []
    visits = 0
    # (the next kind of length, how many of each so far, room left, worth so far, smallest length that was left out)
    stack: list[tuple[int, tuple[int, ...], float, float, float]] = [(0, (), float(room), 0.0, math.inf)]
    while stack:
        visits += 1
        if visits > MOST_VISITS or len(found) > MOST_CUTS:
            return None
        i, taken, left, so_far, skipped = stack.pop()
        if i == len(size) or left < smallest[i]:
            if left < skipped and so_far >= least - 1e-9:
                cut = np.zeros(len(sizes), np.int64)
                cut[order[: len(taken)]] = taken
                if not ((wanted > cut) & (sizes <= left)).any():
                    found.append(cut)
            continue
        # The kinds are in order of worth per length, so nothing to come is worth more per length than this one.
        if so_far + left * value[i] / size[i] < least - 1e-9:
            continue
        most = int(min(many[i], left // size[i]))
        for n in range(most + 1):
            out = skipped if n == many[i] else min(skipped, size[i])
            stack.append((i + 1, (*taken, n), left - n * size[i], so_far + n * value[i], out))
    return found


def _full(cut: Ints, sizes: Ints, room: int, k: int) -> Ints:
    return np.asarray(cut * (room // sizes[k]))


def _first_fit(sizes: Ints, wanted: Ints, room: int) -> list[Ints]:
    """First fit, longest first."""
    cuts: list[Ints] = []
    left: list[int] = []
    for k, (size, many) in enumerate(zip(sizes.tolist(), wanted.tolist(), strict=True)):
        stick = 0
        for _ in range(many):
            while stick < len(cuts) and left[stick] < size:
                stick += 1
            if stick == len(cuts):
                cuts.append(np.zeros(len(sizes), np.int64))
                left.append(room)
            cuts[stick][k] += 1
            left[stick] -= size
    return cuts


def _best_cut(worth: Floats, sizes: Ints, room: int) -> tuple[float, Ints]:
    """The cut of a stick whose lengths are worth most: a knapsack, exact, one more length at a time.

    Each length is taken up to a millimeter short of its size at a time; lengths worth nothing are left out.
    """
    step = int(np.gcd.reduce(np.append(sizes, room))) if len(sizes) else 1
    width, weights = room // step, sizes // step
    useful = [k for k in np.argsort(-worth / sizes).tolist() if worth[k] > 1e-12]
    best = np.zeros(width + 1)
    layers: list[Ints] = []
    for _ in range(int(width // weights.min())):
        new, choice = best.copy(), np.full(width + 1, -1, np.int64)
        for k in useful:
            w = int(weights[k])
            with_one = best[: width + 1 - w] + worth[k]
            better = with_one > new[w:] + 1e-12
            new[w:][better], choice[w:][better] = with_one[better], k
        if (choice < 0).all():
            break
        best = new
        layers.append(choice)
    cut, at = np.zeros(len(sizes), np.int64), width
    for choice in reversed(layers):
        if choice[at] >= 0:
            cut[choice[at]] += 1
            at -= int(weights[choice[at]])
    return float(best[width]), cut


def _model(columns: list[Ints], wanted: Ints) -> Any:
    # Loaded here because nothing but a purchase list needs it.
    import highspy

    # The solver without its callbacks: turning those on writes a line to the output before it can be told to be silent.
    base: Any = highspy.Highs.__base__
    solver = base()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("log_to_console", False)
    solver.setOptionValue("threads", 1)
    for many in wanted.tolist():
        solver.addRow(float(many), highspy.kHighsInf, 0, np.array([], np.int32), np.array([], np.float64))
    for column in columns:
        rows = np.flatnonzero(column).astype(np.int32)
        solver.addCol(1.0, 0.0, highspy.kHighsInf, len(rows), rows, column[rows].astype(np.float64))
    return solver


def _relaxed(columns: list[Ints], wanted: Ints) -> tuple[float, Floats]:
    solver = _model(columns, wanted)
    solver.run()
    duals = np.maximum(np.array(solver.getSolution().row_dual), 0.0)
    return float(solver.getInfo().objective_function_value), duals


def _whole(columns: list[Ints], wanted: Ints, seconds: float, bound: int) -> tuple[list[int], bool]:
    """(how often each cut is made, in whole numbers; whether that is proven the best). Nothing where time ran out."""
    import highspy

    solver = _model(columns, wanted)
    many = len(columns)
    kinds = np.full(many, highspy.HighsVarType.kInteger)
    solver.changeColsIntegrality(many, np.arange(many, dtype=np.int32), kinds)
    solver.setOptionValue("time_limit", float(seconds))
    # Sticks are whole: less than one of them apart is the same, and nothing is better than the bound.
    solver.setOptionValue("mip_abs_gap", 0.99)
    solver.setOptionValue("objective_target", float(bound) + 1e-6)
    solver.run()
    proven = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    if not math.isfinite(solver.getInfo().objective_function_value):
        return [], False
    made = [round(n) for n in solver.getSolution().col_value]
    enough = made and (sum(n * c for n, c in zip(made, columns, strict=True)) >= wanted).all()
    return (made, proven) if enough else ([], False)


def _trimmed(columns: list[Ints], made: list[int], wanted: Ints) -> list[Ints]:
    """The sticks one by one, without the lengths that nobody asked for."""
    open_ = wanted.copy()
    cuts = []
    for column, times in zip(columns, made, strict=True):
        for _ in range(times):
            cut = np.minimum(column, open_)
            open_ = open_ - cut
            cuts.append(cut)
    return cuts


@dataclass(frozen=True, slots=True)
class SheetNeed:
    """Sheets of one glass: how many to buy, and the area that they have to give, waste included, in mm2."""

    sheets: int
    area_mm2: float


def sheets(
    net_mm2: float,
    *,
    sheet_width_mm: float,
    sheet_height_mm: float,
    waste: float,
    largest: Sequence[float] = (),
) -> SheetNeed:
    """Sheets for so much glass when the studio wastes this share of what it buys (0.25: a quarter of a sheet).

    `largest` is width and height of the largest piece. StockError where it fits no sheet, turned or not.
    """
    if not (0 <= waste < 1 and sheet_width_mm > 0 and sheet_height_mm > 0 and net_mm2 >= 0):
        raise StockError("Waste is a share from 0 to less than 1, and a sheet has a size.")
    short, long = sorted((sheet_width_mm, sheet_height_mm))
    if largest and (min(largest) > short or max(largest) > long):
        raise StockError("The largest piece is larger than a sheet.")
    area = net_mm2 / (1 - waste)
    return SheetNeed(math.ceil(area / (sheet_width_mm * sheet_height_mm) - 1e-9), area)


def supplies(drivers: Mapping[str, float], per_driver: Mapping[str, Mapping[str, float]]) -> dict[str, float]:
    """Amounts of solder, cement, resist and the like: {supply: {driver: amount per unit}} over a takeoff's drivers."""
    return {
        supply: sum(amount * drivers.get(driver, 0.0) for driver, amount in rates.items())
        for supply, rates in per_driver.items()
    }
