"""The rates of every day: rows -> estimating input."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from jobs.estimating.rates import DEFAULT_RATES, KindRates
from jobs.models import KindSetup, OperationKind, Rate


@dataclass(frozen=True, slots=True)
class RateHistory:
    """The rows of all days until one, by kind, the oldest first."""

    setups: dict[int, list[KindSetup]]
    rows: dict[int, list[Rate]]

    @classmethod
    def read(cls, last: date) -> "RateHistory":
        """Two queries."""
        setups: dict[int, list[KindSetup]] = defaultdict(list)
        rows: dict[int, list[Rate]] = defaultdict(list)
        for setup in KindSetup.objects.on(last):
            setups[setup.kind_id].append(setup)
        for row in Rate.objects.on(last):
            rows[row.kind_id].append(row)
        return cls(setups, rows)

    @property
    def changed(self) -> set[int]:
        """The kinds with rows of their own."""
        return {*self.setups, *self.rows}

    def on(self, kind: OperationKind, day: date) -> KindRates | None:
        """The kind's rates on a day: its rows over the defaults; None where it has neither.

        A row takes the place of the default of its step and driver alone; one of 0 minutes says that the driver does
        not count.
        """
        default = DEFAULT_RATES.get(kind.slug)
        setup = _last(self.setups.get(kind.pk, ()), day)
        rows = [row for row in self.rows.get(kind.pk, ()) if row.since <= day]
        if default is None and setup is None and not rows:
            return None
        steps = {name: dict(step) for name, step in default.steps.items()} if default else {}
        for row in rows:
            steps.setdefault(row.step, {})[row.driver] = float(row.minutes)
        start = KindRates() if default is None else default
        return KindRates(
            start.setup if setup is None else float(setup.minutes),
            steps,
            start.slope if setup is None else float(setup.slope),
        )


def _last(setups: Sequence[KindSetup], day: date) -> KindSetup | None:
    return next((row for row in reversed(setups) if row.since <= day), None)
