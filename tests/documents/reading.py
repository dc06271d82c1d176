"""What a PDF says when it is read back: its text, its pages, and its tags."""

import io
import re
from collections.abc import Iterator
from typing import Any

from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

MM_PER_POINT = 25.4 / 72


def reader(data: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(data))


def text_of(data: bytes) -> str:
    """All pages, with every run of white space as one blank."""
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader(data).pages))


def pages_of(data: bytes) -> list[str]:
    return [re.sub(r"\s+", " ", page.extract_text()) for page in reader(data).pages]


def size_of(data: bytes) -> tuple[int, int]:
    """Whole millimeters of the first page."""
    box = reader(data).pages[0].mediabox
    return round(float(box.width) * MM_PER_POINT), round(float(box.height) * MM_PER_POINT)


def tags_of(data: bytes) -> list[tuple[str, DictionaryObject]]:
    """Every element of the structure tree in reading order, by the name of its kind."""
    return list(_walk(reader(data).trailer["/Root"]["/StructTreeRoot"]))  # type: ignore[index]


def _walk(node: Any) -> Iterator[tuple[str, DictionaryObject]]:
    node = node.get_object() if isinstance(node, IndirectObject) else node
    if isinstance(node, ArrayObject):
        for each in node:
            yield from _walk(each)
    elif isinstance(node, DictionaryObject):
        if "/S" in node:
            yield str(node["/S"]), node
        if "/K" in node:
            yield from _walk(node["/K"])


def check_tagged(data: bytes, title: str) -> None:
    """What PDF/UA-1 (ISO 14289-1) asks of structure and metadata, as far as a program can tell."""
    read = reader(data)
    root: Any = read.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert read.metadata is not None
    assert read.metadata.title == title
    assert b"pdfuaid" in root["/Metadata"].get_object().get_data()
    tags = tags_of(data)
    names = [name for name, _ in tags]
    assert "/H1" in names
    assert all("/Alt" in node for name, node in tags if name == "/Figure")
    if "/Table" in names:
        assert "/TH" in names
    for page in read.pages:
        for font in page["/Resources"].get("/Font", {}).values():  # type: ignore[attr-defined]
            inner = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(inner.get_object())
