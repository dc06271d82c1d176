"""What a reader hears of a PDF: its words in the order of the tag tree, which need not be the order of painting."""

from collections.abc import Iterator
from ctypes import c_ushort
from typing import Any

import pypdfium2
from pypdfium2 import raw

from tests.documents.tags import read


def aloud(made: bytes) -> str:
    """The words of all elements below the root of the tree, with single spaces."""
    painted = _painted(made)
    reader = read(made)
    root: Any = reader.trailer["/Root"]
    numbers = {page.indirect_reference.idnum: n for n, page in enumerate(reader.pages)}  # type: ignore[union-attr]
    said = [painted.get(mark, "") for mark in _marks(root["/StructTreeRoot"], numbers, 0)]
    return " ".join(" ".join(said).split())


def _marks(node: Any, numbers: dict[int, int], page: int) -> Iterator[tuple[int, int]]:
    """(page, marked content) below a node, in the order in which it is read."""
    node = node.get_object()
    if isinstance(node, int):
        yield page, int(node)
        return
    if "/Pg" in node:
        page = numbers[node.raw_get("/Pg").idnum]
    kids = node.get("/K", [])
    kids = kids.get_object()
    for kid in kids if isinstance(kids, list) else [kids]:
        yield from _marks(kid, numbers, page)


def _painted(made: bytes) -> dict[tuple[int, int], str]:
    """The text of each piece of marked content."""
    found: dict[tuple[int, int], str] = {}
    document = pypdfium2.PdfDocument(made)
    for number, page in enumerate(document):
        words = page.get_textpage()
        for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], max_depth=1):
            mark = raw.FPDFPageObj_GetMarkedContentID(item.raw)
            size = raw.FPDFTextObj_GetText(item.raw, words.raw, None, 0)
            held = (c_ushort * (size // 2))()
            raw.FPDFTextObj_GetText(item.raw, words.raw, held, size)
            text = bytes(held).decode("utf-16-le").rstrip("\0")
            found[number, mark] = found.get((number, mark), "") + text
    document.close()
    return found
