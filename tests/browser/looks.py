"""How a page is looked at in every browser test: what axe finds, what runs off the screen, what is too small to hit.

    assert faults(page) == []

looks at the page that is open at 390, 768 and 1280 px, light and dark, without loading it again: so a test makes its
rows once and opens each page once. `assert faults_here(page) == []` looks only as the page stands.
"""

from collections.abc import Iterator
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT

WIDTHS = {390: 844, 768: 1024, 1280: 900}  # Of a phone, a tablet and a desk, with their heights.
# WCAG 2.2, 2.5.8 asks for 24 px. The studio's own rule is 44, and 56 at the bench; a box to tick has its label as well.
LEAST, LEAST_AT_THE_BENCH, LEAST_BOX = 44, 56, 24
# Links within a sentence are as high as its text, so they are not among these.
TARGETS = "main :is(button, .button, select, summary, textarea, input:not([type=hidden]))"
# What axe's rules see of color; all else of a page is the same in the dark.
OF_COLOR = ("color-contrast", "link-in-text-block")
EVERY_TARGET = ":is(a, button, select, summary, textarea, input:not([type=hidden])):not(.skip)"

_SMALL = """([targets, least, box, wide]) => [...document.querySelectorAll(targets)]
    .filter(one => one.checkVisibility({visibilityProperty: true}))
    .map(one => [one, one.getBoundingClientRect(), ["checkbox", "radio"].includes(one.type) ? box : least])
    .filter(([, is, asked]) => is.height && (is.height < asked - .5 || wide && is.width < asked - .5))
    .map(([one, is]) => `${one.outerHTML.slice(0, 90)}: ${Math.round(is.width)} x ${Math.round(is.height)}`)"""
_AXE = """(options) => axe.run(document, options).then(({violations}) => violations.map(each =>
    each.id + ": " + each.nodes.map(node => node.html.slice(0, 120) + " " + node.failureSummary).join("; ")))"""


def faults(
    page: Any, *, least: int = LEAST, targets: str = TARGETS, widths: tuple[int, ...] = tuple(WIDTHS)
) -> list[str]:
    """What is wrong with the page at these widths, light and dark: a sentence each, none if nothing is.

    In the dark only axe's rules about color are asked again. The page is left at the last width, light.
    """
    found = []
    for width in widths:
        page.set_viewport_size({"width": width, "height": WIDTHS[width]})
        page.emulate_media(color_scheme="dark")
        found += [f"{_where(page, width)}, dark: {said}" for said in axe(page, only=OF_COLOR)]
        page.emulate_media(color_scheme="light")
        found += faults_here(page, least=least, targets=targets)
    return found


def faults_here(page: Any, *, least: int = LEAST, targets: str = TARGETS) -> list[str]:
    """What is wrong with the page as it stands."""
    width = page.viewport_size["width"]
    return [f"{_where(page, width)}: {said}" for said in _faults(page, width, least, targets)]


def axe(page: Any, only: tuple[str, ...] = ()) -> list[str]:
    """What axe finds: the rule, the element, and what it says. `only`: these rules."""
    if page.evaluate("typeof axe === 'undefined'"):
        page.evaluate(AXE_SCRIPT)
    options: dict[str, Any] = {"resultTypes": ["violations"]}
    return page.evaluate(
        _AXE, options | ({"runOnly": {"type": "rule", "values": list(only)}} if only else {})
    )


def open_all(page: Any) -> None:
    """Open everything that is folded, so that it is looked at as well."""
    page.evaluate("document.querySelectorAll('main details').forEach(each => { each.open = true })")


def small_targets(page: Any, least: int = LEAST, targets: str = TARGETS) -> list[str]:
    """What is tapped and is smaller than that: its height, and at the bench, where hands are wet, its width too."""
    at_the_bench = least >= LEAST_AT_THE_BENCH
    box = least if at_the_bench else LEAST_BOX
    return page.evaluate(_SMALL, [targets, least, box, at_the_bench])


def _faults(page: Any, width: int, least: int, targets: str) -> Iterator[str]:
    yield from axe(page)
    wide = page.evaluate("document.documentElement.scrollWidth")
    if wide > width:
        yield f"{wide} px wide"
    yield from small_targets(page, least, targets)


def _where(page: Any, width: int) -> str:
    return f"{page.url} at {width} px"
