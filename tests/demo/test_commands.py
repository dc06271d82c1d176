"""`load_demo` and `demo_accounts`, and that the demo's floor shares nothing with the planner."""

import ast
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.management import CommandError, call_command
from django.test import Client

import jobs.management.demo as demo
from jobs.management.demo.load import PASSWORD
from jobs.models import Account, Job, Role, Station
from tests import cast


def run(command: str, *args: str) -> str:
    out = StringIO()
    call_command(command, *args, stdout=out)
    return out.getvalue()


@pytest.mark.django_db
def test_it_loads_once_and_keeps_what_is_there() -> None:
    said = run("load_demo", "--today", "2026-03-04", "--years", "1", "--if-empty")
    assert "30 of them open" in said
    job = Job.objects.open().first()
    assert job is not None
    job.title = "Renamed by hand"
    job.save()
    count = Job.objects.count()
    assert "all is kept" in run("load_demo", "--today", "2026-03-05", "--years", "1", "--if-empty")
    assert Job.objects.count() == count
    assert Job.objects.filter(title="Renamed by hand").exists()
    with pytest.raises(CommandError, match="an empty one"):
        run("load_demo", "--today", "2026-03-04")


def test_it_leaves_a_studio_with_jobs_alone(shop: None) -> None:
    cast.make_job()
    with pytest.raises(CommandError, match="an empty one"):
        run("load_demo")
    assert "not loaded" in run("load_demo", "--if-empty")
    assert Job.objects.count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize("args", [("--years", "0"), ("--open-jobs", "3"), ("--today", "soon")])
def test_what_cannot_be_meant_is_refused(args: tuple[str, str]) -> None:
    with pytest.raises(CommandError):
        run("load_demo", *args)
    assert not Job.objects.exists()


@pytest.mark.django_db
def test_more_open_jobs_and_dense_history() -> None:
    run("load_demo", "--today", "2026-03-04", "--years", "1", "--dense", "--open-jobs", "60")
    assert Job.objects.open().count() == 60


@pytest.mark.django_db
def test_accounts_are_told_only_in_the_demo(settings: Any) -> None:
    settings.DEMO = True
    with pytest.raises(CommandError, match="not loaded"):
        run("demo_accounts")
    run("load_demo", "--today", "2026-03-04", "--years", "1")
    said = run("demo_accounts", "--address", "http://127.0.0.1:8123")
    assert "http://127.0.0.1:8123/dates/" in said
    assert PASSWORD in said
    late = Job.objects.get(title="Chancel windows")
    assert f"http://127.0.0.1:8123/jobs/{late.number}/  Chancel windows is late" in said
    for name in ("lead", "office", "beveling-bench"):
        assert f" {name} " in said
        assert Client().login(username=name, password=PASSWORD)
        validate_password(PASSWORD, Account.objects.get(username=name))
    assert Account.objects.filter(role=Role.BENCH).count() == Station.objects.count()
    settings.DEMO = False
    with pytest.raises(CommandError, match="DEMO=on"):
        run("demo_accounts")


def test_the_demo_takes_nothing_from_the_planner() -> None:
    files = sorted(Path(demo.__path__[0]).glob("*.py"))
    assert len(files) > 8
    for file in files:
        for node in ast.walk(ast.parse(file.read_text())):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""] + [f"{node.module}.{alias.name}" for alias in node.names]
            assert not any(
                name.startswith(("jobs.planning", "jobs.snapshot", "jobs.actions")) for name in names
            ), file
