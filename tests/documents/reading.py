"""What a PDF says page by page, beside what tags.py reads of the whole."""

from tests.documents.tags import read, tree


def pages_of(data: bytes) -> list[str]:
    """The words of each page, with single spaces."""
    return [" ".join(page.extract_text().split()) for page in read(data).pages]


def alts_of(data: bytes) -> list[str]:
    """What is said of each picture."""
    return [tag.alt for tag in tree(data).all("Figure")]
