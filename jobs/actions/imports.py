"""Jobs read in from a list: every bad line by its number, and all of it or nothing."""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal, InvalidOperation

from django.db import transaction

from jobs.estimating.hours import HoursError, parse_hours
from jobs.estimating.lengths import LengthError, parse_length
from jobs.models import Job, OperationKind, Route, Studio, Workshop

from .base import Actor, Refused
from .customers import check_name
from .jobs import check_number, check_title, create_job
from .panels import PanelDraft, check_panel

LARGEST_BYTES = 2 * 1024 * 1024
LARGEST_LINES = 5000
NEEDED = ("job", "title", "customer", "panel", "width", "height")
OPTIONAL = ("thickness", "pieces", "copies", "route", "wanted_by")
# A column of studios with several workshops, by the workshop's name.
WORKSHOP = "workshop"
HOURS = "hours:"


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a line of the list; line 1 is the header, line 0 the list as a whole."""

    line: int
    sentence: str

    def __str__(self) -> str:
        return f"Line {self.line}: {self.sentence}" if self.line else self.sentence


class ImportRefused(Refused):
    """The list has faults, so nothing of it was taken."""

    def __init__(self, faults: list[Fault]) -> None:
        lines = len({fault.line for fault in faults})
        super().__init__(f"Nothing was taken: {lines} {'line has' if lines == 1 else 'lines have'} faults.")
        self.faults = faults


@dataclass(slots=True)
class JobDraft:
    line: int
    number: str
    title: str
    customer: str
    wanted_by: date | None = None
    workshop: Workshop | None = None
    panels: list[PanelDraft] = field(default_factory=list)


def import_jobs(data: bytes, workshop: Workshop | None = None, *, by: Actor, at: datetime) -> list[Job]:
    """Make the jobs of a list: CSV in UTF-8, its columns named in the first line, apart by comma or semicolon.

    `workshop`: whose all of them are; where it is None, a column may name one for each, else it is the first.
    Raises ImportRefused with every fault there is, in the order of the lines; then nothing was written.
    """
    drafts, faults = read_list(data, workshop)
    made: list[Job] = []
    with transaction.atomic():
        for draft in drafts if not faults else ():
            try:
                job = create_job(
                    number=draft.number,
                    title=draft.title,
                    customer=draft.customer,
                    panels=draft.panels,
                    wanted_by=draft.wanted_by,
                    workshop=draft.workshop,
                    by=by,
                    at=at,
                )
            except Refused as refused:
                faults.append(Fault(draft.line, refused.sentence))
            else:
                made.append(job)
        if faults:
            # Raised inside the transaction, so that nothing of the list stays.
            raise ImportRefused(sorted(faults, key=lambda fault: fault.line))
    return made


def read_list(data: bytes, workshop: Workshop | None = None) -> tuple[list[JobDraft], list[Fault]]:
    """The jobs of a list and what is wrong with it. Reads the routes and kinds of the studio; writes nothing."""
    try:
        rows = list(_rows(data))
    except _Unreadable as problem:
        return [], [Fault(problem.line, problem.sentence)]
    if not rows:
        return [], [Fault(0, "The list is empty.")]
    reader = _Reader([cell.strip().lower() for cell in rows[0][1]], workshop)
    if not reader.faults:
        for line, cells in rows[1:]:
            reader.take(line, cells)
        if not reader.jobs and not reader.faults:
            reader.fault(0, "There is no job in the list.")
    return list(reader.jobs.values()), reader.faults


class _Unreadable(Exception):
    def __init__(self, sentence: str, line: int = 0) -> None:
        super().__init__(sentence)
        self.sentence, self.line = sentence, line


def _rows(data: bytes) -> Iterator[tuple[int, list[str]]]:
    """Each row that is not empty, with the number of the line it begins on."""
    if len(data) > LARGEST_BYTES:
        raise _Unreadable("The list is larger than 2 MB.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise _Unreadable("This is not text in UTF-8; save the list as CSV UTF-8.", line) from None
    if "\0" in text:
        raise _Unreadable(
            "There is a NUL character in it, so it is not text.", text[: text.index("\0")].count("\n") + 1
        )
    if not text.strip():
        raise _Unreadable("The list is empty.")
    head = next(line for line in text.splitlines() if line.strip())
    mark = ";" if head.count(";") > head.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    last = count = 0
    try:
        for cells in reader:
            begins, last = last + 1, reader.line_num
            if any(cell.strip() for cell in cells):
                count += 1
                if count > LARGEST_LINES + 1:
                    raise _Unreadable(f"The list has more than {LARGEST_LINES} lines.", begins)
                yield begins, cells
    except csv.Error as error:
        raise _Unreadable(f"This line cannot be read: {error}.", last + 1) from None


class _Reader:
    """Takes line after line, and notes all that is wrong with each."""

    def __init__(self, header: list[str], workshop: Workshop | None) -> None:
        self.header = header
        self.workshop = workshop
        self.workshops = {row.name.lower(): row for row in Workshop.objects.all()}
        self.jobs: dict[str, JobDraft] = {}
        self.faults: list[Fault] = []
        self.unit = Studio.current().units
        self.routes = {route.name.lower(): route for route in Route.objects.filter(active=True)}
        self.kinds = {}
        for kind in OperationKind.objects.all():
            self.kinds[kind.name.lower()] = self.kinds[kind.slug] = kind
        self.route_kinds = {
            route.pk: set(route.steps.values_list("kind__slug", flat=True)) for route in self.routes.values()
        }
        self._check_header()

    def fault(self, line: int, sentence: str) -> None:
        self.faults.append(Fault(line, sentence))

    def _check_header(self) -> None:
        missing = [name for name in NEEDED if name not in self.header]
        if missing:
            self.fault(1, f"These columns are missing: {', '.join(missing)}.")
        for name in {name for name in self.header if name and self.header.count(name) > 1}:
            self.fault(1, f"There are two columns called “{name[:40]}”.")
        for name in self.header:
            if name.startswith(HOURS):
                if name.removeprefix(HOURS).strip() not in self.kinds:
                    self.fault(
                        1, f"There is no kind of work called “{name.removeprefix(HOURS).strip()[:40]}”."
                    )
            elif name == WORKSHOP and (self.workshop is not None or len(self.workshops) > 1):
                continue
            elif name and name not in NEEDED + OPTIONAL:
                self.fault(1, f"No column is called “{name[:40]}”.")

    def take(self, line: int, cells: list[str]) -> None:
        if len(cells) > len(self.header) and any(cell.strip() for cell in cells[len(self.header) :]):
            self.fault(line, f"It has {len(cells)} cells for {len(self.header)} columns; are quotes missing?")
            return
        values = {name: cell.strip() for name, cell in zip(self.header, cells, strict=False) if name}
        before = len(self.faults)
        job = self._job(line, values)
        panel = self._panel(line, values)
        if job is not None and panel is not None and len(self.faults) == before:
            if any(other.name.lower() == panel.name.lower() for other in job.panels):
                self.fault(line, f"Job {job.number} has two panels called {panel.name}.")
            job.panels.append(panel)

    def _job(self, line: int, values: dict[str, str]) -> JobDraft | None:
        """The job of the line: a new one, or the one of an earlier line, which it may not contradict."""
        number = values.get("job", "")
        wanted = self._day(line, values.get("wanted_by", ""))
        known = self.jobs.get(number.lower())
        if known is not None:
            self._must_agree(line, known, values, wanted)
            return known
        made_at = self._workshop(line, values.get(WORKSHOP, ""))
        draft = JobDraft(line, number, values.get("title", ""), values.get("customer", ""), wanted, made_at)
        for check, value in (
            (check_number, number),
            (check_title, draft.title),
            (check_name, draft.customer),
        ):
            try:
                check(value)
            except Refused as refused:
                self.fault(line, refused.sentence)
        if number:
            self.jobs[number.lower()] = draft
        return draft

    def _workshop(self, line: int, name: str) -> Workshop | None:
        if not name:
            return self.workshop
        found = self.workshops.get(name.lower())
        if found is None or self.workshop not in (None, found):
            self.fault(line, f"There is no workshop called “{name[:40]}” for you.")
        return found

    def _must_agree(self, line: int, known: JobDraft, values: dict[str, str], wanted: date | None) -> None:
        for name, was in (("title", known.title), ("customer", known.customer)):
            if values.get(name) and values[name] != was:
                self.fault(line, f"The {name} of job {known.number} is another one on line {known.line}.")
        if (shop := values.get(WORKSHOP)) and self._workshop(line, shop) != known.workshop:
            self.fault(line, f"Job {known.number} is of another workshop on line {known.line}.")
        if wanted and wanted != known.wanted_by:
            self.fault(line, f"Job {known.number} is wanted by another day on line {known.line}.")

    def _panel(self, line: int, values: dict[str, str]) -> PanelDraft | None:
        before = len(self.faults)
        route = self._route(line, values.get("route", ""))
        width, height = (self._length(line, name, values.get(name, "")) for name in ("width", "height"))
        thick = values.get("thickness", "")
        thickness = self._length(line, "thickness", thick) if thick else Decimal("6.35")
        pieces = self._number(line, "pieces", values.get("pieces", ""))
        copies = self._number(line, "copies", values.get("copies", ""))
        minutes = self._hours(line, values, route)
        if len(self.faults) > before:
            return None
        name = values.get("panel", "")
        try:
            check_panel(name, width, height, thickness, pieces, copies)
        except Refused as refused:
            self.fault(line, refused.sentence)
            return None
        return PanelDraft(name, width, height, route, thickness, pieces, copies, frozenset(), minutes)

    def _route(self, line: int, name: str) -> Route | None:
        if not name:
            return None
        route = self.routes.get(name.lower())
        if route is None:
            self.fault(line, f"There is no route called “{name[:60]}”.")
        return route

    def _length(self, line: int, column: str, text: str) -> Decimal:
        try:
            return parse_length(text, self.unit)
        except LengthError as error:
            self.fault(line, f"{column.capitalize()}: {error}")
            return Decimal(1)

    def _number(self, line: int, column: str, text: str) -> int:
        if not text:
            return 1
        if not (text.isascii() and text.isdigit() and len(text) <= 7):
            self.fault(line, f"{column.capitalize()}: “{text[:40]}” is not a whole number.")
            return 1
        return int(text)

    def _hours(self, line: int, values: dict[str, str], route: Route | None) -> dict[str, int]:
        found = {}
        for column, text in values.items():
            if not column.startswith(HOURS) or not text:
                continue
            kind = self.kinds[column.removeprefix(HOURS).strip()]
            try:
                found[kind.slug] = parse_hours(text)
            except (HoursError, InvalidOperation) as error:
                self.fault(line, f"Hours of {kind.name}: {error}")
            if route is None or kind.slug not in self.route_kinds[route.pk]:
                where = f"Route {route.name}" if route else "A panel without a route"
                self.fault(line, f"{where} has no {kind.name}, so it can have no hours.")
        return found

    def _day(self, line: int, text: str) -> date | None:
        if not text:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.fault(line, f"“{text[:40]}” is not a day; write it as 2026-03-31.")
            return None


def template_list() -> str:
    """A list to fill in, with two example lines, as CSV text."""
    route = Route.objects.filter(active=True).order_by("name").first()
    kinds = [step.kind.name for step in route.steps.select_related("kind")] if route else []
    kinds = list(dict.fromkeys(kinds))
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([*NEEDED, *OPTIONAL, *(f"{HOURS} {kind.lower()}" for kind in kinds)])
    name = route.name if route else ""
    empty = [""] * len(kinds)
    first = ["A-1", "Hall window", "Parish of the Two Rivers", "Left light", "24 1/2 in", "36 in"]
    second = ["A-1", "", "", "Right light", "622 mm", "914 mm"]
    writer.writerow([*first, "1/4 in", "24", "1", name, "2030-06-28", *empty])
    writer.writerow([*second, "1/4 in", "24", "1", name, "", *empty])
    return out.getvalue()
