"""A percent sign stays on the line of its number."""

import re
from pathlib import Path

import pytest
from django.conf import settings

from jobs.estimating.shares import format_share
from jobs.templatetags.studio import percent


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (None, "–"),
        (0, "0\xa0%"),
        (0.004, "under 1\xa0%"),
        (0.8, "80\xa0%"),
        (0.996, "over 99\xa0%"),
        (1, "100\xa0%"),
    ],
)
def test_the_filter(share: float | None, words: str) -> None:
    assert percent(share) == words


def test_digits() -> None:
    assert format_share(0.0157, 2) == "1.57\xa0%"


def test_no_template_lets_it_break() -> None:
    templates = list((Path(settings.BASE_DIR) / "templates").rglob("*.html"))
    assert templates
    found = [path.name for path in templates if re.search(r"\d %(?!\})", path.read_text())]
    assert found == []
