"""Photos for tests, drawn here: plain ones, and such as should not come in."""

from io import BytesIO
from typing import Any

from PIL import Image

from jobs.pictures import Picture, clean


def encoded(image: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    out = BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def drawn(width: int = 60, height: int = 40, mode: str = "RGB") -> Image.Image:
    """Red above, blue below."""
    image = Image.new("RGB", (width, height), (200, 30, 30))
    image.paste((30, 30, 200), (0, height // 2, width, height))
    return image.convert(mode)


def photo_bytes(width: int = 60, height: int = 40) -> bytes:
    return encoded(drawn(width, height))


def picture() -> Picture:
    return clean(photo_bytes())


def read(data: bytes) -> Image.Image:
    return Image.open(BytesIO(data))
