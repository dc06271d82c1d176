"""Papers bound while they are made: pages, outline and tags are one, and what was laid out is let go."""

import gc
import weakref
from typing import Any

from jobs.documents.binding import Binding, _moved
from jobs.documents.render import lay_out
from jobs.models import Studio
from tests.documents import tags

PAGE = "documents/together.html"


def laid_out(studio: Studio, name: str, papers: int = 1) -> Any:
    job = {"number": "0412", "title": name, "customer": "Parish of the Two Rivers"}
    context = {"job": job, "day": None, "papers": [(f"{name} 12 0 R (\\", 3)] * papers, "pages": 3}
    return lay_out(PAGE, context, studio=studio, title=f"Title of {name}")


def test_the_front_comes_first_and_the_others_in_their_order(db: None) -> None:
    studio = Studio.current()
    binding = Binding()
    binding.add(laid_out(studio, "Heron", papers=80))
    binding.add(laid_out(studio, "Lily"))
    data = binding.bound(laid_out(studio, "Front"))
    read = tags.assert_tagged(data, "Title of Front")
    names = [f"Papers of 0412 {name}" for name in ("Front", "Heron", "Lily")]
    assert [entry.title for entry in tags.read(data).outline if not isinstance(entry, list)] == names
    pages = [page.extract_text() for page in tags.read(data).pages]
    assert len(pages) > 3
    places = [next(place for place, words in enumerate(pages) if name in words) for name in names]
    assert places == [0, 1, len(pages) - 1]
    assert len(read.children[0].all("H1")) == 3
    assert "Heron 12 0 R (\\" in tags.text(data)


def test_what_was_laid_out_is_let_go(db: None) -> None:
    studio = Studio.current()
    binding = Binding()
    seen = []
    for name in ("Heron", "Lily"):
        paper = laid_out(studio, name)
        seen.append(weakref.ref(paper.pages[0]))
        binding.add(paper)
        del paper
    gc.collect()
    assert [each() for each in seen] == [None, None]
    assert len(tags.read(binding.bound(laid_out(studio, "Front"))).pages) == 3


def test_only_references_are_numbered_anew() -> None:
    places = {3: 41, 12: 7}
    assert _moved(b"<</P 3 0 R/K [12 0 R 3 0 R]>>", places) == b"<</P 41 0 R/K [7 0 R 41 0 R]>>"
    said = rb"<</Alt (3 0 R \) 12 0 R \\)/P 12 0 R>>"
    assert _moved(said, places) == rb"<</Alt (3 0 R \) 12 0 R \\)/P 7 0 R>>"
    painted = b"<</Length 5/Font 3 0 R>>\nstream\n3 0 R\nendstream"
    assert _moved(painted, places) == b"<</Length 5/Font 41 0 R>>\nstream\n3 0 R\nendstream"
