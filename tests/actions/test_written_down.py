"""Every verb writes down what it does: each action that takes who and when reaches the one place that writes Events.

What a verb changes without one, tests/audit.py finds while the tests of the actions run.
"""

import ast
import inspect
from functools import cache
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import pytest

import jobs.actions
from jobs.actions import base

FOLDER = Path(base.__file__).parent
MODULES = [name for _, name, _ in iter_modules(jobs.actions.__path__)]

# Verbs that change nothing that anybody works by, and why there is no Event of them.
WITHOUT: dict[str, str] = {
    "customer_links.note_read": "the customer looked; the link's own row counts that",
}
# Words that say all there is to say: neither a password nor a PIN is written down.
SAYS_ALL = {"set password of", "set PIN of", "cleared PIN of"}
# Where jobs, panels, operations, hours, promises, rates and permissions are changed.
AUDITED = {
    "accounts", "bench", "breakages", "gates", "groups", "holds", "hours", "jobs", "operations", "panels", "people",
    "promises", "rates", "timers", "turns", "weeks",
}  # fmt: skip


def _functions() -> dict[str, ast.FunctionDef]:
    """Every function of the actions by its name; of two with one name both are looked at."""
    found: dict[str, ast.FunctionDef] = {}
    for name in MODULES:
        for node in ast.walk(ast.parse((FOLDER / f"{name}.py").read_text())):
            if isinstance(node, ast.FunctionDef):
                found[f"{name}.{node.name}"] = node
    return found


def _called(node: ast.AST) -> set[str]:
    """Names that a function calls or hands on."""
    return {
        each.id if isinstance(each, ast.Name) else each.attr
        for each in ast.walk(node)
        if isinstance(each, ast.Name | ast.Attribute)
    }


@cache
def _that_write() -> set[str]:
    functions = {name: _called(node) for name, node in _functions().items()}
    writing = {"base.record"}
    while True:
        words = {name.rsplit(".", 1)[1] for name in writing}
        more = {name for name, called in functions.items() if called & words} - writing
        if not more:
            return writing
        writing |= more


def verbs() -> list[str]:
    """What takes `by` and `at` by keyword, and is called from outside."""
    found = []
    for module in MODULES:
        for name, function in inspect.getmembers(import_module(f"jobs.actions.{module}"), inspect.isfunction):
            if function.__module__ != f"jobs.actions.{module}" or name.startswith("_"):
                continue
            given = inspect.signature(function).parameters
            if all(
                word in given and given[word].kind is inspect.Parameter.KEYWORD_ONLY for word in ("by", "at")
            ):
                found.append(f"{module}.{name}")
    return found


def test_there_are_verbs_and_none_is_excused_that_is_gone() -> None:
    assert len(verbs()) > 100
    assert set(WITHOUT) <= set(verbs())


@pytest.mark.parametrize("verb", [verb for verb in verbs() if verb not in WITHOUT])
def test_a_verb_writes_down_what_it_does(verb: str) -> None:
    assert verb in _that_write()


def test_each_event_says_what_stood_there_before_or_stands_there_now() -> None:
    bare = {
        word.value
        for name, node in _functions().items()
        if name.split(".")[0] in AUDITED
        for call in ast.walk(node)
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "record"
        if not {"before", "after"} & {keyword.arg for keyword in call.keywords}
        for word in ast.walk(call.args[0])
        if isinstance(word, ast.Constant) and isinstance(word.value, str)
    }
    assert bare == SAYS_ALL
