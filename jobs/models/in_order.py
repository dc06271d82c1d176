"""Work in the order of its route."""

from .operations import Operation
from .orders import Panel


def work_of(panel: Panel) -> list[Operation]:
    """The operations of a panel with their kinds and stations, each behind what it comes after. Two queries."""
    found = panel.operations.select_related("kind__station").prefetch_related("after").order_by("place", "pk")
    return in_order(list(found))


def in_order(found: list[Operation]) -> list[Operation]:
    """Each behind what it comes after; `after` is prefetched."""
    here = {operation.pk for operation in found}
    left = {op.pk: {other.pk for other in op.after.all()} & here for op in found}
    by_id = {operation.pk: operation for operation in found}
    ordered: list[Operation] = []
    while left:
        # Rows changed by hand could hold a circle; a page that shows them all the same helps to mend it.
        pk = next((pk for pk in left if not left[pk] & left.keys()), next(iter(left)))
        del left[pk]
        ordered.append(by_id[pk])
    return ordered
