"""What is answered: the fields of each thing, with their units. Times are ISO 8601 with offset, days YYYY-MM-DD."""

from datetime import date, datetime
from typing import Any, Literal

from ninja import Field, Schema

StageWord = Literal["enquiry", "quoted", "ordered", "complete", "cancelled", "declined"]
StateWord = Literal["waiting", "ready", "on-bench", "held", "done"]


class Problem(Schema):
    """Why there is no answer."""

    detail: str


class Wrong(Schema):
    """What was asked wrong: where it stands, and what is the matter with it."""

    type: str
    loc: list[str | int]
    msg: str


class Invalid(Schema):
    """Why it could not be understood."""

    detail: list[Wrong]


class Page[Row](Schema):
    """Some rows in the order of their ids; `next` is what to ask for with `after`, null with the last of them."""

    items: list[Row]
    next: int | None = Field(
        None, description="The id after which the next page begins; null: this was the last."
    )
    event: int = Field(description="The last event written down before; for after_event, the next time.")


class JobShape(Schema):
    """A commission."""

    id: int
    number: str
    title: str
    stage: StageWord
    customer_id: int = Field(
        description="Id of a customer; who that is takes a token that may read customers."
    )
    weight: float = Field(description="How much a late day matters; 1 is the usual.")
    wanted_by: date | None
    promised: date | None = Field(description="The day last promised to the customer.")
    entered_at: datetime
    ordered_at: datetime | None
    closed_at: datetime | None = Field(description="When it was complete, cancelled or declined.")


class PanelShape(Schema):
    """One window or carved piece of a job; `copies` identical ones go round together."""

    id: int
    job_id: int
    number: int = Field(description="Its number within the job.")
    name: str
    width_mm: float
    height_mm: float
    thickness_mm: float
    pieces: int = Field(description="Pieces in one copy.")
    copies: int
    where: str = Field(description="Where it is now.")


class OperationShape(Schema):
    """One kind of work on one panel, or on a whole job where `panel` is null."""

    id: int
    job_id: int
    panel_id: int | None
    kind: str
    station_id: int | None = Field(description="Null: a cure, or work done outside.")
    label: str
    place: int = Field(description="Its place in the panel's route.")
    state: StateWord
    estimated_minutes: int
    actual_minutes: int = Field(
        description="Logged minutes that count; a timer that still runs is not in it."
    )
    pieces: int
    pieces_done: int
    keeper_id: int | None = Field(description="Who has it on the bench.")
    started_at: datetime | None
    finished_at: datetime | None

    @staticmethod
    def resolve_kind(row: Any) -> str:
        return str(row.kind.name)

    @staticmethod
    def resolve_station_id(row: Any) -> int | None:
        return row.kind.station_id  # type: ignore[no-any-return]

    @staticmethod
    def resolve_estimated_minutes(row: Any) -> int:
        return int(row.estimate)

    @staticmethod
    def resolve_actual_minutes(row: Any) -> int:
        return int(row.spent)

    @staticmethod
    def resolve_pieces(row: Any) -> int:
        return int(row.quantity)

    @staticmethod
    def resolve_pieces_done(row: Any) -> int:
        return int(row.quantity_done)


class SkillShape(Schema):
    station_id: int
    pace: float = Field(description="1 is the usual; at 1.25 an hour of estimate takes 48 minutes.")


class PersonShape(Schema):
    """Somebody who works at the benches."""

    id: int
    name: str
    active: bool
    skills: list[SkillShape]


class StationShape(Schema):
    """Benches that do the same work, and how much unfinished work there is in each state."""

    id: int
    name: str
    benches: int
    active: bool
    on_bench: int
    ready: int
    held: int
    waiting: int

    @staticmethod
    def resolve_on_bench(row: Any) -> int:
        return int(row.counts.get("on-bench", 0))

    @staticmethod
    def resolve_ready(row: Any) -> int:
        return int(row.counts.get("ready", 0))

    @staticmethod
    def resolve_held(row: Any) -> int:
        return int(row.counts.get("held", 0))

    @staticmethod
    def resolve_waiting(row: Any) -> int:
        return int(row.counts.get("waiting", 0))


class QueuedShape(Schema):
    """Work at a station, in the order in which it is taken there."""

    operation_id: int
    job_id: int
    panel_id: int | None
    kind: str
    state: StateWord
    keeper_id: int | None
    minutes_left: int
    actual_minutes: int = Field(description="With the timers that run.")
    due: date | None = Field(description="Promised, or else wanted by.")
    waits_for: int | None = Field(None, description="The operation that what is coming waits for.")


class QueueShape(Schema):
    """What lies on a station's benches, what is ready there, what is held, and what comes next."""

    station_id: int
    on_bench: list[QueuedShape]
    ready: list[QueuedShape]
    held: list[QueuedShape]
    coming: list[QueuedShape] = Field(description="The next few that wait for one other operation only.")


class HoursShape(Schema):
    """A stretch of work of one person on one operation."""

    id: int
    person_id: int
    operation_id: int
    job_id: int
    panel_id: int | None
    started_at: datetime
    stopped_at: datetime | None = Field(description="Null: the timer runs.")
    minutes: int | None = Field(description="The span less the person's breaks.")
    pieces_done: int
    counts: bool = Field(description="False: it runs, is questioned, or was corrected or taken back.")
    voided_at: datetime | None
    corrects_id: int | None = Field(description="The entry that this one replaces.")

    @staticmethod
    def resolve_job_id(row: Any) -> int:
        return int(row.operation.job_id)

    @staticmethod
    def resolve_panel_id(row: Any) -> int | None:
        return row.operation.panel_id  # type: ignore[no-any-return]

    @staticmethod
    def resolve_counts(row: Any) -> bool:
        return row.voided_at is None and row.stopped_at is not None and not row.questioned


class PromiseShape(Schema):
    """A date given to a customer. The last one given holds."""

    id: int
    job_id: int
    day: date
    given_at: datetime
    reason: str = Field(description="Why the date changed.")
    chance: float | None = Field(description="Of 1, when it was given.")


class DatesShape(Schema):
    """By when a job or panel is finished, by the present plan, with each of three chances."""

    id: int
    job_id: int | None
    panel_id: int | None
    p50: datetime
    p80: datetime
    p95: datetime
    confident_day: date | None = Field(description="Of a job: the day with the studio's own confidence.")
    chance: float | None = Field(description="Of a job, of 1: that its promise, or else its wish, is kept.")


class DatesPage(Page[DatesShape]):
    planned_at: datetime | None
    out_of_date: bool = Field(description="Something has changed since these were made.")


class CustomerShape(Schema):
    id: int
    name: str
    contact: str
    email: str
    phone: str
    address: str
