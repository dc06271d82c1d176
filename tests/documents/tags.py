"""What a PDF/UA-1 paper has to be, as far as its own bytes tell: language, title, marked content, and its tag tree."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from itertools import pairwise
from typing import Any

from pypdf import PdfReader
from pypdf.generic import ArrayObject, ContentStream, DictionaryObject, IndirectObject

PAINTS = {b"Tj", b"TJ", b"'", b'"', b"S", b"s", b"f", b"F", b"f*", b"B", b"B*", b"b", b"b*", b"Do", b"sh"}
POINT = 25.4 / 72


@dataclass
class Tag:
    kind: str
    alt: str
    scope: str = ""
    children: list["Tag"] = field(default_factory=list)

    def walk(self) -> Iterator["Tag"]:
        yield self
        for child in self.children:
            yield from child.walk()

    def all(self, *kinds: str) -> list["Tag"]:
        return [tag for tag in self.walk() if tag.kind in kinds]


def read(made: bytes) -> PdfReader:
    return PdfReader(BytesIO(made))


def text(made: bytes) -> str:
    """All words of the paper, with single spaces."""
    return " ".join(" ".join(page.extract_text() for page in read(made).pages).split())


def sizes_mm(made: bytes) -> set[tuple[float, float]]:
    """Width and height of its pages, in millimeters."""
    return {
        (round(float(p.mediabox.width) * POINT, 1), round(float(p.mediabox.height) * POINT, 1))
        for p in read(made).pages
    }


def tree(made: bytes) -> Tag:
    root: Any = read(made).trailer["/Root"]
    return _tag(root["/StructTreeRoot"])


def _tag(node: Any) -> Tag:
    node = node.get_object()
    scope = str(node.get("/A", {}).get_object().get("/Scope", "")) if "/A" in node else ""
    tag = Tag(str(node.get("/S", "/Root")).removeprefix("/"), str(node.get("/Alt", "")), scope)
    kids = node.get("/K", [])
    kids = kids.get_object() if isinstance(kids, IndirectObject) else kids
    for kid in kids if isinstance(kids, ArrayObject) else [kids]:
        found = kid.get_object() if isinstance(kid, IndirectObject) else kid
        if isinstance(found, DictionaryObject) and "/S" in found:
            tag.children.append(_tag(found))
    return tag


def assert_tagged(made: bytes, title: str, language: str = "en") -> Tag:
    """The rules of PDF/UA-1 (ISO 14289-1:2014) that can be told from the bytes; gives the tree of tags."""
    root: Any = read(made).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] is True or str(root["/MarkInfo"]["/Marked"]) in ("True", "true")
    assert root["/Lang"] == language
    assert str(root["/ViewerPreferences"]["/DisplayDocTitle"]).lower() == "true"
    assert b"pdfuaid" in root["/Metadata"].get_data()
    information = read(made).metadata
    assert information is not None
    assert information.title == title
    tags = tree(made)
    _assert_headings(tags)
    for figure in tags.all("Figure"):
        assert figure.alt, "A figure has no words."
    for table in tags.all("Table"):
        assert table.all("TH"), "A table has no headings."
    for heading in tags.all("TH"):
        assert heading.scope in ("/Column", "/Row"), "A heading of a table does not say what it heads."
    assert_headings_found(made)
    assert_fonts_embedded(made)
    assert_all_marked(made)
    assert_edges_are_not_read(made)
    return tags


def _assert_headings(tags: Tag) -> None:
    levels = [int(tag.kind[1]) for tag in tags.all("H1", "H2", "H3", "H4")]
    assert levels, "It has no heading."
    assert levels[0] == 1, f"It begins with a heading of level {levels[0]}."
    for before, after in pairwise(levels):
        assert after <= before + 1, f"After a heading of level {before} comes one of level {after}."


def assert_fonts_embedded(made: bytes) -> None:
    found = 0
    for page in read(made).pages:
        fonts: Any = page["/Resources"].get("/Font", {})  # type: ignore[union-attr]
        for font in fonts.values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            assert "/FontFile2" in inner or "/FontFile3" in inner, inner
            found += 1
    assert found


def assert_all_marked(made: bytes) -> None:
    """Whatever a page paints stands in marked content: a part of the tree, or an artifact."""
    reader = read(made)
    for page in reader.pages:
        depth = 0
        for _, operator in ContentStream(page.get_contents(), reader).operations:
            if operator in (b"BDC", b"BMC"):
                depth += 1
            elif operator == b"EMC":
                depth -= 1
            elif operator in PAINTS:
                assert depth > 0, f"{operator!r} is painted outside of marked content."


def assert_headings_found(made: bytes) -> None:
    """Each heading that a cell names is found by its name (ISO 32000-1, 14.7.2 and 14.8.5.7)."""
    root: Any = read(made).trailer["/Root"]
    names: set[str] = set()
    if "/IDTree" in root["/StructTreeRoot"]:
        for leaf in root["/StructTreeRoot"]["/IDTree"]["/Kids"]:
            names |= {str(name) for name in leaf.get_object()["/Names"][::2]}
    asked = {str(name) for cell in nodes(root["/StructTreeRoot"]) for name in _headers(cell)}
    assert asked <= names, asked - names


def _headers(node: Any) -> Any:
    return node["/A"].get_object().get("/Headers", ()) if node.get("/S") == "/TD" else ()


def assert_edges_are_not_read(made: bytes) -> None:
    """Whatever the pages hold for readers stands in the tree; heads and feet of pages do not (ISO 14289-1, 7.8)."""
    root: Any = read(made).trailer["/Root"]
    inside = {node.indirect_reference.idnum for node in nodes(root["/StructTreeRoot"])}
    numbers = root["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    for owners in numbers[1::2]:
        for owner in owners.get_object() if isinstance(owners.get_object(), ArrayObject) else ():
            if isinstance(owner, IndirectObject):
                assert owner.idnum in inside, "Something is marked for readers and stands in no tree."
    for page in read(made).pages:
        edges = page.get_contents()
        assert edges is not None
        assert b"Pagination" in edges.get_data() or not page_is_numbered(page.extract_text())


def page_is_numbered(words: str) -> bool:
    return bool(re.search(r"Page \d+ of \d+", words))


def nodes(node: Any) -> Iterator[Any]:
    kids = node.get("/K", [])
    kids = kids.get_object() if isinstance(kids, IndirectObject) else kids
    for kid in kids if isinstance(kids, ArrayObject) else [kids]:
        found = kid.get_object()
        if isinstance(found, DictionaryObject) and "/S" in found:
            yield found
            yield from nodes(found)
