"""All papers of a job in one PDF: what is in it and what is not, how far it is, and what becomes of one that fails."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from jobs.actions import Actor
from jobs.actions.patterns import accept_pattern
from jobs.documents import job_papers
from jobs.documents.binding import Binding
from jobs.models import Account, Job, Panel, PaperBundle, Stage, Studio
from jobs.models.bundles import KEPT_FOR
from jobs.tasks import bundles, queue
from jobs.views import all_papers
from tests import cast
from tests.documents import tags
from tests.documents.aloud import aloud

ALL = reverse("paper-all", args=["0412"])


@pytest.fixture
def panels(office: Account) -> list[Panel]:
    """Two lights, of which the first is drawn."""
    job = cast.make_job()
    found = [cast.make_panel(job, number) for number in (1, 2)]
    pattern = cast.make_pattern(found[0], office)
    accept_pattern(pattern, anyway=True, by=Actor(account=office), at=cast.at(2))
    return found


@pytest.fixture
def many(monkeypatch: pytest.MonkeyPatch) -> list[Callable[[], None]]:
    """Six papers are many; what is done beside a request waits here until a test does it. No worker lives."""
    waiting: list[Callable[[], None]] = []
    monkeypatch.setattr(all_papers, "AT_ONCE", 3)
    monkeypatch.setattr(queue, "start", waiting.append)
    return waiting


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = str(tmp_path)
    return tmp_path / "passing"


def made(client: Client, address: str) -> bytes:
    answer = client.get(address)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return bytes(answer.content)


def begun(client: Client) -> str:
    answer = client.get(ALL)
    assert answer.status_code == 302
    assert answer["Location"].startswith(f"{ALL}?run=")
    return str(answer["Location"])


NAMES = [
    "Traveler 0412/1 Light 1",
    "Cut list 0412/1 Light 1",
    "Full-size pattern 0412/1 Light 1",
    "For approval: 0412/1 Light 1",
    "Traveler 0412/2 Light 2",
    "Delivery note 0412",
    "Installation 0412",
]


def test_what_is_in_it_and_what_is_not(panels: list[Panel], office_client: Client) -> None:
    data = made(office_client, ALL)
    tags.assert_tagged(data, "Papers of 0412")
    outline = [entry.title for entry in tags.read(data).outline if not isinstance(entry, list)]
    assert outline == ["Papers of 0412 Hall window", *NAMES]
    words = tags.text(data)
    assert "7 papers on" in words
    assert "Cut list and full-size pattern 0412/2 Light 2: it has no accepted pattern yet." in words
    assert "Approval sheet 0412/2 Light 2: it is not drawn yet." in words
    for address in (
        reverse("letter", args=["0412", "delivery"]),
        reverse("paper-traveler", args=["0412", 2]),
        reverse("paper-cut-list", args=["0412", 1]),
        reverse("paper-pattern", args=["0412", 1]),
    ):
        assert tags.text(made(office_client, address)) in words
    assert ALL in office_client.get("/jobs/0412/").content.decode()


def test_its_papers_are_counted_while_they_are_made(
    panels: list[Panel],
    office_client: Client,
    many: list[Callable[[], None]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    run = begun(office_client)
    seen: list[str] = []
    tell = bundles._tell

    def told(row: PaperBundle, **now: object) -> None:
        tell(row, **now)
        seen.append(office_client.get(run).content.decode())

    assert "0 of 7 papers are made." in office_client.get(run).content.decode()
    monkeypatch.setattr(bundles, "_tell", told)
    many.pop()()
    assert "4 of 7 papers are made." in seen[4]
    assert '<progress class="wide" value="4" max="7"' in seen[4]
    # Without scripts the page asks again by itself.
    assert '<noscript><meta http-equiv="refresh" content="1"></noscript>' in seen[4]
    assert "pages are being bound" in seen[7]
    part = office_client.get(run, headers={"HX-Request": "true"}).content.decode()
    assert part.lstrip().startswith("<section")
    assert "All 7 papers are made" in part
    done = office_client.get(run).content.decode()
    opened = f"{run}&amp;open=now"
    assert f'<noscript><meta http-equiv="refresh" content="0; url={opened}"></noscript>' in done
    swapped = office_client.get(f"{run}&open=now", headers={"HX-Request": "true"})
    assert swapped["HX-Redirect"] == f"{run}&open=now"
    data = made(office_client, f"{run}&open=now")
    assert len([e for e in tags.read(data).outline if not isinstance(e, list)]) == 8
    assert made(office_client, f"{run}&open=now") == data


def test_asking_once_more_begins_nothing_anew(
    panels: list[Panel], office_client: Client, lead_client: Client, many: list[Callable[[], None]]
) -> None:
    assert begun(office_client) == begun(office_client)
    assert begun(lead_client) != begun(office_client)
    assert len(many) == PaperBundle.objects.count() == 2


def test_one_that_stopped_says_so(
    panels: list[Panel],
    office_client: Client,
    many: list[Callable[[], None]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def broken(*_: Any, **__: Any) -> Any:
        raise MemoryError

    run = begun(office_client)
    monkeypatch.setattr(Binding, "bound", broken)
    many.pop()()
    page = office_client.get(run).content.decode()
    assert "They were not made to the end" in page
    assert "7 of 7 papers were made when it stopped." in page
    assert "http-equiv" not in page
    assert begun(office_client) != run


def test_one_whose_process_hangs_is_called_stopped(
    panels: list[Panel], office_client: Client, many: list[Callable[[], None]]
) -> None:
    run = begun(office_client)
    row = PaperBundle.objects.get()
    later = row.told_at + bundles.SILENT + timedelta(seconds=1)
    # While it waits for its turn it has nothing to say.
    assert not bundles.stopped(row, later)
    row.attempt = 1
    assert not bundles.stopped(row, row.told_at + bundles.SILENT)
    assert bundles.stopped(row, later)
    assert run.endswith(row.key)


def test_only_the_studio_reads_what_passes(
    panels: list[Panel], office_client: Client, many: list[Callable[[], None]], folder: Path
) -> None:
    begun(office_client)
    many.pop()()
    assert [path.stat().st_mode & 0o777 for path in folder.iterdir()] == [0o600]
    assert folder.stat().st_mode & 0o777 == 0o700


def test_one_that_fails_is_named_and_the_others_are_there(
    panels: list[Panel], office_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: Any, **__: Any) -> Any:
        raise ValueError("a drawing that nobody can lay out")

    monkeypatch.setattr(job_papers, "cut_list_pages", broken)
    run = begun(office_client)
    page = office_client.get(run).content.decode()
    assert "Not all of them could be made" in page
    assert "Cut list 0412/1 Light 1" in page
    # Nobody is taken past it.
    assert "http-equiv" not in page
    assert "hx-get" not in page.partition('id="making"')[2].partition(">")[0]
    words = aloud(made(office_client, f"{run}&open=now"))
    assert "Could not be made • Cut list 0412/1 Light 1" in words
    assert "6 papers on" in words
    assert "Traveler 0412/2 Light 2" in words


def test_without_the_full_size_patterns(
    panels: list[Panel], office_client: Client, many: list[Callable[[], None]]
) -> None:
    run = begun(office_client)
    assert f'href="{ALL}?patterns=no"' in office_client.get(run).content.decode()
    answer = office_client.get(f"{ALL}?patterns=no", follow=True)
    html = answer.content.decode()
    assert "0 of 6 papers are made" in html
    assert "Rather without" not in html
    run = answer.redirect_chain[-1][0]
    many.pop()()
    data = made(office_client, f"{run}&open=now")
    outline = [entry.title for entry in tags.read(data).outline if not isinstance(entry, list)]
    assert not [title for title in outline if title.startswith("Full-size")]
    assert "left out as asked" in tags.text(data)


def test_nobody_elses_and_none_that_is_forgotten(
    panels: list[Panel],
    office_client: Client,
    lead_client: Client,
    many: list[Callable[[], None]],
    folder: Path,
) -> None:
    run = begun(office_client)
    assert lead_client.get(run)["Location"] == ALL
    assert office_client.get(f"{ALL}?run=nothing")["Location"] == ALL
    cast.make_panel(cast.make_job("0777"))
    other = run.replace("0412", "0777")
    assert office_client.get(other)["Location"] == reverse("paper-all", args=["0777"])
    many.pop()()
    for row in PaperBundle.objects.all():
        PaperBundle.objects.filter(pk=row.pk).update(told_at=row.told_at - KEPT_FOR - timedelta(seconds=5))
    assert office_client.get(run)["Location"] == ALL
    assert list(folder.iterdir()) == []


def test_a_pattern_of_too_many_sheets_is_left_out(panels: list[Panel], office_client: Client) -> None:
    Panel.objects.filter(pk=panels[0].pk).update(width_mm=6000, height_mm=4000)
    words = tags.text(made(office_client, ALL))
    assert "have it plotted in one piece instead" in words
    assert "6 papers on" in words


def test_either_paper_and_only_read(panels: list[Panel], office_client: Client) -> None:
    Studio.objects.update(paper="letter")
    assert tags.sizes_mm(made(office_client, ALL)) == {(215.9, 279.4)}
    assert office_client.post(ALL).status_code == 405


def test_a_job_without_panels_or_cancelled_has_no_papers(
    office_client: Client, tablet_client: Client
) -> None:
    job = cast.make_job()
    assert "has no panel yet" in office_client.get(ALL, follow=True).content.decode()
    cast.make_panel(job)
    Job.objects.update(stage=Stage.CANCELLED, closed_at=cast.at(3))
    assert "nothing of it is delivered" in office_client.get(ALL, follow=True).content.decode()
    assert tablet_client.get(ALL).status_code == 403


def test_what_is_done_beside_a_request_is_done() -> None:
    done = Event()
    queue.start(done.set)
    assert done.wait(10)
