"""Labels as PDF, on the studio's sheet of labels: a panel and the bags of its pieces; the crates of a job."""

from collections.abc import Iterable

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from jobs.documents.labels import Label, labels
from jobs.documents.lists import ranges
from jobs.documents.pieces_shown import accepted_pattern, piece_rows
from jobs.estimating.glass import format_mass
from jobs.estimating.lengths import format_length, format_size
from jobs.models import Job, Panel, Studio
from jobs.models.loads import CrateLoad, loads_of
from jobs.views.access import anyone_signed_in, office_only
from jobs.views.loads import of_a_load
from jobs.views.middleware import StudioRequest
from jobs.views.panel import find_panel
from jobs.views.papers import paper, public


@require_safe
@anyone_signed_in
def paper_labels(request: StudioRequest, number: str, panel: int) -> HttpResponse:
    """A label for each copy of the panel and, where its pattern is accepted, one for the bag of each glass."""
    row = find_panel(number, panel)
    address = public(request)(reverse("scan-panel", args=[row.pk]))
    found = [*_copies(row, address, request.studio), *_bags(row, address, request.studio)]
    made = labels(found, studio=request.studio, title=f"Labels {row.code} {row.name}")
    return paper(made, "labels", row.code)


@require_safe
@office_only
@of_a_load
def paper_crates(request: StudioRequest, job: Job) -> HttpResponse:
    """A label for each crate of the job, as its delivery note packs them."""
    address = public(request)(job.get_absolute_url())
    made = labels(
        _crates(job, address, request.studio), studio=request.studio, title=f"Crate labels {job.number}"
    )
    return paper(made, "crate-labels", job.number)


def _copies(panel: Panel, address: str, studio: Studio) -> list[Label]:
    size = format_size(panel.width_mm, panel.height_mm, studio.units)
    words = [panel.name, size, panel.job.title, str(panel.job.customer)]
    return [
        Label(panel.code, [*words, f"copy {copy} of {panel.copies}"] if panel.copies > 1 else words, address)
        for copy in range(1, panel.copies + 1)
    ]


def _bags(panel: Panel, address: str, studio: Studio) -> list[Label]:
    shown = accepted_pattern(panel)
    if shown is None:
        return []
    numbers: dict[str, list[int]] = {}
    for piece in piece_rows(shown, studio, whole=True)["pieces"]:
        numbers.setdefault(piece["glass"], []).append(piece["number"])
    return [
        Label(panel.code, [panel.name, glass, f"{_pieces(len(found))}: {ranges(sorted(found))}"], address)
        for glass, found in numbers.items()
    ]


def _pieces(many: int) -> str:
    return "1 piece" if many == 1 else f"{many} pieces"


def _crates(job: Job, address: str, studio: Studio) -> Iterable[Label]:
    """Mass and people first: they are read by who lifts it."""
    load = loads_of(job)
    for row in load.crates:
        goes_to = " ".join(job.goes_to.split())
        words = [
            f"{format_mass(row.kg, studio.units)}, {row.people} people",
            "Glass: keep upright, on its edge",
            f"holds {_held(row)}",
            " × ".join(format_length(side, studio.units) for side in row.crate.size_mm),
            f"{job.title}, {job.customer}",
            goes_to,
        ]
        head = f"{job.number} crate {row.crate.number} of {len(load.crates)}"
        yield Label(head, [line for line in words if line], address, "the job")


def _held(row: CrateLoad) -> str:
    """The numbers of its panels, and of how many copies; the number of the job stands above."""
    return ", ".join(
        code.rpartition("/")[2] + (f" ({many} copies)" if many > 1 else "") for code, many in row.codes
    )
