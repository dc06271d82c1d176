"""The zip: a file for each table, the dictionary, and what was left out. It needs little memory whatever there is."""

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import IO, Any
from zoneinfo import ZoneInfo

from django.db import models

from jobs.models import Studio

from . import dictionary
from .cells import cell_of, guarded, written_at
from .moment import one_moment
from .tables import LEFT_OUT, PAY_KEYS, Table, tables

# Rows that are in memory at once; of those with drawings in them, each of which may be a megabyte, fewer.
CHUNK, FEW = 2000, 20

_READ_ME = """What {studio} has entered, as of {at}.

Each table is a file of its own: CSV as in RFC 4180 (commas, double quotes, CRLF), UTF-8 without a mark, the names of
the fields in the first line. tables.csv says what each table is and how many rows it has; dictionary.csv says of each
field its kind, unit, meaning, allowed values and which table it refers to; left_out.csv names what is not here.

All rows are of one moment. Times are ISO 8601 with their offset, in the zone {zone}; days are YYYY-MM-DD.
Money is in {currency}, lengths are millimeters, work is minutes. Nothing known is an empty cell.

A text that a spreadsheet would take for a formula (it begins with = + - @, a tab or a line's end) has an apostrophe
before it. A program that reads the files takes that one apostrophe off again where what follows it, leaving further
apostrophes and blanks aside, begins so.

Left out are passwords, PINs and the seeds and hashes of secret links and tokens; sessions, failed sign-ins and other
rows of the machinery; the secret end of addresses within mail that was sent; {pay}and the files
themselves (photos, papers that were sent): manage.py backup keeps those.
"""


@dataclass(frozen=True, slots=True)
class Written:
    """How many rows were written, by table."""

    rows: dict[str, int]

    @property
    def total(self) -> int:
        return sum(self.rows.values())


def write(target: IO[bytes], *, at: datetime, with_pay: bool) -> Written:
    """Write the zip into `target`, which need not be able to go back. Raises OSError where it takes no more."""
    with one_moment(), zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as into:
        studio, rows = Studio.current(), tables(with_pay=with_pay)
        _text(into, "README.txt", _read_me(studio, at, with_pay), at)
        _table(into, "dictionary.csv", dictionary.HEAD, dictionary.lines(rows), at)
        _table(into, "left_out.csv", ("table", "field", "why"), _left_out(rows), at)
        hidden = frozenset() if with_pay else PAY_KEYS
        counts = {row.name: _rows(into, row, studio.zone, hidden, at) for row in rows}
        told = ([row.name, row.file_name, str(counts[row.name]), _about(row.model)] for row in rows)
        _table(into, "tables.csv", ("table", "file", "rows", "meaning"), told, at)
    return Written(counts)


def _rows(into: zipfile.ZipFile, table: Table, zone: ZoneInfo, hidden: frozenset[str], at: datetime) -> int:
    count = 0
    names = [field.attname for field in table.fields]
    cells = [cell_of(field, zone, hidden) for field in table.fields]
    heavy = any(isinstance(field, models.JSONField) for field in table.fields) and table.name != "event"
    found = table.model._base_manager.order_by("pk").values_list(*names)
    with _member(into, table.file_name, at) as out:
        writer = csv.writer(out)
        writer.writerow(names)
        for row in found.iterator(chunk_size=FEW if heavy else CHUNK):
            writer.writerow([cell(value) for cell, value in zip(cells, row, strict=True)])
            count += 1
    return count


def _table(
    into: zipfile.ZipFile, name: str, head: Sequence[str], lines: Iterable[Sequence[str]], at: datetime
) -> None:
    with _member(into, name, at) as out:
        writer = csv.writer(out)
        writer.writerow(head)
        writer.writerows([guarded(cell) for cell in line] for line in lines)


def _text(into: zipfile.ZipFile, name: str, text: str, at: datetime) -> None:
    with _member(into, name, at) as out:
        out.write(text)


@contextmanager
def _member(into: zipfile.ZipFile, name: str, at: datetime) -> Iterator[io.TextIOWrapper]:
    told = zipfile.ZipInfo(name, at.timetuple()[:6])
    told.compress_type = zipfile.ZIP_DEFLATED
    told.external_attr = 0o600 << 16
    with into.open(told, "w", force_zip64=True) as raw, io.TextIOWrapper(raw, "utf-8", newline="") as out:
        yield out


def _left_out(rows: list[Table]) -> Iterator[list[str]]:
    for name, why in LEFT_OUT.items():
        yield [name, "", why]
    for row in rows:
        for field, why in row.left_out.items():
            yield [row.name, field, why]


def _read_me(studio: Studio, at: datetime, with_pay: bool) -> str:
    return _READ_ME.format(
        studio=studio.name,
        at=written_at(at, studio.zone),
        zone=studio.time_zone,
        currency=studio.currency,
        pay="" if with_pay else "what people are paid; ",
    )


def _about(model: type[models.Model]) -> str:
    """The docstring of a model in one line; of what has none, what it is called."""
    told: Any = model.__doc__ or ""
    own = not told.startswith(f"{model.__name__}(")  # Django gives those without one a list of their fields.
    return " ".join(told.split()) if told and own else str(model._meta.verbose_name)
