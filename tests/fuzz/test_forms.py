"""Every form with whatever may be typed or sent into it: it is valid or says what is wrong, and can be shown again."""

import importlib
import inspect
import pkgutil
from random import Random
from typing import Any

import pytest
from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

import jobs.forms
import jobs.views
from jobs.models import Job, Operation, Role, Station, Studio
from tests import cast
from tests.fuzz.cases import cases, noise, sent
from tests.photos import photo_bytes


def every_form() -> list[type[forms.BaseForm]]:
    found = []
    for package in (jobs.forms, jobs.views):
        for module in pkgutil.iter_modules(package.__path__):
            read = importlib.import_module(f"{package.__name__}.{module.name}")
            found += [
                one
                for one in vars(read).values()
                if inspect.isclass(one)
                and issubclass(one, forms.BaseForm)
                and one.__module__ == read.__name__
            ]
    return found


FORMS = every_form()


def needed(form: type[forms.BaseForm]) -> list[str]:
    """The arguments without which it cannot be made."""
    given = inspect.signature(form).parameters.values()
    return [
        one.name
        for one in given
        if one.default is one.empty and one.kind not in (one.VAR_KEYWORD, one.VAR_POSITIONAL)
    ]


@pytest.fixture
def given(shop: None) -> dict[str, Any]:
    """What forms are made with."""
    office = cast.make_account("office", Role.OFFICE)
    panel = cast.make_panel(cast.make_job())
    pattern = cast.make_accepted(panel, office)
    return {
        "at": cast.at(2),
        "studio": Studio.current(),
        "operation": cast.operation_of(panel, "Beveling"),
        "panel": panel,
        "pattern": pattern,
        "operations": Operation.objects.all(),
        "choosable": Operation.objects.all(),
        "source": panel.job,
        "jobs": Job.objects.all(),
        "stations": list(Station.objects.all()),
        "taken": set(),
        "conditions": {},
        "start": None,
        "today": cast.at(2).date(),
    }


# Made by their pages out of what those have reckoned; test_posts.py meets them there.
BY_THEIR_PAGES = {
    "AnswersForm",
    "HolidaysForm",
    "HoursForm",
    "MoveForm",
    "NeedForm",
    "OutsideForm",
    "PanelFilter",
    "PanelForm",
    "PasswordForm",
    "QuoteSettingsForm",
    "RateForm",
    "StudioForm",
    "TakeoffForm",
    "DateForm",
}
PLAIN = [form for form in FORMS if form.__name__ not in BY_THEIR_PAGES]


def test_every_form_is_met() -> None:
    assert len(FORMS) > 80
    assert {form.__name__ for form in FORMS} >= BY_THEIR_PAGES


def make(
    kind: type[forms.BaseForm], given: dict[str, Any], data: Any = None, files: Any = None
) -> forms.BaseForm:
    values = {name: given[name] for name in needed(kind) if name != "data"}
    takes_files = any(isinstance(field, forms.FileField) for field in kind(**values).fields.values())
    return kind(data=data, files=files, **values) if takes_files else kind(data=data, **values)


def a_file(random: Random) -> SimpleUploadedFile:
    content = random.choice([noise(random), b"", photo_bytes()[:400], b"<svg/>", cast.LATTICE.encode()])
    return SimpleUploadedFile(
        sent(random)[:80] or "a", content, random.choice(["image/jpeg", "text/html", "", "x"])
    )


def fill(random: Random, form: forms.BaseForm) -> tuple[QueryDict, MultiValueDict[str, Any]]:
    data, files = QueryDict(mutable=True), MultiValueDict[str, Any]()
    for name, field in form.fields.items():
        if random.random() < 0.1:
            continue
        key = form.add_prefix(name)
        known = [str(value) for value, _ in getattr(field, "choices", [])][:20]
        for _ in range(random.choice((1, 1, 1, 2))):
            chosen = random.choice(known) if known and random.random() < 0.5 else sent(random)
            data.appendlist(random.choice([key, key, f"{key}_0"]), chosen)
        if isinstance(field, forms.FileField):
            files[key] = a_file(random)
    return data, files


@cases(3, share=500)
def test_every_form(random: Random, given: dict[str, Any]) -> None:
    for kind in PLAIN:
        if set(needed(kind)) - given.keys():
            continue  # Its page makes it, out of what that has reckoned.
        data, files = fill(random, make(kind, given))
        form = make(kind, given, data, files)
        valid = form.is_valid()
        assert valid == (not form.errors), (kind, data)
        # What was typed is shown again beside what is wrong with it.
        shown = str(form) + str(form.errors)
        assert "<script>alert(1)" not in shown, (kind, data)
