"""Rows and their database constraints, a file per noun."""

from .accounts import Account, May, Role
from .api_tokens import ApiToken
from .asked import Asked
from .bundles import PaperBundle
from .calendar_links import CalendarEntry, CalendarLink
from .customer_links import CustomerLink, DrawingApproval
from .day_changes import ChangeKind, DayChange
from .drawings import Came, Glass, Pattern, Takeoff
from .events import Event
from .hours import TimeEntry
from .kinds import GateKind, Nature, OperationKind, Route, RouteStep
from .leases import Lease
from .letters import LetterSettings, SentQuote
from .materials import Material, Need, Supplier
from .operations import Breakage, Hold, Operation, State
from .orders import Customer, Gate, Job, Panel, Promise, Stage
from .people import ClosedDay, DayOff, ExtraHours, Person, Shift, Skill
from .photos import Photo
from .pieces import BrokenPiece, PieceMark
from .plans import LoadWeek, PersonWeek, PlanState, Projection
from .quotes import LaborRate, LineGroup, OutsidePrice, Quote, QuoteLine, QuoteSettings, QuoteState
from .rates import KindSetup, Rate
from .signed_in import SignedIn, Tablet
from .stations import Station
from .studios import Studio
from .taps import LateTap, Tap
from .weeks import ClosedWeek, ConfirmedDay
from .workshops import Workshop
from .written import Mail, MailKind, MailPaper, MailState, MailTemplate

__all__ = [
    "Account",
    "ApiToken",
    "Asked",
    "Breakage",
    "BrokenPiece",
    "CalendarEntry",
    "CalendarLink",
    "Came",
    "ChangeKind",
    "ClosedDay",
    "ClosedWeek",
    "ConfirmedDay",
    "Customer",
    "CustomerLink",
    "DayChange",
    "DayOff",
    "DrawingApproval",
    "Event",
    "ExtraHours",
    "Gate",
    "GateKind",
    "Glass",
    "Hold",
    "Job",
    "KindSetup",
    "LaborRate",
    "LateTap",
    "Lease",
    "LetterSettings",
    "LineGroup",
    "LoadWeek",
    "Mail",
    "MailKind",
    "MailPaper",
    "MailState",
    "MailTemplate",
    "Material",
    "May",
    "Nature",
    "Need",
    "Operation",
    "OperationKind",
    "OutsidePrice",
    "Panel",
    "PaperBundle",
    "Pattern",
    "Person",
    "PersonWeek",
    "Photo",
    "PieceMark",
    "PlanState",
    "Projection",
    "Promise",
    "Quote",
    "QuoteLine",
    "QuoteSettings",
    "QuoteState",
    "Rate",
    "Role",
    "Route",
    "RouteStep",
    "SentQuote",
    "Shift",
    "SignedIn",
    "Skill",
    "Stage",
    "State",
    "Station",
    "Studio",
    "Supplier",
    "Tablet",
    "Takeoff",
    "Tap",
    "TimeEntry",
    "Workshop",
]
