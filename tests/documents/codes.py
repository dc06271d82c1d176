"""What a telephone reads on a paper: its pages drawn as pictures, and the codes in them read back."""

from dataclasses import dataclass

import pypdfium2
import zxingcpp

SCALE = 3  # 216 dots an inch: a telephone sees more.


@dataclass(frozen=True)
class Code:
    page: int
    address: str
    side_mm: float


def codes(made: bytes) -> list[Code]:
    found = []
    document = pypdfium2.PdfDocument(made)
    for number, page in enumerate(document):
        picture = page.render(scale=SCALE).to_pil().convert("L")
        for code in zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode):
            corners = code.position
            side = abs(corners.top_right.x - corners.top_left.x)
            found.append(Code(number, code.text, side / SCALE * 25.4 / 72))
    document.close()
    return found
