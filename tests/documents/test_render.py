"""The core of all papers: size, fonts, tags, and that nothing is fetched but what is handed in."""

from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import override_settings

from jobs.documents import render
from jobs.documents.render import pdf
from jobs.models import Studio
from jobs.templatetags.papers import css_string
from tests.documents import tags

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "OPTIONS": {
            "builtins": ["jobs.templatetags.studio"],
            "loaders": [
                (
                    "django.template.loaders.locmem.Loader",
                    {
                        "one.html": "<html lang={{ language }}><title>{{ title }}</title><h1>One</h1>{{ more|safe }}"
                    },
                )
            ],
        },
    }
]


@pytest.fixture(autouse=True)
def one_page() -> Any:
    with override_settings(TEMPLATES=TEMPLATES):
        yield


def images(made: bytes) -> int:
    return sum(len(page.images) for page in tags.read(made).pages)


def make(more: str, **how: Any) -> bytes:
    return pdf("one.html", {"more": more}, studio=Studio(), title="One", **how)


PIXEL = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108000000003a7e9b550000000a4944415478da63600000000200015d0a2db4"
    "0000000049454e44ae426082"
)


def test_what_is_handed_in_is_shown() -> None:
    made = make('<img alt="a dot" src="handed:dot">', files={"dot": ("image/png", PIXEL)})
    assert images(made) == 1


def test_nothing_is_fetched_from_a_file(tmp_path: Any) -> None:
    picture = tmp_path / "dot.png"
    picture.write_bytes(PIXEL)
    made = make(f'<img alt="a dot" src="{picture.as_uri()}"><img alt="a dot" src="{picture}">')
    assert images(made) == 0
    sheet = tmp_path / "large.css"
    sheet.write_text("@page { size: 50mm 50mm }")
    linked = make(
        f'<link rel="stylesheet" href="{sheet.as_uri()}"><style>@import "{sheet.as_uri()}";</style>'
    )
    assert tags.sizes_mm(linked) != {(50.0, 50.0)}


def test_nothing_is_fetched_from_the_network(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def refuse(*args: Any, **named: Any) -> Any:
        asked.append(str(args))
        raise OSError

    monkeypatch.setattr("socket.create_connection", refuse)
    monkeypatch.setattr("socket.socket.connect", refuse)
    assert images(make('<img alt="a dot" src="http://127.0.0.1:9/dot.png">')) == 0
    assert asked == []


def test_the_fetcher_refuses_what_is_not_handed_in() -> None:
    fetcher = render._fetcher_class()({})
    for address in (
        "file:///etc/hostname",
        "http://studio.example/",
        "https://studio.example/",
        "handed:other",
    ):
        with pytest.raises(render.NotHandedIn):
            fetcher.fetch(address)


def test_words_in_a_style_sheet_end_nothing() -> None:
    assert css_string('"};<b>') == '"\\22 \\7d \\3b \\3c b\\3e "'


@override_settings()
def test_language_title_and_paper() -> None:
    for paper, size in (("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))):
        studio = Studio(paper=paper)
        assert render.page_size(studio) == size
        assert render.page_size(studio, landscape=True) == size[::-1]
    tags.assert_tagged(make("", language="de"), "One", "de")


def test_a_template_needs_no_request() -> None:
    assert "One" in render_to_string("one.html", {"title": "One"})
