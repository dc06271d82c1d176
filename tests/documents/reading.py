"""What a PDF says page by page, beside what tags.py reads of the whole."""

from typing import Any

from tests.documents.tags import nodes, read, tree


def pages_of(data: bytes) -> list[str]:
    """The words of each page, with single spaces."""
    return [" ".join(page.extract_text().split()) for page in read(data).pages]


def alts_of(data: bytes) -> list[str]:
    """What is said of each picture."""
    return [tag.alt for tag in tree(data).all("Figure")]


def right_edges(data: bytes) -> list[float]:
    """Where each picture ends on its page, in points from the left."""
    root: Any = read(data).trailer["/Root"]
    figures = [node for node in nodes(root["/StructTreeRoot"]) if node["/S"] == "/Figure"]
    return [float(node["/A"].get_object()["/BBox"][2]) for node in figures]
