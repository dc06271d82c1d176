"""What people say of a drawing and of a panel: forms make it of what was typed, and actions act on it."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from .drawings import Came, Glass


@dataclass(frozen=True, slots=True)
class Answers:
    """What a drawing is measured with: came, the gaps to close, and what the file itself does not say."""

    came: Came
    border: Came
    close_below_mm: Decimal = Decimal(0)
    drawn_width_mm: Decimal | None = None
    scale: str = ""


@dataclass(frozen=True, slots=True)
class Fill:
    """What a color of the drawing stands for: a glass, or carving so many millimeters deep into the glass under it."""

    glass: Glass | None
    beveled: bool = False
    bevel_mm: Decimal = Decimal(0)
    carved_mm: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Quantities:
    """What somebody took off by hand, of one copy: lengths in millimeters, areas in square millimeters.

    bevels: (thickness, bevel width, length); carved: (depth, area); glasses: (glass, area). A thing given twice counts
    together.
    """

    inner: Came
    border: Came
    inner_mm: float = 0.0
    border_mm: float = 0.0
    joints: int = 0
    curved_edges: int = 0
    inner_corners: int = 0
    hard_pieces: int = 0
    bevels: Sequence[tuple[float, float, float]] = ()
    carved: Sequence[tuple[float, float]] = ()
    glasses: Sequence[tuple[Glass, float]] = ()
