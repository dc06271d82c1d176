"""What of an estimate is still to be worked."""


def minutes_left(estimate: int, spent: int, quantity: int = 0, done: int = 0) -> int:
    """Whole minutes of an estimate that are left, never below 0.

    Where pieces are counted and some are done it is the share of the pieces that are not, rounded up: they say more
    than the clock. Otherwise it is the estimate less the minutes spent, 0 once it has run over.
    """
    if quantity > 0 and done > 0:
        return -(-estimate * max(quantity - done, 0) // quantity)
    return max(estimate - spent, 0)
