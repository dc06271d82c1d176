"""The table of DEVELOPERS.md that is held against the security standard names tests that there are."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HEAD = "## Held against OWASP ASVS 5.0.0, level 2"


def rows() -> list[list[str]]:
    text = (ROOT / "DEVELOPERS.md").read_text().split(HEAD)[1]
    lines = [line for line in text.splitlines() if line.startswith("| V")]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines]


def test_each_chapter_is_spoken_of() -> None:
    chapters: set[int] = set()
    for section, *_ in rows():
        chapters |= {int(number) for number in re.findall(r"V(\d+)", section)}
    assert chapters == set(range(1, 18))
    assert all(len(row) == 3 and row[2] for row in rows())


def test_each_test_that_is_named_is_there() -> None:
    named = {named for row in rows() for named in re.findall(r"tests/[\w/]+\.py::\w+", row[2])}
    assert len(named) > 40
    for one in sorted(named):
        path, name = one.split("::")
        tree = ast.parse((ROOT / path).read_text())
        assert name in {part.name for part in ast.walk(tree) if isinstance(part, ast.FunctionDef)}, one
