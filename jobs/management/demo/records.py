"""What the demo's floor knows: people, commissions, their work, and what came of it.

Times are whole minutes since 1970 in UTC, days are dates on the studio's calendar, content is minutes at pace 1.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, time

from .geometry import Pane

FAR = 1 << 60  # later than anything


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of operation as the trade's fixture has it."""

    id: int
    name: str
    nature: str
    station: str | None
    crew: int
    gates: tuple[str, ...]
    counted: bool
    again: bool
    whole_job: bool


@dataclass(frozen=True, slots=True)
class Step:
    id: int
    kind: Kind
    label: str
    condition: str
    minutes: int
    piece_minutes: float
    after: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Trade:
    """The fixture: benches of each station by name, kinds by name, the steps of each route by name."""

    benches: dict[str, int]
    kinds: dict[str, Kind]
    routes: dict[str, tuple[Step, ...]]


@dataclass(slots=True)
class Worker:
    """Somebody of the demo studio. `skills`: station and pace, in the order in which they look for work."""

    name: str
    cost: int
    skills: dict[str, float]
    week: dict[int, list[tuple[time, time]]]
    apprentice: bool = False
    away: list[tuple[date, date, str]] = field(default_factory=list)
    extra: list[tuple[date, time, time]] = field(default_factory=list)

    def is_away(self, day: date) -> bool:
        return any(first <= day <= last for first, last, _ in self.away)

    def hours(self, day: date, closed: bool) -> list[tuple[time, time]]:
        """From when to when on this day; extra hours hold on any day."""
        extra = [(start, stop) for when, start, stop in self.extra if when == day]
        weekly = [] if closed or self.is_away(day) else self.week.get(day.weekday(), [])
        return sorted(weekly + extra)


@dataclass(slots=True, eq=False)
class Work:
    """One operation. `content` is what it really takes, which nobody in the studio knows beforehand;
    `luck` by how much that is more than such work takes on the average."""

    job: Commission
    panel: Sheet | None
    kind: Kind
    label: str
    place: int
    estimate: int
    quantity: int = 0
    after: list[Work] = field(default_factory=list)
    then: list[Work] = field(default_factory=list)
    luck: float = 1
    content: float = 0
    left: float = 0
    not_before: int = 0
    only: str = ""  # The one person who may do it.
    breaks: tuple[float, int] | None = None
    listed: bool = False
    started: int | None = None
    finished: int | None = None
    keeper: Worker | None = None
    done: int = 0
    of_breakage: Broken | None = None
    id: int = 0

    @property
    def is_cure(self) -> bool:
        return self.kind.nature == "cure"

    @property
    def is_attended(self) -> bool:
        return self.kind.nature == "attended"

    def is_done(self, at: int) -> bool:
        return self.finished is not None and self.finished <= at


@dataclass(slots=True, eq=False)
class Sheet:
    """A panel: its drawing, its size in millimeters, how many identical copies, and its own operations."""

    job: Commission
    number: int
    name: str
    width: float
    height: float
    thickness: float
    copies: int
    route: str
    panes: tuple[Pane, ...]
    pieces: int
    where: str = ""
    id: int = 0


@dataclass(slots=True)
class Expected:
    """A gate: the day it is expected, the day it came, and the minute from which it is open."""

    expected: date
    cleared: date | None = None
    open_from: int = FAR


@dataclass(slots=True)
class Given:
    """A promise: for which day, given when, why the date moved."""

    day: date
    at: int
    reason: str = ""


@dataclass(slots=True, eq=False)
class Commission:
    """A job of the demo studio. `case` names the story it was made for; `first` lets it pass everybody."""

    title: str
    customer: int
    entered: int
    stage: str = "ordered"
    number: str = ""
    case: str = ""
    first: bool = False
    weight: str = "1"
    wanted: date | None = None
    notes: str = ""
    difficulty: float = 1.0
    # By how many days the lead is off when they think of what is promised for when.
    minded: float = 0.0
    ordered: int | None = None
    closed: int | None = None
    gates: dict[str, Expected] = field(default_factory=dict)
    promises: list[Given] = field(default_factory=list)
    sheets: list[Sheet] = field(default_factory=list)
    works: list[Work] = field(default_factory=list)
    holds: list[Rest] = field(default_factory=list)
    approval_days: float | None = None
    rework_from: int = 0
    id: int = 0

    @property
    def due(self) -> int:
        """The promised day as a number; what nobody promised comes last."""
        return self.promises[-1].day.toordinal() if self.promises else FAR

    def left(self) -> float:
        """Content of bench work that is still to do."""
        return sum(work.left for work in self.works if work.is_attended)


@dataclass(slots=True)
class Rest:
    """A hold on a whole job or on one panel."""

    job: Commission
    sheet: Sheet | None
    reason: str
    since: int
    until: date | None
    by: str
    released: int | None = None


@dataclass(slots=True, eq=False)
class Broken:
    work: Work
    pieces: int
    at: int
    worker: Worker
    note: str
    id: int = 0


@dataclass(slots=True)
class Stretch:
    """A time entry: somebody on some work from start to stop (None: it runs), minutes without breaks, pieces done."""

    worker: Worker
    work: Work
    start: int
    stop: int | None
    minutes: int | None
    pieces: int = 0
    source: str = "tapped"
    note: str = ""
    # The stop and the minutes that were logged at first, and why they were taken back.
    typed_first: tuple[int, int, str] | None = None
