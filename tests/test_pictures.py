"""Photos made harmless: what is kept of a good one, and what is refused of a hostile one."""

import random
import struct
import zlib
from io import BytesIO
from typing import Any

import pytest
from PIL import Image, ImageCms, ImageFile, PngImagePlugin

from jobs import pictures
from jobs.pictures import NotAPicture, clean
from tests.photos import drawn, encoded, photo_bytes, read

HIDDEN = b"<script>alert(1)</script>"


def refused(data: bytes) -> str:
    with pytest.raises(NotAPicture) as caught:
        clean(data)
    return str(caught.value)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_is_kept_as_a_plain_jpeg(kind: str) -> None:
    kept = clean(encoded(drawn(), kind))
    whole, small = read(kept.data), read(kept.small)
    assert (whole.format, whole.mode, whole.size) == ("JPEG", "RGB", (60, 40))
    assert (kept.width, kept.height) == (60, 40)
    assert small.size == (60, 40)
    red, green, blue = whole.getpixel((30, 5))
    assert red > 150 > 80 > max(green, blue)


def test_a_large_one_is_made_smaller() -> None:
    kept = clean(photo_bytes(4100, 1000))
    assert (kept.width, kept.height) == (2048, 500)
    assert max(read(kept.small).size) == pictures.SMALL
    assert clean(photo_bytes(9000, 3)).height == 1


def with_exif(orientation: int) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "A camera maker"
    # 48° 12' N, 16° 22' E
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 12.0, 0.0), 3: "E", 4: (16.0, 22.0, 0.0)})
    exif.get_ifd(0x8769)[0x9286] = "A comment"
    return encoded(drawn(), exif=exif, comment=b"a comment of the file", xmp=b"<x:xmpmeta>where</x:xmpmeta>")


# Exif 2.3, table 6: 6 is a quarter turn to the right, 8 to the left, 3 upside down, 2 a mirror.
@pytest.mark.parametrize(
    ("orientation", "size", "red_at"),
    [
        (1, (60, 40), (30, 5)),
        (2, (60, 40), (30, 5)),
        (3, (60, 40), (30, 35)),
        (6, (40, 60), (35, 30)),
        (8, (40, 60), (5, 30)),
    ],
)
def test_it_is_turned_and_tells_nothing_of_where_it_was_taken(
    orientation: int, size: tuple[int, int], red_at: tuple[int, int]
) -> None:
    sent = with_exif(orientation)
    assert read(sent).getexif().get_ifd(0x8825)[2] == (48.0, 12.0, 0.0)
    kept = clean(sent)
    for data in (kept.data, kept.small):
        image = read(data)
        assert image.size == size
        assert image.getpixel(red_at)[0] > 150
        assert not image.getexif()
        assert image.info.keys() <= {
            "jfif",
            "jfif_version",
            "jfif_unit",
            "jfif_density",
            "progressive",
            "progression",
        }
        for told in (b"Exif", b"GPS", b"camera", b"comment", b"xmpmeta", b"ICC_PROFILE"):
            assert told not in data


@pytest.mark.parametrize(
    "sent",
    [
        photo_bytes() + HIDDEN,
        photo_bytes() + b"PK\x03\x04" + HIDDEN,
        HIDDEN.join([encoded(drawn(), "PNG"), b""]),
        encoded(drawn(), "JPEG", comment=HIDDEN),
        encoded(drawn(), "WEBP", exif=b"Exif\0\0" + HIDDEN),
    ],
    ids=["behind a JPEG", "as an archive", "behind a PNG", "in a comment", "in metadata"],
)
def test_what_is_hidden_in_it_is_dropped(sent: bytes) -> None:
    assert HIDDEN in sent
    kept = clean(sent)
    assert HIDDEN not in kept.data
    assert HIDDEN not in kept.small
    assert kept.data.endswith(b"\xff\xd9")


def text_chunk() -> bytes:
    info = PngImagePlugin.PngInfo()
    info.add_text("Where", "in the yard")
    return encoded(drawn(), "PNG", pnginfo=info)


def test_texts_of_a_png_are_dropped() -> None:
    assert b"in the yard" in text_chunk()
    assert b"in the yard" not in clean(text_chunk()).data


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "CMYK", "YCbCr", "I;16"])
def test_other_modes_become_colors_of_a_screen(mode: str) -> None:
    kind = "JPEG" if mode in ("CMYK", "YCbCr") else "PNG"
    image = Image.new("I;16", (60, 40), 40000) if mode == "I;16" else drawn(mode=mode)
    kept = read(clean(encoded(image, kind)).data)
    assert kept.mode == "RGB"


def test_sixteen_bits_of_grey_are_not_cut_off() -> None:
    kept = read(clean(encoded(Image.new("I;16", (8, 8), 32768), "PNG")).data)
    assert kept.getpixel((4, 4)) == pytest.approx((128, 128, 128), abs=1)


def test_cmyk_is_the_color_it_was() -> None:
    kept = read(clean(encoded(Image.new("CMYK", (16, 16), (255, 0, 0, 0)), "JPEG")).data)
    red, green, blue = kept.getpixel((8, 8))
    assert red < 60 < 150 < min(green, blue)


def test_transparent_glass_lies_on_white() -> None:
    kept = read(clean(encoded(Image.new("RGBA", (16, 16), (255, 0, 0, 0)), "PNG")).data)
    assert kept.getpixel((8, 8)) == (255, 255, 255)
    palette = Image.new("P", (16, 16), 0)
    assert read(clean(encoded(palette, "PNG", transparency=0)).data).getpixel((8, 8)) == (255, 255, 255)


def test_the_camera_s_colors_are_turned_into_those_of_screens() -> None:
    """With a profile that is none of a camera it is taken as it is."""
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for profile in (lab, b"no profile", lab[:200]):
        kept = read(clean(encoded(drawn(), icc_profile=profile)).data)
        assert kept.getpixel((30, 5)) == pytest.approx((200, 30, 30), abs=12)


def test_the_second_picture_of_a_phone_is_left_out() -> None:
    sent = encoded(drawn(), "MPO", save_all=True, append_images=[drawn(20, 20)])
    assert read(sent).format == "MPO"
    assert clean(sent).width == 60


def png_bomb(width: int, height: int) -> bytes:
    """A PNG of some bytes that says it is so large; each of its rows is nothing."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    rows = zlib.compress(b"\0" * 1_000_000, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def jpeg_bomb() -> bytes:
    """A JPEG whose head says that it is 65,500 pixels wide and high."""
    data = bytearray(photo_bytes())
    place = data.index(b"\xff\xc0") + 5
    data[place : place + 4] = struct.pack(">HH", 65500, 65500)
    return bytes(data)


@pytest.mark.parametrize(
    "bomb",
    [png_bomb(30_000, 30_000), png_bomb(9000, 9000), png_bomb(6000, 6000), jpeg_bomb()],
    ids=["over Pillow's limit", "where Pillow warns", "over ours", "a JPEG's head"],
)
def test_bombs_are_refused_before_they_are_decoded(bomb: bytes, monkeypatch: Any) -> None:
    monkeypatch.setattr(Image.Image, "load", lambda *_: pytest.fail("it was decoded"))
    assert "too many pixels" in refused(bomb)


def test_a_text_that_unpacks_to_gigabytes_is_refused() -> None:
    text = zlib.compress(b"a" * 80_000_000, 9)
    data = b"bomb\0\0" + text
    chunk = struct.pack(">I", len(data)) + b"zTXt" + data + struct.pack(">I", zlib.crc32(b"zTXt" + data))
    good = encoded(drawn(), "PNG")
    assert refused(good[:33] + chunk + good[33:])


def gif() -> bytes:
    return encoded(drawn(mode="P"), "GIF", save_all=True, append_images=[drawn(mode="P").rotate(180)])


def moving(kind: str) -> bytes:
    return encoded(drawn(), kind, save_all=True, append_images=[drawn().rotate(180)])


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        (b"", "is empty"),
        (b"\0" * 4096, "JPEG, PNG or WebP"),
        (b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>', "JPEG, PNG or WebP"),
        (b"<!doctype html><h1>a photo</h1>", "JPEG, PNG or WebP"),
        (b"%PDF-1.7", "JPEG, PNG or WebP"),
        (gif(), "JPEG, PNG or WebP"),
        (encoded(drawn(), "TIFF"), "JPEG, PNG or WebP"),
        (encoded(drawn(), "BMP"), "JPEG, PNG or WebP"),
        (encoded(drawn(), "ICO"), "JPEG, PNG or WebP"),
        (moving("PNG"), "moves"),
        (moving("WEBP"), "moves"),
        (photo_bytes(600, 400)[:-400], "not whole"),
        (encoded(drawn(600, 400), "PNG")[:-60], "not whole"),
        (photo_bytes()[:20], "JPEG, PNG or WebP"),
        (b"\0" * (pictures.MOST_BYTES + 1), "too large"),
    ],
    ids=["empty", "zeros", "svg", "html", "pdf", "gif", "tiff", "bmp", "ico", "moving png", "moving webp",
         "cut jpeg", "cut png", "head of a jpeg", "too large"],
)  # fmt: skip
def test_what_is_no_photo_is_refused_with_a_sentence(sent: bytes, sentence: str) -> None:
    assert sentence in refused(sent)


@pytest.mark.filterwarnings("ignore::UserWarning:PIL")
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_whatever_is_broken_in_a_file_it_is_kept_or_refused(kind: str) -> None:
    """Bytes changed, cut and put in by chance: nothing but a Picture or a sentence comes of them."""
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[2] = (48.0, 12.0, 0.0)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    good, chance, outcomes = (
        encoded(drawn(), kind, exif=exif, icc_profile=profile),
        random.Random(kind),
        set(),
    )
    for _ in range(150):
        data = bytearray(good)
        for _ in range(chance.randint(1, 6)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        if chance.random() < 0.2:
            del data[chance.randrange(len(data)) :]
        try:
            outcomes.add(read(clean(bytes(data)).data).format)
        except NotAPicture:
            outcomes.add("refused")
    # Each part of a PNG has a sum of its own, so that hardly any change of it goes by.
    assert outcomes - {"JPEG"} == {"refused"}


def test_only_one_is_decoded_at_a_time(monkeypatch: Any) -> None:
    held: list[bool] = []
    decode = pictures._decode
    monkeypatch.setattr(pictures, "_decode", lambda data: held.append(pictures._one.locked()) or decode(data))
    clean(photo_bytes())
    assert held == [True]
    assert not pictures._one.locked()


def test_half_a_file_is_refused_after_papers_were_laid_out_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    whole = BytesIO()
    Image.new("RGB", (200, 200), "red").save(whole, "JPEG")
    with pytest.raises(NotAPicture):
        clean(whole.getvalue()[: len(whole.getvalue()) // 2])
