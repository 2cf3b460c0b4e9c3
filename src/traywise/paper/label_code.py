"""The scannable code of a label: what it says, and how it is drawn and read.

With a GTIN the code is a GS1 element string (01, 17, 10, and 91 for child and place), as the
vial itself carries. Without one, GS1 has no place for a lot, so the code is a plain text of our
own. ``docs/labels.md`` describes both. zxing-cpp is loaded only when a code is drawn.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode

import msgspec

PLAIN_HEAD = "traywise-dose-1?"

# GS1 character set 82 without brackets, which the writer reads as application identifiers.
_GS1_TEXT = re.compile(r"[A-Za-z0-9!\"%&'*+,\-./_:;<=>?]+")


class LabelCode(msgspec.Struct, frozen=True, kw_only=True):
    """What a label's code says. ``None`` where the tray does not know."""

    child: str
    place: int
    cvx: str
    lot: str | None = None
    expires: date | None = None
    gtin: str | None = None

    @property
    def is_gs1(self) -> bool:
        """Whether the code can be written as a GS1 element string."""
        return (
            is_gtin(self.gtin or "")
            and bool(self.lot and len(self.lot) <= 20 and _GS1_TEXT.fullmatch(self.lot))
            and self.expires is not None
            and len(self._child_and_place()) <= 90
        )

    def text(self) -> str:
        """The content: GS1 with brackets (human readable form), or our plain text.

        >>> LabelCode(child="c 1", place=2, cvx="110", lot="HB5512").text()
        'traywise-dose-1?child=c+1&place=2&cvx=110&lot=HB5512'
        """
        if self.is_gs1:
            expiry = f"{self.expires:%y%m%d}"
            gtin = (self.gtin or "").zfill(14)
            return f"(01){gtin}(17){expiry}(10){self.lot}(91){self._child_and_place()}"
        fields = {
            "child": self.child,
            "place": str(self.place),
            "cvx": self.cvx,
            "lot": self.lot,
            "expires": self.expires.isoformat() if self.expires else None,
            "gtin": self.gtin,
        }
        return PLAIN_HEAD + urlencode({k: v for k, v in fields.items() if v})

    def _child_and_place(self) -> str:
        return f"{quote(self.child, safe='').replace('~', '%7E')}/{self.place}"


def read_plain_code(text: str) -> LabelCode | None:
    """A label's plain text read back; None when the text is something else.

    >>> code = LabelCode(child="Ø/1&2", place=2, cvx="110", lot="A%B")
    >>> read_plain_code(code.text()) == code
    True
    """
    if not text.startswith(PLAIN_HEAD):
        return None
    fields = dict(parse_qsl(text.removeprefix(PLAIN_HEAD)))
    try:
        return msgspec.convert(fields, LabelCode, strict=False)
    except msgspec.ValidationError:
        return None


def is_gtin(text: str) -> bool:
    """Whether the digits are a GTIN with a right check digit (GS1: weights 3, 1 from the right).

    >>> is_gtin("6291041500213"), is_gtin("6291041500214"), is_gtin("")
    (True, False, False)
    """
    if not text.isascii() or not text.isdigit() or len(text) not in (8, 12, 13, 14):
        return False
    total = sum(
        int(digit) * (3 if i % 2 == 0 else 1) for i, digit in enumerate(reversed(text[:-1]))
    )
    return (10 - total % 10) % 10 == int(text[-1])


def data_matrix_rows(code: LabelCode) -> list[str]:
    """The code's modules, a text a row, "1" for dark; without quiet zone."""
    import zxingcpp

    # Square: the newer oblong sizes are unknown to many scanners.
    barcode = zxingcpp.create_barcode(
        code.text(), zxingcpp.BarcodeFormat.DataMatrix, gs1=code.is_gs1, force_square=True
    )
    # The writer's image offers the buffer protocol; its type stub does not say so.
    image: Any = zxingcpp.write_barcode_to_image(barcode, scale=1, add_quiet_zones=False)
    pixels: Any = memoryview(image).tolist()
    return ["".join("1" if value == 0 else "0" for value in row) for row in pixels]


def data_matrix_svg(code: LabelCode, size_mm: float = 14.0) -> str:
    """The code as SVG, ``size_mm`` wide with its quiet zone of one module on each side."""
    rows = data_matrix_rows(code)
    across, down = len(rows[0]) + 2, len(rows) + 2
    path = "".join(
        f"M{match.start() + 1} {y}h{len(match[0])}v1h-{len(match[0])}z"
        for y, row in enumerate(rows, start=1)
        for match in re.finditer("1+", row)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {across} {down}" '
        f'width="{size_mm:g}mm" height="{size_mm * down / across:g}mm" role="img" '
        'shape-rendering="crispEdges"><title>Scannable code: child, place, vaccine, lot</title>'
        f'<rect width="{across}" height="{down}" fill="#ffffff"/>'
        f'<path d="{path}" fill="#000000"/></svg>'
    )
