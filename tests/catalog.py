"""The catalog of translations as the tests read it, and which files speak at a bench."""

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from django.utils.translation import get_language, trans_real

ROOT = Path(__file__).resolve().parent.parent
PO = ROOT / "jobs/locale/es/LC_MESSAGES/django.po"
BENCH_TEMPLATES = (
    "base.html",
    "bench.html",
    "bench_choose.html",
    "bench/",
    "parts/changed.html",
    "parts/hours_pair.html",
    "parts/language.html",
    "panel/photo_share.html",
    "parts/nav.html",
    "parts/scanner.html",
    "hours_entries.html",
    "pair.html",
    "photo.html",
    "sign_in.html",
    "sign_in_code.html",
    "sign_in_locked.html",
    "403.html",
    "404.html",
    "500.html",
)
BENCH_CODE = (
    "actions/base.py",
    "actions/bench.py",
    "actions/breakages.py",
    "actions/holds.py",
    "actions/hours.py",
    "actions/photos.py",
    "actions/pieces.py",
    "actions/pins.py",
    "actions/taps.py",
    "actions/timers.py",
    "actions/weeks.py",
    "estimating/hours.py",
    "forms/account.py",
    "forms/bench",
    "forms/fields.py",
    "forms/outbox.py",
    "forms/photos.py",
    "forms/tablets.py",
    "forms/hours.py",
    "models/kinds.py",
    "models/shipped.py",
    "templatetags/studio.py",
    "views/bench",
    "views/hours.py",
    "views/outbox.py",
    "views/photos.py",
    "views/piece_picture.py",
    "views/tablet.py",
)
PLACES = (*(f"templates/{name}" for name in BENCH_TEMPLATES), *(f"jobs/{name}" for name in BENCH_CODE))


@dataclass
class Entry:
    """One text of the catalog: where it stands, its English in one or two forms, and the translations."""

    where: list[str] = field(default_factory=list)
    fuzzy: bool = False
    context: str | None = None
    english: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    @property
    def at_a_bench(self) -> bool:
        return any(place.startswith(PLACES) for place in self.where)

    @property
    def key(self) -> str:
        return self.english[0] if self.context is None else f"{self.context}\x04{self.english[0]}"


def read_catalog(path: Path = PO) -> Iterator[Entry]:
    """The texts of a .po file, without its head."""
    for block in path.read_text().split("\n\n"):
        entry, last = Entry(), None
        for line in block.splitlines():
            if line.startswith("#:"):
                entry.where += line[2:].split()
            elif line.startswith("#,"):
                entry.fuzzy = "fuzzy" in line
            elif line.startswith("msgctxt"):
                entry.context = ast.literal_eval(line.removeprefix("msgctxt "))
            elif line.startswith(("msgid", "msgstr")):
                last = entry.english if line.startswith("msgid") else entry.said
                last.append(ast.literal_eval(line.split(" ", 1)[1]))
            elif line.startswith('"') and last:
                last[-1] += ast.literal_eval(line)
        if entry.english and entry.english[0]:
            yield entry


def untranslated(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """The texts that are looked up in Spanish from here on and come back as they were, filled while pages are drawn.

    Names of the studio's own are looked up too, among those that are shipped: they are not told.
    """
    missing: set[str] = set()

    def listening(look_up: Callable[..., str], text: int) -> Callable[..., str]:
        def listened(*values: Any) -> str:
            found = look_up(*values)
            own = "shipped" in (values[0], str(values[0]).partition("\x04")[0])
            if get_language() == "es" and not own and str(found) in map(str, values[text : text + 2]):
                missing.add(str(values[text]).rpartition("\x04")[2])
            return found

        return listened

    for name, text in (("gettext", 0), ("ngettext", 0), ("pgettext", 1), ("npgettext", 1)):
        monkeypatch.setattr(trans_real, name, listening(getattr(trans_real, name), text))
    return missing
