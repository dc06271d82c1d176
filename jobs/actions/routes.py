"""Routes: the operations that a panel goes through, and which waits for which."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from jobs.models import OperationKind, Route, RouteStep

from .base import Actor, Refused, mark_out_of_date, record

LARGEST_ROUTE = 100


@dataclass(frozen=True, slots=True)
class StepDraft:
    """A step of a route as it was chosen. `after` are positions, from 0, in the list of drafts."""

    kind: OperationKind
    after: tuple[int, ...] = ()
    label: str = ""
    condition: str = ""
    minutes: int = 0
    piece_minutes: Decimal = Decimal(0)

    @property
    def name(self) -> str:
        return self.label or self.kind.name


def find_cycle(after: Mapping[int, Iterable[int]]) -> list[int]:
    """Steps that wait for each other in a circle, each waiting for the next one and the last for the first.

    `after` maps a step to those it waits for. Empty where there is no circle; steps that are only waited for count.
    """
    done: set[int] = set()
    for start in after:
        path: dict[int, None] = {}
        todo: list[tuple[int, bool]] = [(start, False)]
        while todo:
            step, leave = todo.pop()
            if leave:
                del path[step]
                done.add(step)
            elif step in path:
                way = list(path)
                return way[way.index(step) :]
            elif step not in done:
                path[step] = None
                todo.append((step, True))
                todo += [(before, False) for before in after.get(step, ())]
    return []


def check_no_cycle(steps: Mapping[int, Iterable[int]], name_of: Callable[[int], str] | None = None) -> None:
    """Refuse steps of which one waits, in the end, for itself; the sentence names them.

    `steps` maps each step to those it comes after. `name_of` gives the word for a step; without it they are counted
    from 1 in the order of `steps`.
    """
    circle = find_cycle(steps)
    if not circle:
        return
    places = {step: number for number, step in enumerate(steps, 1)}
    names = [name_of(step) if name_of else f"step {places.get(step, step)}" for step in circle]
    if len(names) == 1:
        raise Refused(f"{_capital(names[0])} cannot wait for itself.", "after")
    chain = ", which waits for ".join([*names[1:], names[0]])
    raise Refused(f"{_capital(names[0])} would wait for {chain}: none of them could ever start.", "after")


@transaction.atomic
def save_route(
    route: Route | None,
    *,
    name: str,
    description: str = "",
    active: bool = True,
    steps: Sequence[StepDraft],
    by: Actor,
    at: datetime,
) -> Route:
    """Write a route with these steps in the place of those it had; panels that follow it keep their operations."""
    name = name.strip()
    if not name or len(name) > 60:
        raise Refused("A route needs a name of at most 60 letters.", "name")
    others = Route.objects.exclude(pk=route.pk) if route else Route.objects.all()
    if others.filter(name__iexact=name).exists():
        raise Refused(f"There is a route called {name} already.", "name")
    _check_steps(steps)
    before = _described(route) if route else {}
    if route is None:
        route = Route.objects.create(name=name, description=description, active=active)
    else:
        route = Route.objects.select_for_update().get(pk=route.pk)
        route.name, route.description, route.active = name, description, active
        route.save(update_fields=["name", "description", "active"])
        route.steps.all().delete()
    rows = [
        RouteStep.objects.create(
            route=route,
            kind=step.kind,
            place=place,
            label=step.label.strip(),
            condition=step.condition.strip(),
            minutes=step.minutes,
            piece_minutes=step.piece_minutes,
        )
        for place, step in enumerate(steps)
    ]
    for row, step in zip(rows, steps, strict=True):
        row.after.set([rows[place] for place in step.after])
    record("changed" if before else "made", route, by=by, at=at, before=before, after=_described(route))
    mark_out_of_date()
    return route


def _check_steps(steps: Sequence[StepDraft]) -> None:
    if not steps:
        raise Refused("A route needs at least one step.", "steps")
    if len(steps) > LARGEST_ROUTE:
        raise Refused(f"A route has at most {LARGEST_ROUTE} steps.", "steps")
    for step in steps:
        if any(not 0 <= place < len(steps) for place in step.after):
            raise Refused(f"{_capital(step.name)} waits for a step that is not there.", "after")
        if step.minutes < 0 or step.piece_minutes < 0:
            raise Refused(f"{_capital(step.name)} cannot take less than no time.", "minutes")
    check_no_cycle({n: step.after for n, step in enumerate(steps)}, lambda n: steps[n].name)


def _described(route: Route) -> dict[str, object]:
    steps = list(route.steps.select_related("kind").prefetch_related("after__kind"))
    return {
        "name": route.name,
        "active": route.active,
        "steps": [
            f"{step} after {', '.join(str(before) for before in step.after.all()) or 'nothing'}"
            for step in steps
        ],
    }


def _capital(word: str) -> str:
    return word[:1].upper() + word[1:]
