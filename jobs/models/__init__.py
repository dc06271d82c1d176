"""Rows and their database constraints, a file per noun."""

from .accounts import Account, Role
from .events import Event
from .hours import TimeEntry
from .kinds import GateKind, Nature, OperationKind, Route, RouteStep
from .operations import Breakage, Hold, Operation, State
from .orders import Customer, Gate, Job, Panel, Promise, Stage
from .people import ClosedDay, DayOff, ExtraHours, Person, Shift, Skill
from .plans import LoadWeek, PlanState, Projection
from .stations import Station
from .studios import Studio
from .taps import Tap

__all__ = [
    "Account",
    "Breakage",
    "ClosedDay",
    "Customer",
    "DayOff",
    "Event",
    "ExtraHours",
    "Gate",
    "GateKind",
    "Hold",
    "Job",
    "LoadWeek",
    "Nature",
    "Operation",
    "OperationKind",
    "Panel",
    "Person",
    "PlanState",
    "Projection",
    "Promise",
    "Role",
    "Route",
    "RouteStep",
    "Shift",
    "Skill",
    "Stage",
    "State",
    "Station",
    "Studio",
    "Tap",
    "TimeEntry",
]
