"""What a job weighs: each copy of each panel, who carries it, and the crates it goes in."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from jobs.estimating.glass import glass_kg
from jobs.estimating.handling import Crate, Load, Practice, in_crates, people_for, people_for_mass
from jobs.estimating.takeoff import Takeoff

from .letters import LetterSettings
from .orders import Job, Panel


@dataclass(frozen=True, slots=True)
class PanelLoad:
    """A panel and what one copy weighs. `measured`: with its came, by the takeoff; else glass alone, by its size."""

    panel: Panel
    kg: Decimal
    measured: bool
    people: int
    crates: tuple[int, ...]

    @property
    def kg_all(self) -> Decimal:
        return self.kg * self.panel.copies


@dataclass(frozen=True, slots=True)
class CrateLoad:
    """`codes` are its panels, each with how many copies of it."""

    crate: Crate
    kg: Decimal
    people: int
    codes: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class JobLoad:
    panels: list[PanelLoad]
    crates: list[CrateLoad]

    @property
    def copies(self) -> int:
        return sum(row.panel.copies for row in self.panels)

    @property
    def has_unmeasured(self) -> bool:
        return any(not row.measured for row in self.panels)

    @property
    def kg(self) -> Decimal:
        return sum((row.kg_all for row in self.panels), Decimal(0))

    @property
    def crated_kg(self) -> Decimal:
        return sum((row.kg for row in self.crates), Decimal(0))


def practice_of(settings: LetterSettings) -> Practice:
    return Practice(
        lift_kg=settings.lift_kg,
        two_from_mm=settings.two_from_mm,
        crate_panels=settings.crate_panels,
        crate_kg=settings.crate_kg,
        board_kg_m2=settings.board_kg_m2,
    )


def loads_of(job: Job) -> JobLoad:
    """What there is to carry, panel by panel: two queries and the settings, whatever the number of panels."""
    panels = list(job.panels.order_by("number").prefetch_related("takeoffs"))
    practice = practice_of(LetterSettings.current())
    loads: dict[int, Load] = {}
    measured: dict[int, bool] = {}
    for panel in panels:
        kg, measured[panel.pk] = _kg(panel)
        loads[panel.pk] = Load(panel.code, panel.width_mm, panel.height_mm, panel.thickness_mm, kg)
    crates = in_crates((loads[p.pk] for p in panels for _ in range(p.copies)), practice)
    rows = [
        PanelLoad(
            panel,
            loads[panel.pk].kg,
            measured[panel.pk],
            people_for(loads[panel.pk], practice),
            tuple(crate.number for crate in crates if loads[panel.pk] in crate.loads),
        )
        for panel in panels
    ]
    return JobLoad(rows, [_crate(crate, practice) for crate in crates])


def _kg(panel: Panel) -> tuple[Decimal, bool]:
    last = max(panel.takeoffs.all(), key=lambda row: row.version, default=None)
    if last is not None:
        kg = Decimal(Takeoff.from_json(last.numbers).mass_kg)
        if kg > 0:
            return kg, True
    return glass_kg(panel.width_mm, panel.height_mm, panel.thickness_mm), False


def _crate(crate: Crate, practice: Practice) -> CrateLoad:
    kg = crate.kg(practice)
    return CrateLoad(crate, kg, people_for_mass(kg, practice), _counted(load.code for load in crate.loads))


def _counted(codes: Iterable[str]) -> tuple[tuple[str, int], ...]:
    found: dict[str, int] = {}
    for code in codes:
        found[code] = found.get(code, 0) + 1
    return tuple(found.items())
