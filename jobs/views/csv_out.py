"""Tables as CSV files that no spreadsheet takes for formulas."""

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django.http import HttpResponse
from django.utils import timezone

from jobs.exports.cells import guarded


def harmless(value: Any) -> Any:
    """A cell: text that looks like a formula gets an apostrophe before it; numbers stay numbers."""
    match value:
        case None:
            return ""
        case datetime():
            return timezone.localtime(value).date().isoformat()
        case date():
            return value.isoformat()
        case str():
            return guarded(value)
    return value


def hours(minutes: float) -> str:
    """Hours with two digits, to reckon with."""
    return f"{float(minutes) / 60:.2f}"


def csv_file(name: str, head: Sequence[str], rows: Iterable[Sequence[Any]]) -> HttpResponse:
    """The table as a download; UTF-8 with its mark, which spreadsheets ask for."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows([harmless(cell) for cell in row] for row in rows)
    response = HttpResponse("\ufeff" + out.getvalue(), content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return response
