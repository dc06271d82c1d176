"""The exported zip, read back by the csv module alone, as another program would."""

import csv
import io
import sys
import zipfile
from typing import Any

from jobs.exports import write
from tests.cast import at

csv.field_size_limit(sys.maxsize)


def exported(*, with_pay: bool = True) -> zipfile.ZipFile:
    into = io.BytesIO()
    write(into, at=at(3, "10:15"), with_pay=with_pay)
    return zipfile.ZipFile(into)


def read(zipped: zipfile.ZipFile, name: str) -> list[dict[str, Any]]:
    with zipped.open(f"{name}.csv") as raw, io.TextIOWrapper(raw, "utf-8", newline="") as text:
        return list(csv.DictReader(text, strict=True))
