"""Patterns: a drawing is uploaded, asked about, its colors are told which glass they are, and it is accepted.

Measuring takes up to seconds, so it is done before the rows are locked; what was measured is then written only if
nobody has changed the pattern meanwhile.
"""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any, NamedTuple

from django.db import transaction
from django.db.models import Max

from jobs import models
from jobs.estimating import drawn
from jobs.estimating.lengths import in_units
from jobs.estimating.linework import MOST_BYTES, DrawingRefused, Linework
from jobs.estimating.pattern import Pattern, redrawn
from jobs.estimating.takeoff import TakeoffError, take_off
from jobs.models import Panel
from jobs.models.said import Answers, Fill

from .approvals import ask_again
from .base import Actor, Refused, record
from .estimates import apply_estimates
from .graph import lock_job
from .panels import change_panel
from .pattern_glass import most_of
from .pieces import forget_marks
from .takeoffs import came_of, current_takeoff, default_cames, glass_of, write_takeoff


class _Glazed(NamedTuple):
    """The glass that a color of the drawing stands for."""

    glass: models.Glass
    beveled: bool
    bevel_mm: Decimal


TOO_LARGE = f"The file is larger than {MOST_BYTES // 1_000_000} MB; export the lead lines alone."
MOST_COLORS = 60
MEANWHILE = "Somebody has changed the pattern meanwhile; look at it again."


def upload_pattern(
    panel: Panel, name: str, data: bytes, *, by: Actor, at: datetime, answers: Answers | None = None
) -> models.Pattern:
    """Read and measure a drawing and keep our own shapes of it, as the panel's next pattern, to be accepted."""
    if len(data) > MOST_BYTES:
        raise Refused(TOO_LARGE, "file")
    last = panel.patterns.select_related("came", "border").order_by("-version").first()
    if answers is None:
        answers = Answers(last.came, last.border) if last else Answers(*default_cames())
    try:
        lines = drawn.read(data)
        pattern, scale = _measured(panel, lines, answers, carved_in(last.fills if last else {}))
    except DrawingRefused as refused:
        raise Refused(str(refused), "file") from refused
    if len(pattern.fills) > MOST_COLORS:
        raise Refused(
            f"The drawing has {len(pattern.fills)} colors; give each glass one color, {MOST_COLORS} at most.",
            "file",
        )
    with transaction.atomic():
        panel = _locked_panel(panel)
        version = (panel.patterns.aggregate(last=Max("version"))["last"] or 0) + 1
        row = models.Pattern(
            panel=panel,
            version=version,
            file_name=_plain_name(name),
            uploaded_at=at,
            uploaded_by=_account(by),
            lines=drawn.lines_json(lines),
            fills=_known_fills(pattern, last),
        )
        _write(row, answers, pattern, scale)
        row.save(force_insert=True)
        told = {"version": version, "file": row.file_name, "pieces": len(pattern.pieces)}
        record("uploaded", row, by=by, at=at, after=told)
    return row


def _plain_name(name: str) -> str:
    kept = "".join(letter for letter in name if letter.isprintable()).strip()
    return kept[-120:] or "drawing"


def _account(by: Actor) -> models.Account:
    if by.account is None:
        raise Refused("Somebody of the office has to do that.")
    return by.account


def _locked_panel(panel: Panel) -> Panel:
    lock_job(panel.job)
    return Panel.objects.select_for_update(of=("self",)).select_related("job").get(pk=panel.pk)


def carved_in(fills: Mapping[str, Any]) -> frozenset[str]:
    """The colors that are carved."""
    return frozenset(color for color, said in fills.items() if said.get("carved_mm"))


def _measured(
    panel: Panel, lines: Linework, answers: Answers, carved: frozenset[str]
) -> tuple[Pattern, float]:
    width = answers.drawn_width_mm
    told = drawn.Answers(
        panel_width_mm=float(panel.width_mm),
        panel_height_mm=float(panel.height_mm),
        close_below_mm=float(answers.close_below_mm),
        drawn_width_mm=None if width is None else float(width),
        scale=answers.scale,
        carved=carved,
    )
    return drawn.measure_with(lines, came_of(answers.came), told)


def _write(row: models.Pattern, answers: Answers, pattern: Pattern, scale: float) -> None:
    row.came, row.border = answers.came, answers.border
    row.close_below_mm, row.drawn_width_mm = answers.close_below_mm, answers.drawn_width_mm
    row.scale_answer = answers.scale
    row.drawing = redrawn(pattern)
    row.measured = drawn.measured_json(pattern, scale)
    row.faults = drawn.faults_json(pattern.faults)


def _known_fills(pattern: Pattern, last: models.Pattern | None) -> dict[str, Any]:
    """The glasses of the colors that are known already: from the panel's last pattern, or by the glass's own color."""
    before = last.fills if last else {}
    by_color = {glass.color: glass for glass in models.Glass.objects.filter(active=True)}
    found = {}
    for fill in pattern.fills:
        if fill in before:
            found[fill] = before[fill]
        elif fill in by_color:
            glass = by_color[fill]
            found[fill] = _as_row(Fill(glass, glass.beveled, glass.bevel_mm))
    return found


def _as_row(fill: Fill) -> dict[str, Any]:
    if fill.glass is None:
        return {"carved_mm": str(fill.carved_mm)}
    return {"glass": fill.glass.pk, "beveled": fill.beveled, "bevel_mm": str(fill.bevel_mm)}


def _open_to_change(pattern: models.Pattern) -> models.Pattern:
    """The pattern's row, locked with its panel and job: neither accepted already nor overtaken by a later one."""
    panel = _locked_panel(pattern.panel)
    row = (
        models.Pattern.objects.select_for_update(of=("self",))
        .select_related("came", "border")
        .filter(pk=pattern.pk)
        .first()
    )
    if row is None:
        raise Refused("That pattern has been taken back.")
    row.panel = panel
    if row.accepted_at is not None:
        raise Refused("This pattern is accepted; upload the drawing again to change it.")
    if panel.patterns.filter(version__gt=row.version).exists():
        raise Refused("There is a later pattern of this panel.")
    return row


def answers_of(row: models.Pattern) -> Answers:
    return Answers(row.came, row.border, row.close_below_mm, row.drawn_width_mm, row.scale_answer)


def answer_pattern(pattern: models.Pattern, answers: Answers, *, by: Actor, at: datetime) -> models.Pattern:
    """Measure a pattern anew with other answers: its came, its units, its scale, the gaps to close."""
    _check(answers)
    try:
        fills = carved_in(pattern.fills)
        measured, scale = _measured(pattern.panel, drawn.lines_of(pattern.lines), answers, fills)
    except (DrawingRefused, TakeoffError) as refused:
        raise Refused(str(refused)) from refused
    with transaction.atomic():
        row = _open_to_change(pattern)
        if carved_in(row.fills) != fills:
            raise Refused(MEANWHILE)
        before = _told(answers_of(row))
        _write(row, answers, measured, scale)
        row.save()
        record("measured anew", row, by=by, at=at, before=before, after=_told(answers))
    return row


def _check(answers: Answers) -> None:
    if not 0 <= answers.close_below_mm <= 10:
        most = in_units("Gaps up to 10 mm can be closed; mend larger ones in the drawing.", _units())
        raise Refused(most, "close_below_mm")
    if answers.drawn_width_mm is not None and not 0 < answers.drawn_width_mm <= 20000:
        raise Refused("A drawing is more than nothing and at most 20 m wide.", "drawn_width_mm")
    if answers.scale not in models.Pattern.Scale.values:
        raise Refused("Say whether the drawing or the panel is right.", "scale")


def _units() -> str:
    return str(models.Studio.current().units)


def _told(answers: Answers) -> dict[str, Any]:
    return {
        "came": answers.came,
        "border": answers.border,
        "close_below_mm": answers.close_below_mm,
        "drawn_width_mm": answers.drawn_width_mm,
        "scale": answers.scale,
    }


def map_fills(
    pattern: models.Pattern, fills: Mapping[str, Fill], *, by: Actor, at: datetime
) -> models.Pattern:
    """Say which glass each color of the drawing stands for, whether it is beveled and how wide, or that it is carved
    and how deep: the drawing is then measured anew, since what is carved is no piece."""
    _check_fills(fills)
    said = {color: _as_row(fill) for color, fill in fills.items()}
    answers = answers_of(pattern)
    anew = None
    if carved_in(said) != carved_in(pattern.fills):
        lines = drawn.lines_of(pattern.lines)
        try:
            anew = _measured(pattern.panel, lines, answers, carved_in(said))
        except DrawingRefused as refused:
            raise Refused(str(refused)) from refused
    with transaction.atomic():
        row = _open_to_change(pattern)
        if set(fills) != set(row.measured["fills"]):
            raise Refused("Say which glass each color of the drawing stands for.")
        before = row.fills
        if anew is not None:
            if (answers_of(row), row.fills) != (answers, pattern.fills):
                raise Refused(MEANWHILE)
            _write(row, answers, *anew)
        row.fills = {color: row_ for color, row_ in said.items() if color in row.measured["fills"]}
        row.save()
        after = {
            color or "no color": fill.glass.name if fill.glass else f"carved {fill.carved_mm} mm deep"
            for color, fill in fills.items()
        }
        record("given its glass", row, by=by, at=at, before={"colors": len(before)}, after=after)
    return row


def _check_fills(fills: Mapping[str, Fill]) -> None:
    if fills and all(fill.glass is None for fill in fills.values()):
        raise Refused("One color at least is glass: what is carved is carved into it.")
    for fill in fills.values():
        if fill.glass is None:
            if fill.carved_mm is None or not 0 < fill.carved_mm <= 100:
                raise Refused(in_units("Carving is more than 0 and at most 100 mm deep.", _units()))
        elif not 0 < fill.bevel_mm <= 200:
            raise Refused(in_units("A bevel is more than nothing and at most 200 mm wide.", _units()))


def accept_pattern(
    pattern: models.Pattern, *, anyway: bool = False, hours: bool = False, by: Actor, at: datetime
) -> models.Takeoff:
    """Let a pattern be the panel's: its picture, its number of pieces and its takeoff, which is given back.

    Questions have to be answered first. Faults may be let pass with `anyway`. Where the drawing was said to be right
    about the size, the panel gets that size; it gets the thickness of most of its glass. With `hours` its work that
    has not begun gets the hours that follow from the takeoff.
    """
    _refuse_open_questions(pattern, anyway)
    answers, fills = answers_of(pattern), pattern.fills
    lines = drawn.lines_of(pattern.lines)
    measured, _ = _measured(pattern.panel, lines, answers, carved_in(fills))
    glasses = _glasses(pattern)
    thick = [(glasses[piece.fill].glass.thickness_mm, piece.area_mm2) for piece in measured.pieces]
    with transaction.atomic():
        row = _open_to_change(pattern)
        if (answers_of(row), row.fills) != (answers, fills):
            raise Refused(MEANWHILE)
        before = row.panel.thickness_mm
        panel = _as_drawn(row, measured, most_of(thick), by=by, at=at)
        panel.drawing = _picture(measured, glasses)
        panel.save(update_fields=["drawing"])
        forget_marks(panel.pk, at)
        ask_again(panel, by=by, at=at)
        row.accepted_at, row.accepted_by = at, _account(by)
        row.save(update_fields=["accepted_at", "accepted_by"])
        told = {"version": row.version, "pieces": len(measured.pieces), "faults let pass": len(row.faults)}
        glass = {"thickness_mm": before}, {"thickness_mm": panel.thickness_mm}
        was, now = glass if before != panel.thickness_mm else ({}, {})
        record("accepted", row, by=by, at=at, before=was, after=told | now)
        taken = _taken_off(row, panel, measured, glasses, by=by, at=at)
        if hours:
            apply_estimates(panel, by=by, at=at)
        return taken


def _refuse_open_questions(pattern: models.Pattern, anyway: bool) -> None:
    asked = [fault for fault in pattern.faults if fault["asks"]]
    if asked:
        raise Refused(in_units(asked[0]["words"], _units()))
    if set(pattern.fills) < set(pattern.measured["fills"]):
        raise Refused("Say first which glass each color of the drawing stands for.")
    if pattern.faults and not anyway:
        some = len(pattern.faults)
        raise Refused(
            f"{some} {'fault is' if some == 1 else 'faults are'} still in the drawing: mend it and upload it again, "
            "or say that it is right all the same.",
            "anyway",
        )


def _glasses(pattern: models.Pattern) -> dict[str, _Glazed]:
    """What the colors of the pieces are; those that are carved are left out."""
    rows = models.Glass.objects.in_bulk([fill["glass"] for fill in pattern.fills.values() if "glass" in fill])
    found = {}
    for color in pattern.measured["fills"]:
        said = pattern.fills[color]
        if said.get("carved_mm"):
            continue
        if said["glass"] not in rows:
            raise Refused("A glass of the drawing is not there any more; choose another one.")
        found[color] = _Glazed(rows[said["glass"]], bool(said["beveled"]), Decimal(said["bevel_mm"]))
    return found


def _as_drawn(
    row: models.Pattern, measured: Pattern, thickness: Decimal, *, by: Actor, at: datetime
) -> Panel:
    panel = row.panel
    width, height = panel.width_mm, panel.height_mm
    if row.scale_answer == models.Pattern.Scale.DRAWING:
        width, height = (
            Decimal(n).quantize(Decimal("0.01")) for n in (measured.width_mm, measured.height_mm)
        )
    return change_panel(
        panel,
        name=panel.name,
        width_mm=width,
        height_mm=height,
        thickness_mm=thickness,
        pieces=len(measured.pieces),
        copies=panel.copies,
        by=by,
        at=at,
    )


def _picture(measured: Pattern, glasses: Mapping[str, _Glazed]) -> dict[str, Any]:
    """The panel's drawing, its pieces by the names of their glass."""
    beveled = frozenset(color for color, fill in glasses.items() if fill.beveled)
    picture = redrawn(measured, beveled)
    for piece in picture["pieces"]:
        if piece.get("carved"):
            piece["glass"] = "carved"
            continue
        glass = glasses[piece["glass"]].glass
        piece["glass"], piece["color"] = glass.name, glass.color
    return picture


def _taken_off(
    row: models.Pattern,
    panel: Panel,
    measured: Pattern,
    glasses: Mapping[str, _Glazed],
    *,
    by: Actor,
    at: datetime,
) -> models.Takeoff:
    """Where nothing in the drawing is carved, what was taken off as carved before is kept."""
    before = current_takeoff(panel)
    carved: dict[float, float] = {}
    for carving in measured.carved:
        depth = float(row.fills[carving.fill]["carved_mm"])
        carved[depth] = carved.get(depth, 0.0) + carving.area_mm2
    known = {c: glass_of(f.glass, beveled=f.beveled, bevel_mm=f.bevel_mm) for c, f in glasses.items()}
    try:
        takeoff = take_off(
            measured,
            known,
            border=came_of(row.border),
            carved_mm2=carved or (before.carved_mm2 if before else None),
        )
    except TakeoffError as error:
        raise Refused(str(error)) from error
    return write_takeoff(panel, takeoff, row, by=by, at=at)


@transaction.atomic
def take_back(pattern: models.Pattern, *, by: Actor, at: datetime) -> None:
    """Take out a pattern that was uploaded by mistake, before it is accepted."""
    row = _open_to_change(pattern)
    record("taken back", row, by=by, at=at, before={"version": row.version, "file": row.file_name})
    row.delete()
