"""Grey pictures of PDF pages and codes for the tests, without an imaging library."""

from __future__ import annotations

import shutil
import subprocess

import pytest
import zxingcpp

from traywise.paper.label_code import LabelCode, data_matrix_rows

needs_poppler = pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="pdftoppm (poppler-utils) is not installed"
)


def last_page(pdf: bytes, pixels_per_inch: int) -> memoryview:
    """The last page as rows of grey bytes, drawn by poppler."""
    command = ["pdftoppm", "-gray", "-r", str(pixels_per_inch), "-"]
    pages = subprocess.run(command, input=pdf, capture_output=True, check=True).stdout
    kind, width, height, rest = pages[pages.rindex(b"P5\n") :].split(maxsplit=3)
    assert kind == b"P5"
    size = int(width) * int(height)
    return memoryview(rest[-size:]).cast("B", (int(height), int(width)))


def drawn(code: LabelCode, pixels_per_module: int = 5) -> memoryview:
    """A code's modules as a picture with a quiet zone."""
    rows = data_matrix_rows(code)
    across = len(rows[0]) + 4
    blank = "0" * across
    lines = [blank, blank, *(f"00{row}00" for row in rows), blank, blank]
    pixels = b"".join(
        b"".join((b"\0" if m == "1" else b"\xff") * pixels_per_module for m in line)
        * pixels_per_module
        for line in lines
    )
    shape = (len(lines) * pixels_per_module, across * pixels_per_module)
    return memoryview(pixels).cast("B", shape)


def read_codes(picture: memoryview) -> list[zxingcpp.Barcode]:
    """All Data Matrix codes of a picture."""
    return zxingcpp.read_barcodes(picture, zxingcpp.BarcodeFormat.DataMatrix)
