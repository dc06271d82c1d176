"""What is said at a bench and to customers stands in the templates as texts to translate."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.catalog import BENCH_TEMPLATES, ROOT

# Pages of the office and papers are in English only, and their texts are not marked yet.
WRAPPED = (*BENCH_TEMPLATES, "customer/")
SAID_OF_A_PART = ("aria-label", "alt", "title", "placeholder")
WORD = re.compile("[A-Za-z]{2}")
NO_WORDS = {"PDF"}
# Comments, what is marked, and a block of the class of the page, which nobody reads.
UNSAID = (
    r"{#.*?#}",
    r"{% comment %}.*?{% endcomment %}",
    r"{% blocktranslate\b.*?{% endblocktranslate %}",
    r"{% block body_class %}.*?{% endblock %}",
    r"{%.*?%}",
    r"{{.*?}}",
)


class _Bare(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in ("script", "style")
        self.found += [value for name, value in attrs if name in SAID_OF_A_PART and value]

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.found.append(" ".join(data.split()))


def bare(template: str) -> list[str]:
    """The words of a template that are not marked for translation."""
    for unsaid in UNSAID:
        template = re.sub(unsaid, " ", template, flags=re.DOTALL)
    parser = _Bare()
    parser.feed(template)
    return [text for text in parser.found if WORD.search(text) and text not in NO_WORDS]


def wrapped() -> Iterator[Path]:
    for name in WRAPPED:
        path = ROOT / "templates" / name
        yield from sorted(path.glob("*.html")) if path.is_dir() else [path]


@pytest.mark.parametrize(
    ("template", "words"),
    [
        ("<p>Hello there</p>", ["Hello there"]),
        ('<p>{% translate "Hello there" %}</p>', []),
        ("<p>{% if a %}one of{% else %}{{ two }}{% endif %}</p>", ["one of"]),
        ('<img alt="A pane"><img alt="{{ pane }}">', ["A pane"]),
        ("{# Hello #}<p>{% blocktranslate %}Hello {{ name }}{% endblocktranslate %} {{ n }} ×</p>", []),
        ("{% block body_class %}at-bench{% endblock %}<script>say()</script>", []),
    ],
)
def test_words_that_are_not_marked_are_found(template: str, words: list[str]) -> None:
    assert bare(template) == words


@pytest.mark.parametrize("path", wrapped(), ids=lambda path: str(path.relative_to(ROOT / "templates")))
def test_every_text_can_be_translated(path: Path) -> None:
    assert bare(path.read_text()) == []
