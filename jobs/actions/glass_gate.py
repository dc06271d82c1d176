"""The gate that waits for a job's glass: it follows from what of it is still to come.

Glass that comes onto the list after the gate was cleared makes it wait again, on nobody knows which day until all that
is missing is ordered; what has begun meanwhile goes on. Once all is here it is cleared. The first list of a job whose
glass was said to be in already tells what that glass is, and leaves the gate as it is.
"""

from datetime import datetime

from jobs.models import Gate, GateKind, Job, Need

from .base import Actor, mark_out_of_date
from .gates import clear_gate, open_again, set_gate


def gate_of(need: Need) -> Gate | None:
    return _gate(need.job, need.gate) if need.gate else None


def _gate(job: Job, kind: str) -> Gate | None:
    return job.gates.filter(kind=kind).first()


def tell_gate(job: Job, kind: str, *, by: Actor, at: datetime) -> None:
    """For actions that hold the lock of the job: clear the gate once everything it waits for has arrived; until then
    it is expected with the last of it."""
    gate = _gate(job, kind)
    if gate is None or gate.cleared is not None:
        return
    needs = job.needs.filter(gate=kind)
    days = list(needs.open().values_list("expected", flat=True))
    if not days:
        if needs.exists():
            clear_gate(job, kind, by=by, at=at)
        return
    known = [day for day in days if day is not None]
    if len(known) == len(days) and max(known) != gate.expected:
        set_gate(job, kind, max(known), by=by, at=at)


def wait_for_glass(job: Job, what: object, *, by: Actor, at: datetime) -> None:
    """For actions that put glass onto the list, `what`, and hold the lock of the job: a gate that was cleared waits
    again."""
    gate = _gate(job, GateKind.GLASS)
    if gate is None or gate.cleared is None:
        return
    open_again(gate, by=by, at=at, why=f"{what} came onto the list")
    set_gate(job, GateKind.GLASS, None, by=by, at=at)
    mark_out_of_date()
