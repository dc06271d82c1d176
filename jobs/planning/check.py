"""What cannot be planned, and what has to be assumed, in sentences.

An operation that cannot be planned is left out with everything after it; the rest of the shop is planned as if it were
not there, so that it holds no bench either.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from jobs.planning.gates import HOLD_DAYS, opens_on
from jobs.planning.order import priority
from jobs.planning.readiness import waits
from jobs.planning.result import Problem
from jobs.planning.shop import Nature, Operation, Person, Shop, Station


@dataclass(frozen=True, slots=True)
class Checked:
    """The unfinished operations that can be planned, those that cannot (ids), and what to say about it."""

    operations: tuple[Operation, ...]
    left_out: frozenset[int]
    problems: tuple[Problem, ...]


def begun(operation: Operation, nature: Nature) -> bool:
    """Whether it is being done now: on a bench, curing, or at the supplier's."""
    return operation.keeper is not None if nature is Nature.ATTENDED else operation.started is not None


def waits_for(operation: Operation, nature: Nature) -> tuple[int, ...]:
    """The operations that it still has to wait for, finished or not; none if it has begun or may start early."""
    return operation.after if waits(operation.early) and not begun(operation, nature) else ()


def works(person: Person, today: date) -> bool:
    """Whether the person has any hours from today on."""
    return bool(person.shifts) or any(day >= today for day, _, _ in person.extra)


def day_words(day: date) -> str:
    return f"{day.day} {day:%B}"


def listed(names: Iterable[str]) -> str:
    """Names in a sentence, each once: "cutting, beveling and building"."""
    row = list(dict.fromkeys(names))
    return row[0] if len(row) == 1 else f"{', '.join(row[:-1])} and {row[-1]}"


class _Check:
    """One look through a shop; collects problems."""

    def __init__(self, shop: Shop, today: date) -> None:
        self.shop, self.today = shop, today
        self.stations = {station.id: station for station in shop.stations}
        self.people = {person.id: person for person in shop.people}
        self.kinds = {kind.id: kind for kind in shop.kinds}
        self.gates = {gate.id: gate for gate in shop.gates}
        self.numbers = {job.id: job.number for job in shop.jobs}
        self.all = {operation.id: operation for operation in shop.operations}
        self.problems: list[Problem] = []

    def say(self, operation: Operation, words: str) -> None:
        number = self.numbers[operation.job]
        self.problems.append(Problem(f"{number}: {words}.", operation.job, operation.id))

    def name(self, operation: Operation) -> str:
        return self.kinds[operation.kind].name

    def nature(self, operation: Operation) -> Nature:
        return self.kinds[operation.kind].nature

    def present(self, operation: Operation) -> Operation:
        """The same operation, set down if whoever has it on the bench is not among the people."""
        if operation.keeper is None or operation.keeper in self.people:
            return operation
        self.say(
            operation,
            f"whoever has {self.name(operation)} on the bench is not here any more; it is planned as set down",
        )
        return replace(operation, keeper=None)

    def hindrance(self, operation: Operation) -> str | None:
        """Why this operation can never be done, None if it can."""
        kind = self.name(operation)
        for number in waits_for(operation, self.nature(operation)):
            if number not in self.all:
                return f"{kind} waits for work that is not there"
        if any(number not in self.gates for number in operation.gates):
            return f"{kind} waits for a gate that is not there"
        if self.nature(operation) is not Nature.ATTENDED:
            return None
        station = self.stations.get(operation.station) if operation.station is not None else None
        if station is None:
            return f"{kind} has no station"
        if station.benches == 0 and operation.keeper is None:
            return f"{station.name} has no bench for {kind}"
        return self._no_crew(operation, station)

    def _no_crew(self, operation: Operation, station: Station) -> str | None:
        kind = self.name(operation)
        able = [person for person in self.shop.people if station.id in person.skills]
        here = {person.id for person in able if works(person, self.today)}
        bound = operation.keeper if operation.keeper is not None else operation.pinned_person
        if bound is not None:
            person = self.people.get(bound)
            if person is None:
                return f"{kind} is pinned to somebody who is not here any more"
            if operation.keeper is None and station.id not in person.skills:
                return f"{kind} is pinned to {person.name}, who does not work at {station.name}"
            if not works(person, self.today):
                return f"{person.name}, who is to do {kind}, has no working hours"
            here.add(person.id)
        if not able and not here:
            return f"nobody works at {station.name}, where {kind} is done"
        if not here:
            return f"{listed(person.name for person in able)} could do {kind}, but without working hours"
        if len(here) < operation.crew:
            names = listed(person.name for person in self.shop.people if person.id in here)
            return f"{kind} takes {operation.crew} people together, and there is only {names}"
        return None

    def circles(self, open_ones: Mapping[int, Operation]) -> list[list[Operation]]:
        """Groups of operations that wait for each other, by taking away what does not until nothing goes."""
        needs = {i: {j for j in waits_for(o, self.nature(o)) if j in open_ones} for i, o in open_ones.items()}
        for trim in (needs, _turned(needs)):
            free = [i for i in trim if not trim[i] & needs.keys()]
            back = _turned(trim)
            while free:
                i = free.pop()
                if i in needs:
                    del needs[i]
                    free += [j for j in back[i] if j in needs and not trim[j] & needs.keys()]
        groups: list[list[Operation]] = []
        while needs:
            group, edge = set[int](), [min(needs)]
            while edge:
                i = edge.pop()
                if i in needs:
                    group.add(i)
                    edge += needs.pop(i)
                    edge += [j for j in needs if i in needs[j]]
            groups.append([open_ones[i] for i in sorted(group)])
        return groups


def _turned(links: Mapping[int, set[int]]) -> dict[int, set[int]]:
    back: dict[int, set[int]] = {i: set() for i in links}
    for i, others in links.items():
        for j in others:
            if j in back:
                back[j].add(i)
    return back


def _following(bad: set[int], operations: Iterable[Operation], look: _Check) -> set[int]:
    """The bad ones and everything that has to wait for them."""
    then: dict[int, list[int]] = defaultdict(list)
    for operation in operations:
        for number in waits_for(operation, look.nature(operation)):
            then[number].append(operation.id)
    edge, found = list(bad), set(bad)
    while edge:
        for number in then[edge.pop()]:
            if number not in found:
                found.add(number)
                edge.append(number)
    return found


def _without_bench(look: _Check, operations: Iterable[Operation]) -> list[Operation]:
    """What lies on benches of a station that are down: of all that lies there as much as finds no other bench, the
    first in the floor's order staying."""
    jobs = {job.id: job for job in look.shop.jobs}
    found = []
    for station in look.shop.stations:
        if not station.back:
            continue
        kept = [
            o
            for o in operations
            if o.station == station.id and o.keeper is not None and look.nature(o) is Nature.ATTENDED
        ]
        kept.sort(key=lambda o: priority(o, jobs[o.job]))
        for operation in kept[station.benches - len(station.back) :]:
            look.say(
                operation,
                f"{look.name(operation)} lies on a bench of {station.name}, of which too many are down; "
                "it is planned as set down",
            )
            found.append(operation)
    return found


def _assumed_holds(look: _Check, operations: Iterable[Operation]) -> None:
    """Say once for each job that a hold without a day is taken to last HOLD_DAYS."""
    held: dict[int, list[Operation]] = defaultdict(list)
    for operation in operations:
        if operation.held and operation.held_until is None:
            held[operation.job].append(operation)
    until = day_words(look.today + timedelta(days=HOLD_DAYS))
    for rows in held.values():
        names = listed(look.name(operation) for operation in rows)
        verb = "is" if len(rows) == 1 else "are"
        look.say(rows[0], f"{names} {verb} held without a day to go on; {until} is assumed")


def _assumed_gates(look: _Check, operations: Iterable[Operation], next_day: date) -> None:
    """Say once for each gate that waits without a day, or past its day, when it is taken to open."""
    first: dict[int, Operation] = {}
    for operation in operations:
        if waits(operation.early) and not begun(operation, look.nature(operation)):
            for number in operation.gates:
                first.setdefault(number, operation)
    for number, operation in first.items():
        gate = look.gates[number]
        if gate.cleared:
            continue
        if gate.expected is None:
            until = day_words(look.today + timedelta(days=HOLD_DAYS))
            look.say(operation, f"no day is given for “{gate.kind}”; {until} is assumed")
        elif gate.expected < look.today:
            was = day_words(gate.expected)
            day = opens_on(gate, look.shop.gate_days.get(gate.kind, ()), look.today, next_day) or next_day
            look.say(operation, f"“{gate.kind}” was expected on {was}; {day_words(day)} is assumed")


def released_on(operation: Operation, today: date, next_day: date) -> date | None:
    """The day a hold is taken to end, by the same rule; None if it is not held."""
    if not operation.held:
        return None
    if operation.held_until is None:
        return today + timedelta(days=HOLD_DAYS)
    return operation.held_until if operation.held_until > today else next_day


def check(shop: Shop, today: date, next_day: date) -> Checked:
    """Look through the unfinished work. `next_day`: the next working day after today."""
    look = _Check(shop, today)
    open_ones = {o.id: look.present(o) for o in shop.operations if not o.done}
    for operation in _without_bench(look, open_ones.values()):
        open_ones[operation.id] = replace(operation, keeper=None)
    bad = set[int]()
    for operation in open_ones.values():
        why = look.hindrance(operation)
        if why is not None:
            look.say(operation, why)
            bad.add(operation.id)
    for circle in look.circles(open_ones):
        names = listed(look.name(operation) for operation in circle)
        wait = "waits for itself" if len(circle) == 1 else "wait for each other in a circle"
        look.say(circle[0], f"{names} {wait}")
        bad.update(operation.id for operation in circle)
    left_out = _following(bad, open_ones.values(), look)
    planned = [operation for operation in open_ones.values() if operation.id not in left_out]
    _assumed_holds(look, planned)
    _assumed_gates(look, planned, next_day)
    return Checked(tuple(planned), frozenset(left_out), tuple(look.problems))
