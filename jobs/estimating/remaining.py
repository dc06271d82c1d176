"""What of an estimate is still to be worked."""

import math


def worked(quantity: int, done: int, beyond: float = 0.0) -> float:
    """How many pieces' worth of work is done, from 0 to `quantity`.

    `beyond` is what pieces marked on the drawing are worth more than their count: a wheel of one that is not done yet
    adds, a small one that is done takes away. Nothing is left once all are counted as done.
    """
    if done >= quantity:
        return float(quantity)
    return min(max(done + beyond, 0.0), float(quantity))


def minutes_left(estimate: int, spent: int, quantity: int = 0, done: float = 0) -> int:
    """Whole minutes of an estimate that are left, never below 0.

    Where pieces are counted and some are done it is the share of the pieces that are not, rounded up: they say more
    than the clock. Otherwise it is the estimate less the minutes spent, 0 once it has run over. `done` may be what
    `worked` gives.
    """
    if quantity > 0 and done > 0:
        # A millionth of a minute is the rounding of the machine.
        return max(math.ceil(estimate * (quantity - done) / quantity - 1e-6), 0)
    return max(estimate - spent, 0)
