"""The rates that hold on a day, and how unsure each kind of work is: rows -> estimating input."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime

from jobs import planning
from jobs.estimating.rates import DEFAULT_RATES, KindRates
from jobs.models import KindSetup, OperationKind, Rate
from jobs.planning.durations import Posterior, posterior

from .history import kinds_with_reach, log_ratios
from .read import read_paces


def read_rates(day: date, kinds: Iterable[OperationKind] | None = None) -> dict[str, KindRates]:
    """By the slug of each kind, its rates on that day: the studio's own rows over the defaults. Two queries, or three.

    A row takes the place of the default of its step and driver alone; one of 0 minutes says that the driver does not
    count. A kind with neither rows nor defaults is left out.
    """
    setups = {row.kind_id: row for row in KindSetup.objects.on(day)}
    own: dict[int, dict[tuple[str, str], float]] = defaultdict(dict)
    for row in Rate.objects.on(day):
        own[row.kind_id][row.step, row.driver] = float(row.minutes)
    found = {}
    for kind in OperationKind.objects.all() if kinds is None else kinds:
        default, setup = DEFAULT_RATES.get(kind.slug), setups.get(kind.pk)
        if default is None and setup is None and not own[kind.pk]:
            continue
        steps = {name: dict(step) for name, step in default.steps.items()} if default else {}
        for (step, driver), minutes in own[kind.pk].items():
            steps.setdefault(step, {})[driver] = minutes
        start = KindRates() if default is None else default
        found[kind.slug] = KindRates(
            start.setup if setup is None else float(setup.minutes),
            steps,
            start.slope if setup is None else float(setup.slope),
        )
    return found


def read_spreads(at: datetime) -> dict[int, Posterior]:
    """By the id of each kind, what the planner believes at `at` about ln(actual / estimate). Four queries.

    It is the one source of spread: dates are drawn from it, the allowance for risk is, and the page of rates shows it.
    """
    kinds = list(kinds_with_reach(at))
    ratios = log_ratios(kinds, at, read_paces())
    return {kind.pk: posterior(ratios.get(kind.pk, ()), planning.Nature(kind.nature)) for kind in kinds}
