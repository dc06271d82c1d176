"""The rates that hold on a day, and how unsure each kind of work is: rows -> estimating input."""

from collections.abc import Iterable
from datetime import date, datetime

from jobs import planning
from jobs.estimating.rates import KindRates
from jobs.models import OperationKind
from jobs.planning.durations import Posterior, posterior

from .footing import read_footing
from .history import kinds_with_reach, log_ratios
from .rates_on import RateHistory
from .read import read_paces


def read_rates(day: date, kinds: Iterable[OperationKind] | None = None) -> dict[str, KindRates]:
    """By the slug of each kind, its rates on that day: the studio's own rows over the defaults. Two queries, or three.

    A kind with neither rows nor defaults is left out.
    """
    history = RateHistory.read(day)
    found = {}
    for kind in OperationKind.objects.all() if kinds is None else kinds:
        rates = history.on(kind, day)
        if rates is not None:
            found[kind.slug] = rates
    return found


def read_spreads(at: datetime) -> dict[int, Posterior]:
    """By the id of each kind, what the planner believes at `at` about ln(actual / estimate), the estimate being one by
    the rates that hold then (see footing.py).

    It is the one source of spread: dates are drawn from it, the allowance for risk is, and the page of rates shows it.
    """
    kinds = list(kinds_with_reach(at))
    ratios = log_ratios(kinds, at, read_paces(), read_footing(at))
    return {kind.pk: posterior(ratios.get(kind.pk, ()), planning.Nature(kind.nature)) for kind in kinds}
