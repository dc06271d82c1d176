"""Papers bound into one PDF while they are made: each is written as soon as it is laid out, and can then be forgotten.

What is laid out takes many times the memory of what is written of it. So the objects of each paper's own PDF are taken
as bytes, numbered anew, and hung into one list of pages, one tree of tags and one outline.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise
from typing import Any

import pydyf

from .render import VARIANT
from .tagging import finish

# A reference to an object (ISO 32000-1, 7.3.10); in a string, which is passed over, whatever looks like one is none.
_REFERENCE = re.compile(rb"\((?:[^\\()]|\\.)*\)|<[0-9a-f]+>|(?<![0-9])([0-9]+) 0 R", re.DOTALL)
_STREAM = b"\nstream\n"


class _Kept(pydyf.Object):  # type: ignore[misc]  # Without types of its own.
    """An object that is written already, but for its number."""

    data = b""
    compressible = True


@dataclass(frozen=True, slots=True)
class _Part:
    """What a paper hangs into the whole: its pages, the topmost of its tags, its entries in the outline (with all that
    are open beneath them), and what its catalog and its information say."""

    pages: list[bytes]
    tags: list[bytes]
    entries: list[_Kept]
    count: int
    says: dict[str, Any]
    information: Any


class Binding:
    """`add` papers one behind the other, and `bound` puts the one that comes first before them."""

    def __init__(self) -> None:
        self._pdf = pydyf.PDF()
        self._parts: list[_Part] = []
        self._owners = pydyf.Dictionary({"Nums": pydyf.Array()})
        self._names = pydyf.Dictionary({"Kids": pydyf.Array()})
        self._outline, self._root = pydyf.Dictionary(), pydyf.Dictionary({"Type": "/StructTreeRoot"})
        self._tags = pydyf.Dictionary({"Type": "/StructElem", "S": "/Document", "K": pydyf.Array()})
        for each in (self._owners, self._names, self._outline, self._root, self._tags):
            self._pdf.add_object(each)

    def add(self, paper: Any) -> None:
        """Write what `lay_out` gave."""

        def take(document: Any, pdf: Any) -> None:
            for each in pdf.objects:
                if isinstance(each, dict) and "ID" in each:
                    # The cells that are headed by it hold the same string.
                    each["ID"].string = f"{len(self._parts):06}-{each['ID'].string}"
            finish(document, pdf)
            self._parts.append(self._taken(pdf))
            # WeasyPrint writes what is left: nothing is.
            del pdf.objects[1:]

        paper.write_pdf(BytesIO(), finisher=take, **VARIANT)

    def bound(self, front: Any) -> bytes:
        """The PDF, with `front` before what was added; it gives title and language."""
        self.add(front)
        parts = [self._parts[-1], *self._parts[:-1]]
        pdf = self._pdf
        pages = [page for part in parts for page in part.pages]
        pdf.pages["Kids"].extend(pages)
        pdf.pages["Count"] = len(pages)
        self._tags["K"].extend(tag for part in parts for tag in part.tags)
        self._tags["P"] = self._root.reference
        self._root.update(K=pydyf.Array([self._tags.reference]), ParentTree=self._owners.reference)
        if self._names["Kids"]:
            self._root["IDTree"] = self._names.reference
        self._chain(parts)
        pdf.catalog.update(parts[0].says, StructTreeRoot=self._root.reference)
        pdf.info = parts[0].information
        written = BytesIO()
        pdf.write(written, compress=True)
        return written.getvalue()

    def _taken(self, pdf: Any) -> _Part:
        objects = {each.reference: each for each in pdf.objects if each.number}
        root = objects[pdf.catalog["StructTreeRoot"]]
        tags, outline = objects[root["K"][0]], objects[pdf.catalog["Outlines"]]
        owners = objects[root["ParentTree"]]["Nums"]
        names: Any = objects.get(root.get("IDTree"))
        places = {pdf.pages.number: self._pdf.pages.number}
        places |= {tags.number: self._tags.number, outline.number: self._outline.number}
        left_out = {
            pdf.catalog.number,
            root.number,
            objects[root["ParentTree"]].number,
            names and names.number,
        }
        kept = [each for each in objects.values() if each.number not in places.keys() | left_out]
        for each in kept:
            copy = _Kept()
            self._pdf.add_object(copy)
            places[each.number] = copy.number
        self._own(kept, owners, places)
        for each in kept:
            copy = self._pdf.objects[places[each.number]]
            copy.data, copy.compressible = _moved(each.data, places), each.compressible
        self._names["Kids"].extend(_place(leaf, places) for leaf in (names["Kids"] if names else ()))
        says = {name: pdf.catalog[name] for name in ("Lang", "ViewerPreferences", "MarkInfo")}
        return _Part(
            pages=[_place(page, places) for page in pdf.page_references],
            tags=[_place(tag, places) for tag in tags["K"]],
            entries=[self._pdf.objects[places[number]] for number in _entries(kept, outline)],
            count=outline["Count"],
            says=says | {"Metadata": _place(pdf.catalog["Metadata"], places)},
            information=pdf.info,
        )

    def _own(self, kept: list[Any], owners: Any, places: Mapping[int, int]) -> None:
        """Which tag owns which marks of a page: pages and notes are counted through the whole."""
        first = len(self._owners["Nums"]) // 2
        for each in kept:
            for name in ("StructParents", "StructParent"):
                if isinstance(each, dict) and name in each:
                    each[name] += first
        for place, owner in zip(owners[::2], owners[1::2], strict=True):
            data = owner if isinstance(owner, bytes) else owner.data
            self._owners["Nums"].extend((first + place, _moved(data, places)))

    def _chain(self, parts: list[_Part]) -> None:
        """The entries of each paper know each other already; here its last gets to know the first of the next."""
        for part, following in pairwise(parts):
            last, first = part.entries[-1], following.entries[0]
            last.data = last.data[:-2] + b"/Next " + first.reference + b">>"
            first.data = first.data[:-2] + b"/Prev " + last.reference + b">>"
        ends = {"First": parts[0].entries[0].reference, "Last": parts[-1].entries[-1].reference}
        self._outline.update(ends, Count=sum(part.count for part in parts))
        self._pdf.catalog["Outlines"] = self._outline.reference


def _entries(objects: list[Any], outline: Any) -> list[int]:
    """The numbers of the topmost entries of an outline, in their order."""
    return [
        each.number
        for each in objects
        if isinstance(each, pydyf.Dictionary) and "Title" in each and each["Parent"] == outline.reference
    ]


def _place(reference: bytes, places: Mapping[int, int]) -> bytes:
    return b"%d 0 R" % places[int(reference.split()[0])]


def _moved(data: bytes, places: Mapping[int, int]) -> bytes:
    """An object as it is written, with the numbers of the objects that it names; not what is in a stream."""

    def place(found: re.Match[bytes]) -> bytes:
        return b"%d 0 R" % places[int(found[1])] if found[1] else found[0]

    head, mark, body = data.partition(_STREAM)
    return _REFERENCE.sub(place, head) + mark + body
