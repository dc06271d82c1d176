"""A bundle of papers is made once, by whoever gets to it, and lies where every machine finds it."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from jobs.documents.together import Bundle, Progress
from jobs.models import Account, Job, PaperBundle
from jobs.tasks import bundles, queue
from jobs.tasks.bundles import make_bundle
from jobs.views import all_papers
from tests import cast
from tests.at_once import in_threads
from tests.stores import elsewhere

ALL = reverse("paper-all", args=["0412"])


@pytest.fixture
def job(shop: None, monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> Job:
    """Three papers, which are many, and a web process that leaves them to others."""
    settings.MEDIA_ROOT = str(tmp_path)
    monkeypatch.setattr(all_papers, "AT_ONCE", 2)
    monkeypatch.setattr(queue, "start", lambda work: None)
    job = cast.make_job()
    cast.make_panel(job)
    return job


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a bundle looks like is no matter here."""

    def make(bundle: Bundle, progress: Progress, *, tell: Callable[[Progress], None], **_: Any) -> Any:
        done = Progress(len(bundle.papers), pages=5)
        tell(done)
        return b"%PDF made", done

    monkeypatch.setattr(bundles, "make", make)


def ask(job: Job, owner: Account) -> PaperBundle:
    return bundles.ask_for(
        job, owner, total=3, patterns=True, address="http://floor.studio.example", at=timezone.now()
    )


def files() -> list[str]:
    try:
        return default_storage.listdir("passing")[1]
    except FileNotFoundError:
        return []


def test_a_worker_makes_what_a_page_asked_for(job: Job, office_client: Client) -> None:
    run = office_client.get(ALL)["Location"]
    assert "0 of 3 papers are made." in office_client.get(run).content.decode()
    call_command("worker", "--once")
    page = office_client.get(run).content.decode()
    assert "All 3 papers are made" in page
    made = office_client.get(f"{run}&open=now")
    assert bytes(made.content).startswith(b"%PDF")
    task = DBTaskResult.objects.get(queue_name=queue.PAPERS)
    assert task.return_value == f"passing/{files()[0]}"


@pytest.mark.usefixtures("quick")
def test_another_machine_goes_on_where_one_ended(job: Job, office: Account) -> None:
    row = ask(job, office)
    queue.take("nobody that lives", queue.PAPERS)
    PaperBundle.objects.update(attempt=1, done=2)
    call_command("worker", "--once")
    row.refresh_from_db()
    assert (row.bound, row.done, row.attempt) == (True, 3, 2)
    assert len(files()) == 1


@pytest.mark.usefixtures("quick")
def test_who_was_taken_for_dead_keeps_nothing(
    job: Job, office: Account, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    row = ask(job, office)
    named = bundles._random_name
    made = []

    def another_is_quicker() -> str:
        monkeypatch.setattr(bundles, "_random_name", named)
        made.append(make_bundle.call(row.pk))
        return named()

    monkeypatch.setattr(bundles, "_random_name", another_is_quicker)
    assert make_bundle.call(row.pk) == ""
    row.refresh_from_db()
    assert [row.file.name] == made
    assert files() == [made[0].removeprefix("passing/")]
    assert "made by somebody else now" in caplog.text
    # It is there: nobody makes it again.
    assert make_bundle.call(row.pk) == ""


def test_one_that_ends_its_processes_is_called_stopped(job: Job, office: Account) -> None:
    row = ask(job, office)
    for _ in range(queue.MOST_ATTEMPTS):
        queue.take("nobody that lives", queue.PAPERS)
        queue.take_up_from_the_dead()
    assert bundles.stopped(row, timezone.now())
    assert ask(job, office).pk != row.pk


def test_what_cannot_be_bound_is_asked_for_anew(
    job: Job, office: Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any, **__: Any) -> Any:
        raise OSError("no space left")

    row = ask(job, office)
    with monkeypatch.context() as broken:
        broken.setattr(bundles, "make", full)
        with pytest.raises(OSError, match="no space left"):
            make_bundle.call(row.pk)
    row.refresh_from_db()
    assert (row.broken, files()) == (True, [])
    assert ask(job, office).pk != row.pk


def test_a_bundle_is_asked_for_once_by_taps_at_once(
    transactional_db: None, job: Job, office: Account
) -> None:
    rows = in_threads(*(lambda: ask(job, office) for _ in range(4)))
    assert len({row.pk for row in rows}) == 1
    assert DBTaskResult.objects.count() == 1


@pytest.mark.usefixtures("quick")
def test_files_without_a_row_are_swept(job: Job, office: Account, monkeypatch: pytest.MonkeyPatch) -> None:
    ask(job, office)
    call_command("worker", "--once")
    default_storage.save("passing/left.pdf", ContentFile(b"left"))
    now = timezone.now()
    assert bundles.sweep_passing_files(now) == 0
    assert bundles.sweep_passing_files(now + timedelta(hours=2)) == 1
    assert [f"passing/{name}" for name in files()] == [PaperBundle.objects.get().file.name]
    assert bundles.forget_old(now + timedelta(hours=2)) == 1
    assert files() == []


@pytest.mark.usefixtures("quick")
def test_it_lies_in_whatever_store_there_is(job: Job, office_client: Client, settings: Any) -> None:
    elsewhere(settings)
    assert bundles.sweep_passing_files(timezone.now()) == 0
    run = office_client.get(ALL)["Location"]
    call_command("worker", "--once")
    assert bytes(office_client.get(f"{run}&open=now").content).startswith(b"%PDF")
    assert len(files()) == 1
    assert bundles.forget_old(timezone.now() + timedelta(hours=2)) == 1
    assert files() == []


@pytest.mark.usefixtures("quick")
def test_where_a_file_is_lost_it_says_so(job: Job, office_client: Client) -> None:
    run = office_client.get(ALL)["Location"]
    call_command("worker", "--once")
    default_storage.delete(f"passing/{files()[0]}")
    answer = office_client.get(f"{run}&open=now")
    assert (answer.status_code, answer["Location"]) == (302, ALL)
