"""What WeasyPrint leaves open of PDF/UA-1 (ISO 14289-1:2014), done before a paper's bytes are written.

Every table heading says what it heads (7.5), element identifiers can be looked up (ISO 32000-1, 14.7.2), what is
repeated at the edges of pages is an artifact and no part of the reading (7.8), and the place of a figure is in points
from the lower left.
"""

from collections.abc import Iterator
from typing import Any

POINTS_A_PIXEL = 0.75


def finish(document: Any, pdf: Any) -> None:
    """A `finisher` of WeasyPrint's `write_pdf`: changes the objects of `pdf` in place."""
    objects = {each.reference: each for each in pdf.objects if each.number}
    root = objects[pdf.catalog["StructTreeRoot"]]
    elements = list(_elements(root, objects))
    for element in elements:
        if element["S"] == "/TH":
            element["A"]["Scope"] = "/Column" if _is_within(element, "/THead", objects) else "/Row"
    _look_up(pdf, root, elements)
    heights = {reference: page.height for reference, page in _pages(pdf, document)}
    for element in elements:
        if element["S"] == "/Figure":
            _place(element, heights[element["Pg"]])
    _set_apart(pdf, root, {element.reference for element in elements}, objects)


def _elements(node: Any, objects: dict[bytes, Any]) -> Iterator[Any]:
    """All structure elements below, in the order in which they are read."""
    for kid in node.get("K", ()):
        element = objects.get(kid) if isinstance(kid, bytes) else None
        if element is not None and element.get("Type") == "/StructElem":
            yield element
            yield from _elements(element, objects)


def _is_within(element: Any, kind: str, objects: dict[bytes, Any]) -> bool:
    above = objects.get(element["P"])
    while above is not None and "S" in above:
        if above["S"] == kind:
            return True
        above = objects.get(above["P"])
    return False


def _look_up(pdf: Any, root: Any, elements: list[Any]) -> None:
    """The tree by which a cell's `Headers` are found."""
    import pydyf

    named = sorted((element["ID"].data, element) for element in elements if "ID" in element)
    if not named:
        return
    names = pydyf.Array(part for data, element in named for part in (data, element.reference))
    limits = pydyf.Array((named[0][0], named[-1][0]))
    leaf = pydyf.Dictionary({"Limits": limits, "Names": names})
    pdf.add_object(leaf)
    tree = pydyf.Dictionary({"Kids": pydyf.Array([leaf.reference])})
    pdf.add_object(tree)
    root["IDTree"] = tree.reference


def _pages(pdf: Any, document: Any) -> Iterator[tuple[bytes, Any]]:
    return zip(pdf.page_references, document.pages, strict=True)


def _place(figure: Any, page_height: float) -> None:
    left, top, right, bottom = figure["A"]["BBox"]
    box = (left, page_height - bottom, right, page_height - top)
    figure["A"]["BBox"] = type(figure["A"]["BBox"])(round(side * POINTS_A_PIXEL, 2) for side in box)


def _set_apart(pdf: Any, root: Any, read: set[bytes], objects: dict[bytes, Any]) -> None:
    """Mark as artifacts what each page paints for elements that are in no tree: its head and foot."""
    numbers = objects[root["ParentTree"]]["Nums"]
    for place, reference in enumerate(pdf.page_references):
        owners = numbers[2 * place + 1]
        apart = {mcid for mcid, owner in enumerate(owners) if owner not in read}
        if not apart:
            continue
        for mcid in apart:
            owners[mcid] = b"null"
        painted = objects[objects[reference]["Contents"]].stream
        for at, part in enumerate(painted):
            if isinstance(part, dict) and part.get("MCID") in apart:
                painted[at - 1], painted[at] = "/Artifact", b"<</Type /Pagination>>"
