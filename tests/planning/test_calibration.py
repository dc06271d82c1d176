"""Whether dates hold as often as they say, in shops whose truth the planner does not know.

The truth: each kind of work takes longer or shorter than estimated by a factor of its own, each job is harder or
easier, each operation varies. The planner sees a history of each kind and nothing of the rest. The truth runs on the
planner's floor, so this checks the durations and how they are put together, not the floor.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace

from jobs.planning import Kind, Nature, Shop, plan
from jobs.planning.scores import coverage
from tests.planning.runs import laid_out, run_once
from tests.planning.shops import BEVEL, BUILD, CUT, KINDS, MONDAY, shop, work

SHOPS = 300
SPREAD = 0.3  # Of the logarithm; a quarter of its square is the job's share.


def true_shop(seed: int, history: int) -> tuple[Shop, dict[int, int]]:
    """A shop with a history, and what its open work will take in truth."""
    draw = random.Random(seed)
    level = {kind.id: draw.gauss(0, SPREAD) for kind in KINDS}
    rows, minutes = [], {}
    for number in range(1, 5):
        hard = draw.gauss(0, SPREAD / 2)
        for step, kind in enumerate((CUT, BEVEL, BEVEL, BUILD)):
            i = 10 * number + step
            rows.append(work(i, number, kind, 600, after=(i - 1,) if step else ()))
            own = draw.gauss(0, SPREAD * math.sqrt(0.75))
            minutes[i] = max(1, round(600 * math.exp(level[kind] + hard + own)))

    def learned(kind: Kind) -> Kind:
        past = tuple(draw.gauss(level[kind.id], SPREAD) for _ in range(history))
        return replace(kind, log_ratios=past) if kind.nature is Nature.ATTENDED else kind

    return shop(*rows, kinds=tuple(learned(kind) for kind in KINDS)), minutes


def held(history: int, confidence: float) -> tuple[int, int]:
    """How many jobs of all shops were finished by the instant given for this confidence, and of how many."""
    kept = count = 0
    for seed in range(SHOPS):
        made, minutes = true_shop(seed, history)
        dates = plan(made, now=MONDAY, futures=200)
        layout = laid_out(made, MONDAY)
        seen = run_once(layout, minutes)
        for number, samples in dates.samples.items():
            true = max(seen[o.id][1] for o in made.operations if o.job == number) + layout.origin
            share = float((samples < true).mean())
            kept += share <= confidence
            count += 1
    return kept, count


def test_dates_of_80_percent_hold_about_80_percent_of_the_time() -> None:
    """Jobs of one shop hold or break together, so the bounds are of the number of shops, not of jobs: 300 shops give
    Wilson's interval of about 4.5 points each way around .8."""
    kept, count = held(history=12, confidence=0.8)
    share = kept / count
    bounds = coverage(round(share * SHOPS), SHOPS)
    assert bounds.low <= 0.8 <= bounds.high, share
