"""Pictures that people send, made harmless: decoded, turned, made smaller, and written anew as plain JPEG.

Nothing of the file that came is kept but its colors: no place, no camera, no comment, and nothing that was hidden
before, within or behind the picture. What is not a whole picture of a kind that is taken is `NotAPicture`. No Django.
"""

import struct
import threading
import zlib
from dataclasses import dataclass
from io import BytesIO

from PIL import Image, ImageCms, ImageFile, ImageOps

MOST_BYTES = 25 * 1024 * 1024
# A pixel of a JPEG is decoded at an eighth to the whole of its size, as large as is needed; one of another kind at
# once and whole, with four bytes.
MOST_PIXELS = {"JPEG": 64_000_000, "MPO": 64_000_000, "PNG": 25_000_000, "WEBP": 25_000_000}
LONGEST, SMALL = 2048, 360
QUALITY, SMALL_QUALITY = 85, 78
MOST_PROFILE = 4 * 1024 * 1024
WHITE = (255, 255, 255)

EMPTY = "That file is empty."
TOO_LARGE = f"That file is too large: a photo may have up to {MOST_BYTES // 1024 // 1024} MB."
WRONG_KIND = "That is no photo that can be kept: send a JPEG, PNG or WebP."
NOT_WHOLE = "That photo is not whole, or is broken. Take it again."
TOO_MANY = "That picture has too many pixels. Take it smaller."
MOVES = "That picture moves. Send one that stands still."

# What Pillow raises on files that were made or cut to break it.
BROKEN = (
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    LookupError,
    ArithmeticError,
    AttributeError,
    EOFError,
    MemoryError,
    RuntimeError,
    struct.error,
    zlib.error,
)
# One picture is decoded at a time, so that a small computer never has to hold several.
_one = threading.Lock()


class NotAPicture(ValueError):
    """What was sent cannot be kept as a photo. The message is a sentence for who sent it."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo as it is kept: JPEG bytes of the whole and of a small one for lists; width and height in pixels."""

    data: bytes
    small: bytes
    width: int
    height: int


def clean(data: bytes) -> Picture:
    """The picture in `data`; NotAPicture with a sentence where there is none that can be kept."""
    if not data:
        raise NotAPicture(EMPTY)
    if len(data) > MOST_BYTES:
        raise NotAPicture(TOO_LARGE)
    with _one:
        # What lays out papers sets this for the whole process: half a file would pass, and texts in it of any size.
        ImageFile.LOAD_TRUNCATED_IMAGES = False
        whole = _decode(data)
        small = whole.copy()
        small.thumbnail((SMALL, SMALL), Image.Resampling.LANCZOS)
        return Picture(_jpeg(whole, QUALITY), _jpeg(small, SMALL_QUALITY), *whole.size)


def _decode(data: bytes) -> Image.Image:
    """As RGB, upright and at most LONGEST pixels long, without anything else that came with it."""
    try:
        image = Image.open(BytesIO(data), formats=("JPEG", "PNG", "WEBP"))
    except Image.DecompressionBombError as error:
        raise NotAPicture(TOO_MANY) from error
    except Image.DecompressionBombWarning as error:
        raise NotAPicture(TOO_MANY) from error
    except BROKEN as error:
        raise NotAPicture(WRONG_KIND) from error
    with image:
        kind = image.format or ""
        if kind not in MOST_PIXELS:
            raise NotAPicture(WRONG_KIND)
        # Before anything is decoded: what a file says of its size decides what decoding it would take.
        if image.width * image.height > MOST_PIXELS[kind]:
            raise NotAPicture(TOO_MANY)
        # Phones keep a second picture behind a JPEG (MPO): the first one is the photo.
        if kind != "MPO" and getattr(image, "is_animated", False):
            raise NotAPicture(MOVES)
        try:
            return _plain(image)
        except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
            raise NotAPicture(TOO_MANY) from error
        except BROKEN as error:
            raise NotAPicture(NOT_WHOLE) from error


def _plain(image: Image.Image) -> Image.Image:
    image.draft(None, (LONGEST, LONGEST))
    image.load()
    profile = image.info.get("icc_profile")
    upright = _eight_bits(_turned(image))
    upright.thumbnail((LONGEST, LONGEST), Image.Resampling.LANCZOS)
    colored = _as_seen(_opaque(upright), profile)
    # Only the pixels go over: a comment or a profile would otherwise be written again.
    bare = Image.new("RGB", colored.size, WHITE)
    bare.paste(colored)
    return bare


def _turned(image: Image.Image) -> Image.Image:
    """Upright, where what the camera wrote of it can be read."""
    try:
        return ImageOps.exif_transpose(image)
    except BROKEN:
        return image


def _eight_bits(image: Image.Image) -> Image.Image:
    """Grey of 16 bits as grey of 8: Pillow's own conversion would cut it off instead."""
    if image.mode.startswith("I"):
        return image.convert("I").point([value >> 8 for value in range(65536)], "L")
    return image


def _opaque(image: Image.Image) -> Image.Image:
    """What is transparent lies on white, as on a light table."""
    if not image.has_transparency_data:
        return image
    over = image.convert("RGBA")
    ground = Image.new("RGBA", over.size, (*WHITE, 255))
    return Image.alpha_composite(ground, over).convert("RGB")


def _as_seen(image: Image.Image, profile: bytes | None) -> Image.Image:
    """As RGB in the colors that every screen assumes (sRGB), by the profile of the camera where it is of any use."""
    if profile and len(profile) <= MOST_PROFILE and image.mode in ("RGB", "CMYK", "L"):
        try:
            camera = ImageCms.ImageCmsProfile(BytesIO(profile))
            turned = ImageCms.profileToProfile(
                image, camera, ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
        except (ImageCms.PyCMSError, *BROKEN):
            turned = None
        if turned is not None:
            return turned
    return image.convert("RGB")


def _jpeg(image: Image.Image, quality: int) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
    return out.getvalue()
