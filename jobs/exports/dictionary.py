"""What each field of the exported tables holds: its kind, its unit, what it means, and what it refers to."""

from collections.abc import Iterator

from .cells import AnyField, kind_of
from .tables import Table, name_of

HEAD = ("table", "field", "kind", "unit", "meaning", "may_be_empty", "allowed", "refers_to")

MINUTES, MM, M2, KG, MONEY, SHARE = "minutes", "mm", "m²", "kg", "money", "share of 1"
# By the end of a field's name; the first that fits counts. What has none is a number of something, or has its own unit
# in another column.
_ENDINGS = (
    ("kg_m2", "kg per m²"),
    ("price_m2", "money per m²"),
    ("kg_per_m", "kg per m"),
    ("_mm", MM),
    ("_m2", M2),
    ("_kg", KG),
    ("minutes", MINUTES),
)
_UNITS = {
    "operation.estimate": MINUTES,
    "routestep.piece_minutes": "minutes per piece",
    "rate.minutes": "minutes per driver",
    "loadweek.work": MINUTES,
    "loadweek.work_80": MINUTES,
    "loadweek.capacity": MINUTES,
    "person.hourly_cost": "money per hour",
    "laborrate.hour": "money per hour",
    "studio.labor_rate": "money per hour",
    "quote.net": MONEY,
    "quote.tax": MONEY,
    "quote.total": MONEY,
    "quote.deposit": MONEY,
    "quoteline.amount": MONEY,
    "quoteline.price": "money per unit",
    "quotesettings.design_fee": SHARE,
    "quotesettings.rounding": MONEY,
    "material.price": "money per unit",
    "material.amount": "units per driver",
    "need.price": "money per unit",
    "need.amount": "as in unit",
    "quoteline.quantity": "as in unit",
    "came.price": "money per stick",
    "outsideprice.minimum": MONEY,
    "skill.pace": "times the usual pace",
    "quotesettings.markup": SHARE,
    "quotesettings.outside_markup": SHARE,
    "quotesettings.tax": SHARE,
    "quotesettings.deposit": SHARE,
    "quotesettings.breakage": SHARE,
    "quotesettings.risk_confidence": SHARE,
    "glass.waste": SHARE,
    "studio.confidence": SHARE,
    "quote.confidence": SHARE,
    "projection.chance": SHARE,
    "promise.chance": SHARE,
    "material.days": "days",
    "supplier.days": "days",
    "outsideprice.days": "days",
    "need.days": "days",
    "quotesettings.valid_days": "days",
    "photo.width": "pixels",
    "photo.height": "pixels",
}
# What neither its name nor its description says.
_MEANINGS = {
    "event.before": "what stood there before, by field",
    "event.after": "what stands there since, by field",
    "event.subject": "the table of the row that was changed",
    "event.subject_id": "the id of the row that was changed",
    "event.verb": "what was done, read after the row's name",
    "event.at": "when it happened",
    "person.hourly_cost": "what an hour of this person costs the studio",
    "panel.width_mm": "width",
    "panel.height_mm": "height",
    "quotesettings.rounding": "prices are rounded to this",
    "operation.estimate": "estimated time: of work at a bench worked minutes, of a cure or outside work elapsed ones",
    "operation.keeper": "who has it on the bench now",
    "operation.pinned_place": "place in its station's order given by hand, the lowest first",
    "operation.early": "the lead let it start before what comes first was done",
    "operation.finished_at": "when it was done; of a cure that has begun, when it will be",
    "timeentry.minutes": "worked minutes: the span less the person's breaks",
    "timeentry.voided_at": "when it was corrected or taken back, and counts no more",
    "timeentry.corrects": "the entry that this one replaces",
    "timeentry.questioned": "the timer was left on and nobody has said yet when work stopped; does not count",
    "projection.p50": "done by then with a chance of 50 %",
    "projection.p80": "done by then with a chance of 80 %",
    "projection.p95": "done by then with a chance of 95 %",
    "panel.drawing": "the pieces of the drawing, as points in mm from its upper left corner",
    "breakage.pieces": "pieces that broke",
}
_FORMS = {
    "time": "ISO 8601 with offset",
    "day": "ISO 8601, YYYY-MM-DD",
    "clock": "HH:MM:SS of the studio's zone",
    "yes or no": "",
}


def lines(rows: list[Table]) -> Iterator[list[str]]:
    """A line for each field that is exported, in the order of the files."""
    for table in rows:
        for field in table.fields:
            yield _line(table.name, field)


def unit_of(table: str, field: AnyField) -> str:
    kind, named = kind_of(field), f"{table}.{field.name}"
    if named in _UNITS:
        return _UNITS[named]
    if kind not in ("number", "decimal"):
        return _FORMS.get(kind, "")
    return next((unit for end, unit in _ENDINGS if field.name.endswith(end)), "number")


def _line(table: str, field: AnyField) -> list[str]:
    return [
        table,
        field.attname,
        kind_of(field),
        unit_of(table, field),
        _meaning(f"{table}.{field.name}", field),
        "yes" if field.null or field.blank else "no",
        "; ".join(f"{value} = {word}" for value, word in field.flatchoices),
        f"{name_of(field.related_model)}.id" if field.is_relation and field.related_model else "",
    ]


def _meaning(named: str, field: AnyField) -> str:
    word = _MEANINGS.get(named, str(field.verbose_name))
    return f"{word}. {field.help_text}" if field.help_text else word
